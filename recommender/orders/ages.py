"""Ages and sexes in an order: by their unit, by the word before them, as a letter beside a number."""

from collections.abc import Sequence
from typing import Any

from recommender.orders.counting import belongs_to_date, only_counts
from recommender.orders.durations import is_duration
from recommender.orders.items import PART, SENTENCE, Item, parts, past
from recommender.orders.person_words import is_person
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_AGES = range(10, 120)
_SURELY_AGE = range(49, 111)
_ADULTS = range(16, 111)
_OLDEST = 90
_SLASHES = ("/", "|")
_LETTERS = {"m": "male", "f": "female", "w": "female"}
# After a word for loss these begin its own teeth ("shes 46 missing upper left 6").
_TEETH_FOLLOW = ("number", "name", "group", "quadrant", "arch", "side", "colon")
_AFTER_AGE = (*PART, "and", "filler", "word", "fact", "close", "open", "talk", "mark")
_NAMES_PLACE = ("heading", "filler", "talk")
# Letters for a sex that are unmistakable in a language beside an age.
_SEXES = {
    "en": {"F": "female", "M": "male", "f": "female", "m": "male"},
    "de": {"W": "female", "w": "female", "M": "male", "m": "male"},
    "fr": {"F": "female", "H": "male"},
    "es": {"F": "female", "V": "male", "H": "male"},
}
_AGE, _SEX = "patient.age", "patient.sex"


def with_ages(items: list[Item], tokens: Sequence[Token], languages: Sequence[str]) -> list[Item]:
    """Ages by their unit or the word before them; a sex as a letter beside an age; numbers that only count."""
    made: list[Item] = []
    sexes = _SEXES.get(languages[0], {})
    for index, item in enumerate(items):
        before = next(
            (
                one
                for one in reversed(made)
                if one.kind not in ("filler", "colon", "mark", "comma", "open", "and", "from")
            ),
            None,
        )
        after = items[index + 1] if index + 1 < len(items) else None
        if item.kind in ("number", "age") and _is_vague(item, tokens):
            made.append(Item("word", item.start, item.end, "vague"))
        elif (
            item.kind == "number" and (_is_heading(before, _AGE) or _under_both(made)) and item.value in _AGES
        ):
            made.append(_fact(_AGE, item, item.value, before))
        elif (
            item.kind == "number"
            and item.value in _AGES
            and (_is_sex(after, tokens, sexes) and _after_patient(items, index, tokens))
        ) or (
            item.kind == "number" and item.value in _SURELY_AGE and _after_patient(items, index, tokens, True)
        ):
            made.append(_fact(_AGE, item, item.value))
        elif (_is_heading(before, _SEX) or _under_both(made)) and _is_sex(item, tokens, sexes):
            made.append(_fact(_SEX, item, sexes[tokens[item.start].text], before))
        elif (
            item.kind in ("number", "age")
            and item.value in _AGES
            and _across_slash(items, index, tokens, sexes)
        ):
            made.append(_fact(_AGE, item, item.value))
        elif _is_sex(item, tokens, sexes) and _of_age_across(items, index, tokens, sexes):
            made.append(Item("fact", item.start, item.end, sexes[tokens[item.start].text], None, _SEX))
        elif item.kind == "age" and is_duration(items, index, tokens, languages):
            made.append(Item("word", item.start, item.end, "date", extra={"dated": True}))
        elif item.kind == "age":
            made.append(
                _fact(_AGE, item, item.value) if item.value in _AGES else Item("word", item.start, item.end)
            )
        elif (
            item.kind == "number"
            and item.value in _SURELY_AGE
            and (
                _is_sex(after, tokens, sexes)
                or _is_sex(before, tokens, sexes)
                or any(one is not None and one.path == _SEX for one in (before, after))
            )
        ):
            made.append(_fact(_AGE, item, item.value))
        elif _is_sex(item, tokens, sexes) and (
            (before is not None and before.path == _AGE)
            or (after is not None and (after.kind == "age" or after.value in _SURELY_AGE))
            or [one.kind for one in items[index + 1 : index + 3]] == ["comma", "age"]
        ):
            made.append(Item("fact", item.start, item.end, sexes[tokens[item.start].text], None, _SEX))
        elif _is_sex(item, tokens, sexes) and _is_heading(before, _SEX):
            made.append(_fact(_SEX, item, sexes[tokens[item.start].text], before))
        elif (sex := _sex_of_patient(items, index, tokens)) is not None:
            made.append(Item("fact", item.start, item.end, sex, None, _SEX))
        elif item.kind == "number" and (
            _is_adult(items, index, tokens, sexes) or _after_sex(items, index, made)
        ):
            made.append(_fact(_AGE, item, item.value))
        elif _is_date(items, index, made, tokens):
            made.append(Item("word", item.start, item.end, "date", extra={"dated": True}))
        elif item.kind == "number" and (
            _of_so_many(items, index, tokens)
            or _alone(items, index, tokens)
            or _with_short_years(items, index, tokens)
        ):
            made.append(_fact(_AGE, item, item.value))
            made[-1].extra["understood"] = True
        elif item.extra.get("spoken") or only_counts(items, index, made, before, tokens):
            made.append(Item("filler", item.start, item.end))
        else:
            made.append(item)
    return made


def _is_date(items: Sequence[Item], index: int, made: Sequence[Item], tokens: Sequence[Token]) -> bool:
    item = items[index]
    begins = item.kind == "number" and _dated(made) and not item.extra.get("bar")
    return begins or _goes_on_spoken(item, made, tokens) or belongs_to_date(items, index, made, tokens)


def _goes_on_spoken(item: Item, made: Sequence[Item], tokens: Sequence[Token]) -> bool:
    """``box two fourteen``: a number spoken in parts right after a word before which no tooth is named."""
    last = [one.kind for one in made[-2:]]
    parts = [tokens[one.start] for one in (*made[-1:], item)]
    spoken = all(token.end - token.start > len(token.text) or token.text.isalpha() for token in parts)
    return item.kind == "number" and last == ["before", "word"] and made[-1].value == "date" and spoken


def _is_adult(items: Sequence[Item], index: int, tokens: Sequence[Token], sexes: dict[str, str]) -> bool:
    """Whether a number is an age by the word for a sex beside it."""
    beside = _right_after_sex(items, index, tokens) or _letter_follows(items, index, tokens, sexes)
    said = _after_verb(items, index, tokens) and (
        items[index].value in _SURELY_AGE or _sex_before(items, index)
    )
    return items[index].value in _ADULTS and (beside or said)


def _after_verb(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether a number stands right after "is" or what is left of it ("Patientin ist 29", "she's 34")."""
    before = tokens[max(0, items[index].start - 2) : items[index].start]
    elided = len(before) == 2 and before[0].text in "'’" and before[1].folded == "s"
    return bool(before) and (elided or before[-1].folded in listed("age_verbs"))


def _across_slash(items: Sequence[Item], index: int, tokens: Sequence[Token], sexes: dict[str, str]) -> bool:
    """Whether the letter for a sex stands across a slash from a number ("39/F", "58 / F", "F/66")."""
    for step in (-1, 1):
        mate = items[index + 2 * step : index + 2 * step + 1] if index + 2 * step >= 0 else []
        if (
            not mate
            or tokens[items[index + step].start].text not in _SLASHES
            or not _is_sex(mate[0], tokens, sexes)
        ):
            continue
        sentence = [
            one for part in parts(items, SENTENCE) if index in part for one in items[part.start : part.stop]
        ]
        if not any(
            one.kind in ("rest", "site", "retainer", "role") for one in sentence if one is not mate[0]
        ):
            return True  # "36/M" beside rests is a side of a tooth
    return False


def _of_age_across(items: Sequence[Item], index: int, tokens: Sequence[Token], sexes: dict[str, str]) -> bool:
    """Whether a letter stands across a slash from an age."""
    around = [items[at] for at in (index - 2, index + 2) if 0 <= at < len(items)]
    ages = [one for one in around if one.kind in ("number", "age") and one.value in _AGES]
    return any(_across_slash(items, items.index(one), tokens, sexes) for one in ages)


def _of_so_many(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether a number that can be no tooth follows "of" and ends its part ("a retired organist of seventy-nine,")."""
    item = items[index]
    after = items[index + 1].kind if index + 1 < len(items) else "stop"
    led = item.start > 0 and tokens[item.start - 1].folded in listed("of_age")
    return led and item.value in _SURELY_AGE and after in ("comma", "stop", "line", "hard", "close")


def _alone(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether a number that can be no tooth makes up its part, no other number beside it ("82, very frail", "(79)")."""
    item = items[index]
    hashed = item.start > 0 and tokens[item.start - 1].text == "#"
    beside = [items[at] for at in (index - 1, index + 1) if 0 <= at < len(items)]
    around = [items[at] for at in (index - 2, index - 1, index + 1, index + 2) if 0 <= at < len(items)]
    figures = any(one.kind in ("number", "measure", "age") for one in around)
    goes_on = bool(item.extra.get("spoken") and beside) and beside[-1].kind == "and"  # "eighty-three and never ill"
    return (
        item.value in _SURELY_AGE
        and all(
            one.kind in (*PART, "open", "close") or (goes_on and one is beside[-1]) for one in beside
        )
        and not figures
        and not hashed
    )


def _with_short_years(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether a number that can be no tooth stands before a short form of years and its point ("72 a.,")."""
    end = items[index].end
    shortened = [token.text for token in tokens[end : end + 2]] == ["a", "."]
    return items[index].value in _SURELY_AGE and shortened and tokens[end + 1].glued


def _is_vague(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether a number only says the decade of an age ("Mitte sechzig", "in his 60s")."""
    before = tokens[item.start - 1].folded if item.start else ""
    after = tokens[item.end] if item.end < len(tokens) else None
    decade = after is not None and after.glued and after.folded in ("s", "er", "ern", "ies")
    return item.value in _SURELY_AGE and item.value % 10 == 0 and (decade or before in listed("vague_ages"))


def _after_sex(items: Sequence[Item], index: int, made: Sequence[Item]) -> bool:
    """Whether a number stands right after the letter for a patient's sex and ends its part ("patient F 44")."""
    after = items[index + 1].kind if index + 1 < len(items) else "stop"
    ends = after in ("comma", "stop", "line", "hard", "close")
    made = made[:-1] if made and made[-1].kind == "close" else made  # "Patient (m) 81,"
    stands = bool(made) and made[-1].path == _SEX and not _begins_list(items, index)
    return stands and ends and items[index].value in _ADULTS


def _sex_before(items: Sequence[Item], index: int) -> bool:
    """Whether a word for a person stands before a verb before a number ("Patientin ist 29"), and no tooth follows."""
    at = past(items, index - 1, -1, ("filler", "wears", "mark"))
    after = items[index + 1].kind if index + 1 < len(items) else "stop"
    own = [one.kind for one in items[index + 1 : index + 3]]
    loss = after == "role" and items[index + 1].value == "missing" and own[1:] and own[1] in _TEETH_FOLLOW
    return at >= 0 and items[at].path == _SEX and (after in _AFTER_AGE or bool(loss)) and not _lists_on(items, index)


def _lists_on(items: Sequence[Item], index: int) -> bool:
    """Whether another tooth follows a number ("has 33, 34", "tiene 33 y 34")."""
    run = [one.kind for one in items[index + 1 : index + 4]]
    while len(run) > 1 and run[1] == "filler":
        run.pop(1)
    return len(run) > 1 and run[0] in ("comma", "and", "to", "or") and run[1] in ("number", "quadrant", "name")


def _right_after_sex(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether a number stands right after a word for a person and ends its part ("lady 34,", "Frau (45)")."""
    wanting = listed("singular_verbs") - listed("has_words") - listed("is_or_are")
    if items[index].start and tokens[items[index].start - 1].folded in wanting:
        return False  # "she needs 29, 30 and 31 replaced"
    at = index - 1
    while at >= 0 and (
        items[at].kind in ("filler", "open", "comma", "from", "mark") or _is_initial(items[at])
    ):
        at -= 1
    after = items[index + 1].kind if index + 1 < len(items) else "stop"
    between = tokens[items[max(at, 0)].end : items[index].start]
    wanted = any(token.folded in listed("verbs_of_need") for token in between)
    stands = at >= 0 and (items[at].path == _SEX or is_person(items[at], tokens))
    if not stands or wanted or _begins_list(items, index):
        return False
    of_so_many = (
        index > 0 and items[index - 1].kind in ("filler", "from") and after not in ("number", "and", "to")
    )
    ended = after in ("comma", "stop", "line", "hard", "close", "colon")
    return of_so_many or ended or bool(items[index].extra.get("spoken"))


def _begins_list(items: Sequence[Item], index: int) -> bool:
    """Whether a number that may be a tooth begins a list of neighbours ("she needs 29, 30, 31")."""
    run = items[index + 1 : index + 3]
    listed_on = len(run) > 1 and run[0].kind == "comma" and run[1].kind == "number"
    near = listed_on and abs(int(run[1].value) - int(items[index].value)) == 1
    return near and items[index].value not in _SURELY_AGE


def _is_initial(item: Item) -> bool:
    """Whether an item is a lone capital ("Herr K., 77")."""
    return item.kind == "word" and len(str(item.value)) == 1 and str(item.value).isupper()


def _letter_follows(
    items: Sequence[Item], index: int, tokens: Sequence[Token], sexes: dict[str, str]
) -> bool:
    """``teacher, 49, F,``: a number and a letter for a sex, each between commas."""
    run = items[index : index + 4]
    if (
        len(run) > 2
        and run[1].kind == "comma"
        and run[2].path == _SEX
        and _after_patient(items, index, tokens, True)
    ):
        return True  # "Patient 28, männlich"
    commas = len(run) == 4 and run[1].kind == run[3].kind == "comma" and tokens[run[1].start].text == ","
    return commas and _is_sex(run[2], tokens, sexes) and index > 0 and items[index - 1].kind == "comma"


def _dated(made: Sequence[Item]) -> bool:
    """Whether a word of dates, classes or orders stands right before ("due 12", "class 2", "Termin: 14")."""
    before = next((one for one in reversed(made) if one.kind not in ("filler", "colon", "mark", "on")), None)
    named = before is not None and before.match is not None and before.match.of("before") is not None
    return before is not None and (before.kind == "before" or (named and before.kind in _NAMES_PLACE))


def _after_patient(items: Sequence[Item], index: int, tokens: Sequence[Token], named: bool = False) -> bool:
    """Whether a number stands right after the word for the patient ("pt is 90"), or (unless ``named``) begins all."""
    before = items[index - 1] if index else None
    if before is None:
        return not named
    words = {tokens[place].folded for place in range(max(0, before.start - 1), before.end)}
    return before.kind == "filler" and bool(words & listed("patient_words"))


def _sex_of_patient(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> str | None:
    """A lone letter right after the word for the patient: ``pt (f)``, ``Pat. m``."""
    item, at = items[index], index - 1
    letter = tokens[item.start].text.lower() if item.end - item.start == 1 else ""
    at = past(items, at, -1, ("mark", "open", "comma", "colon"))
    named = (
        at >= 0 and items[at].kind == "filler" and tokens[items[at].end - 1].folded in listed("patient_words")
    )
    after = items[index + 1].kind if index + 1 < len(items) else "stop"
    ended = after in ("mark", "close", "comma", "stop", "hard", "line", "age", "number")
    return _LETTERS.get(letter) if named and ended else None


def _is_heading(item: Item | None, path: str) -> bool:
    if item is None or item.match is None:
        return False
    return any(one.kind == "heading" and one.identifier == path for one in item.match.meanings) or (
        path == _AGE and item.kind == "before" and item.match.meanings[0].phrase.lower() in ("age", "aged")
    )


def _is_sex(item: Item | None, tokens: Sequence[Token], sexes: dict[str, str]) -> bool:
    return item is not None and item.end - item.start == 1 and tokens[item.start].text in sexes


def _under_both(made: Sequence[Item]) -> bool:
    """Whether one heading for age and sex stands right before ("Age/sex: 44 F")."""
    named = [one for one in made if one.kind not in ("filler", "colon", "mark", "and")][-2:]
    both = {path for path in (_AGE, _SEX) for one in named if _is_heading(one, path)}
    return len(both) > 1


def _fact(path: str, item: Item, value: Any, also: Item | None = None) -> Item:
    start = min(item.start, also.start) if also is not None else item.start
    if path == _AGE and value >= _OLDEST:
        value = "90+"
    return Item("fact", start, item.end, value, None, path)
