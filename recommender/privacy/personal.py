"""Names of people in scripts with spaces: after a title, beside another name, after "is called", or alone."""

import re
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import pairwise

from recommender.privacy.data import either, folded, listed
from recommender.privacy.folding import fold
from recommender.privacy.found import Place
from recommender.privacy.tokens import Word

_PATRONYMIC = re.compile(r"(?:ович|евич|ьич|инич)(?:а|у|ем|ом|е)?$|(?:овн|евн|иничн|ичн)(?:а|ы|е|у|ои|ою)$")
_RUSSIAN_INITIALS = re.compile(
    r"(?<!\w)[А-ЯЁ][а-яё]{2,}\s+[А-ЯЁ]\.\s?(?:[А-ЯЁ]\.)?|(?<!\w)[А-ЯЁ]\.\s?[А-ЯЁ]\.\s?[А-ЯЁ][а-яё]{2,}"
)
_SMALL_INITIALS = re.compile(r"(?<!\w)[а-я]{3,}\s[а-я]\.\s?[а-я]\.")
# A letter after "en" or at the end of a line is a form ("barra en I. Banda palatina") or a side, and no initial.
_INITIALS = re.compile(r"(?<![\w.])(?<!\ben )(?<!\d )(?:[A-Z]\.(?:[^\S\n]|-)?){1,3}(?=[A-Z])")
_GAP = re.compile(r"[\s.:,'-]{1,3}")


@cache
def _titles() -> tuple[frozenset[str], frozenset[str]]:
    return frozenset(fold(word.strip(".")) for word in listed("titles")), folded("patients")


@cache
def _named() -> re.Pattern[str]:
    return re.compile(
        rf"(?<!\w)(?:{either('named')}|{either('maiden')})(?!\w)[\s:]+(?:(?:is|ist|est|es|e|jest|to)\s)?"
    )


def people(flat: str, bare: str, words: Sequence[Word], cited: bool) -> Iterator[Place]:
    """Places with a person's name. ``cited``: the text quotes a publication, whose authors are no patients."""
    for place, word in enumerate(words):
        if not (cited and word.upper):  # an author's initials may look like a title
            yield from _titled(bare, words, place)
        if word.name and not cited:
            yield from _alone(bare, words, place)
        if word.common and not word.capital and not cited:
            yield from _small(bare, words, place)
        if word.capital and _PATRONYMIC.search(word.fold) and len(word.fold) > 6:
            yield _with_neighbours(bare, words, place)
    if "." in bare and not cited:
        for match in _SMALL_INITIALS.finditer(bare):
            if any(word.start == match.start() and word.family == 2 for word in words):
                yield *match.span(), "name"
        for match in _RUSSIAN_INITIALS.finditer(bare):
            yield *match.span(), "name"
        for match in _INITIALS.finditer(bare):
            after = next((word for word in words if word.start == match.end()), None)
            if (
                after is not None
                and len(after.text) > 2
                and after.name
                and not (after.plain and match[0].count(".") < 2)
            ):
                yield match.start(), after.end, "name"
    yield from _called(flat, bare, words)
    yield from _after(bare, words)


def _titled(text: str, words: Sequence[Word], place: int) -> Iterator[Place]:
    titles, patients = _titles()
    word = words[place]
    title, patient = word.fold in titles, word.fold in patients
    initial_title = word.fold in folded("titles_initial") and text[word.end : word.end + 1] == "."
    if initial_title and text[: word.start].rstrip()[-1:].isdigit():
        return  # "27 M.": a side of a tooth
    if not title and not patient and not initial_title:
        return
    if (
        title
        and len(word.fold) <= 3
        and not word.capital
        and text[word.end : word.end + 1] != "."
        and word.fold not in folded("titles_uncapitalised")
    ):
        return
    if patient and len(word.fold) > 4 and text[word.end : word.end + 1] == ".":
        return  # the end of a sentence
    at = place + 1
    last = word
    while at < len(words) and _close(text, last, words[at]):
        after = words[at]
        skip = (
            after.fold in titles
            or after.fold in folded("title_parts")
            or (after.fold in folded("particles") and at + 1 < len(words))
            or (len(after.text) == 1 and after.capital and text[after.end : after.end + 1] == ".")
        )
        if not skip:
            break
        last, at = after, at + 1
    if at >= len(words) or not _close(text, last, words[at]):
        if len(last.text) == 1 and last is not word and not patient and last.fold not in titles:
            yield word.start, last.end, "name"
        return
    after = words[at]
    if after.fold in folded("after_title") or len(after.text) < 2:
        return
    if patient or initial_title:
        # an unknown word with a capital is a name where capitals are not the rule
        unknown = (
            not after.upper and not after.plain and not _german(text) and _small_follows(text, words, at)
        )
        shouted = (
            after.upper and word.upper and not after.plain and len(after.text) > 3 and not text.isupper()
        )
        sure = (
            after.capital
            and (after.name == 2 or unknown or shouted)
            and not (after.upper and not shouted and after.name < 2)
        )
        if initial_title:
            sure = after.capital and (after.name > 0 or after.upper) and not after.plain
    elif after.capital:
        sure = not (after.upper and word.upper and after.name == 0 and after.plain)
        if word.fold in folded("titles_also_words") and not word.upper:
            sure = sure and (word.capital or after.name > 0)
    else:
        sure = after.name == 2 or (after.name == 1 and word.fold in folded("titles_plain"))
    if sure:
        yield word.start, _end_of_name(text, words, at), "name"


def _small_follows(text: str, words: Sequence[Word], at: int) -> bool:
    after = words[at + 1] if at + 1 < len(words) else None
    return after is None or not after.capital or not _close(text, words[at], after) or after.name > 0


def _close(text: str, before: Word, after: Word) -> bool:
    gap = text[before.end : after.start]
    return len(gap) <= 3 and _GAP.fullmatch(gap) is not None and not {",", "\n"} & set(gap)


def _end_of_name(text: str, words: Sequence[Word], at: int) -> int:
    end = words[at].end
    while (
        at + 1 < len(words)
        and _close(text, words[at], words[at + 1])
        and words[at + 1].capital
        and words[at + 1].name
    ):
        at += 1
        end = words[at].end
    return end


def _alone(text: str, words: Sequence[Word], place: int) -> Iterator[Place]:
    """A name that no title announces."""
    word = words[place]
    if not word.capital or len(word.text) < 3:
        return
    follows = _next(text, words, place)
    if re.match(
        r"-[a-zа-я]", text[word.end : word.end + 2]
    ):  # joined to a word: a thing called after somebody
        return
    if word.name == 2 and not word.plain and _speaks(word) and not _of_a_publication(text, word):
        yield word.start, _end_of_name(text, words, place), "name"
    elif follows is not None and follows.capital and len(follows.text) > 2 and word.upper == follows.upper:
        first = text[: word.start].strip(" ").lower() in folded("particles") | {""}
        register = first and text[word.end : follows.start].strip() == ","  # as in "Boer, Jan"
        pair = (
            (word.given and follows.family)
            or (word.family == 2 and follows.given)
            or (word.given == 2 and follows.name)
            or (register and word.family and follows.given)
        )
        an_eponym = follows.plain and word.given < 2 and word.fold in folded("starters")
        of_the_bench = word.fold in folded("bench") and follows.family < 2 and follows.given < 2
        if pair and not word.plain and not an_eponym and not of_the_bench:
            yield word.start, follows.end, "name"


def _small(text: str, words: Sequence[Word], place: int) -> Iterator[Place]:
    """A name all in small letters: a well-known given name beside a family name."""
    word = words[place]
    after = place + 1
    while after < len(words) and len(words[after].text) == 1:  # past initials
        after += 1
    for at in (after, place - 1):
        if not 0 <= at < len(words) or words[at].capital or not words[at].family or len(words[at].text) < 4:
            continue
        first, last = (word, words[at]) if at > place else (words[at], word)
        beside = re.fullmatch(r" (?:[a-z]\.? )?", text[first.end : last.start]) is not None
        sure = at > place or words[at].family == 2
        if beside and sure and not words[at].plain and words[at].fold not in folded("after_title"):
            yield first.start, last.end, "name"


def _speaks(word: Word) -> bool:
    return len(word.text) >= 4 if word.upper else True


def _next(text: str, words: Sequence[Word], place: int) -> Word | None:
    """The word that would be the family name: past initials, particles and one comma."""
    at, last = place + 1, words[place]
    while at < len(words):
        gap = text[last.end : words[at].start]
        if len(gap) > 3 or not re.fullmatch(r"[\s.,-]+", gap):
            return None
        if words[at].fold in folded("particles") or (len(words[at].text) == 1 and words[at].capital):
            last, at = words[at], at + 1
            continue
        return words[at]
    return None


def _of_a_publication(text: str, word: Word) -> bool:
    """Whether the name is an author's: "Carr et al.", "Miller (1985)", "after Smith and Jones 1998"."""
    return (
        re.match(
            r"(?:\s(?:and|und|et|y|e|i|&)\s[A-Z]\w+)?,?\s(?:et al|\(?(?:19|20)\d\d\b)",
            text[word.end : word.end + 40],
        )
        is not None
    )


def _german(text: str) -> bool:
    """Whether nouns seem to be written with capitals, as in German."""
    return len(re.findall(r"(?<=[a-z,] )[A-Z][a-z]{3,}", text)) > 1


def _with_neighbours(text: str, words: Sequence[Word], place: int) -> Place:
    first = last = place
    while (
        first > 0
        and place - first < 2
        and words[first - 1].capital
        and _close(text, words[first - 1], words[first])
    ):
        first -= 1
    if last + 1 < len(words) and words[last + 1].capital and _close(text, words[last], words[last + 1]):
        last += 1
    return words[first].start, words[last].end, "name"


def _called(flat: str, bare: str, words: Sequence[Word]) -> Iterator[Place]:
    for match in _named().finditer(flat):
        after = next((word for word in words if word.start >= match.end()), None)
        if after is None or after.start != match.end():
            continue
        said = ":" in match[0] or _of_a_person(flat[: match.start()])
        arabic = "\u0600" <= after.text[0] <= "\u06ff"
        if after.plain or after.fold in folded("after_title"):
            continue
        if (arabic and said) or ((after.capital or arabic) and (after.name == 2 or said)):
            yield match.start(), _end_of_name(bare, words, words.index(after)), "name"


def _of_a_person(before: str) -> bool:
    tail = re.findall(r"[^\W\d_]+", before[-60:])[-4:]
    return not tail or any(word in _titles()[1] or word in folded("pronouns") for word in tail)


def _after(text: str, words: Sequence[Word]) -> Iterator[Place]:
    """Names before a Turkish title."""
    after = folded("titles_after")
    for before, title in pairwise(words):
        if title.fold not in after or not _close(text, before, title) or before.fold in _titles()[0]:
            continue
        known = before.name and not before.plain and (before.capital or before.given)
        if known or (before.capital and title.capital):
            yield before.start, title.end, "name"
