"""Of whom an order speaks: the patient, the reader it addresses, the dentist, a tooth that is called "elle"."""

from collections.abc import Sequence

from recommender.orders.items import SENTENCE, Item, parts
from recommender.orders.text import Token
from recommender.orders.vocabulary import as_written, listed

_AGE, _SEX = "patient.age", "patient.sex"
_CARELESS = ("patient.aesthetic_priority", "low")  # "if a clasp shows, it is all the same to him"
_ENDINGS = {"o": "male", "a": "female"}
_SHE, _TWO_ENDS = "elle", 2


def addressed(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """``Monsieur, …`` and ``Madame, Monsieur,`` that open a letter address its reader and are no patient."""
    at = 0
    while at < len(items) and (
        items[at].kind in ("comma", "filler", "line") or _is_address(items[at], tokens)
    ):
        at += 1
    named = [place for place in range(at) if _is_address(items[place], tokens)]
    person = at < len(items) and (
        items[at].path.startswith("patient.") or items[at].kind in ("age", "number")
    )
    if named and items[named[-1] + 1 : named[-1] + 2] and (len(named) > 1 or not person):
        for place in named:
            if items[place + 1].kind in ("comma", "line", "stop"):
                items[place].kind, items[place].value, items[place].path = "filler", "filler", ""
    return items


def of_whom(items: list[Item], tokens: Sequence[Token], languages: Sequence[str] = ()) -> list[Item]:
    """The items with the sex of a patient where an adjective or a pronoun gives it away, and without that of a dentist.

    "Paciente alérgica", "il a une hygiène déplorable" are the patient; "Herr Primar", "he measured 5 mm", and a pronoun
    in a sentence whose only person is the dentist are not.
    """
    for at, item in enumerate(items):
        if item.path == _SEX and (_is_titled(items, at, tokens) or _is_of_a_part(item, tokens)):
            _silence(item)
    for sentence in parts(items, SENTENCE):
        run = [items[at] for at in sentence]
        _by_adjective(run, tokens)
        _by_pronoun(run, tokens)
    if not any(item.path == _SEX for item in items):
        _by_ending(items, tokens, languages)
    spoken = [item for item in items if item.path == _SEX and item.extra.get("understood")]
    theirs = {item.value for item in spoken if _acts(item, tokens)}
    for sentence in parts(items, SENTENCE):
        run = [items[at] for at in sentence]
        words = _words(run, tokens)
        others = listed("dentist_words") | listed("staff_words")
        of_dentist = bool(words & others) and not words & listed("patient_words")
        for item in run:
            pronoun = any(item is one for one in spoken) and tokens[item.start].folded in listed("pronouns")
            if pronoun and (item.value in theirs or of_dentist):
                _silence(item)
    _of_the_aged(items)
    return items


def _of_the_aged(items: list[Item]) -> None:
    """Of two sexes that are only understood, that of a sentence with an age is the patient ("She just turned 80")."""
    spoken = [item for item in items if item.path == _SEX]
    if (
        not all(item.extra.get("understood") for item in spoken)
        or len({item.value for item in spoken}) < _TWO_ENDS
    ):
        return
    aged = {
        items[at].value
        for sentence in parts(items, SENTENCE)
        if any(items[at].path == _AGE for at in sentence)
        for at in sentence
        if items[at].path == _SEX
    }
    for item in spoken:
        if len(aged) == 1 and item.value not in aged:
            _silence(item)


def _silence(item: Item) -> None:
    item.kind = item.value = "filler"
    item.path, item.extra = "", {}


def _words(run: Sequence[Item], tokens: Sequence[Token]) -> set[str]:
    return {token.folded for item in run for token in tokens[item.start : item.end]}


def _is_titled(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether a word for a person is only the title of a colleague ("Herr Primar", "Frau Dr.")."""
    last = items[at].end
    return last < len(tokens) and tokens[last].folded in listed("colleagues")


def _acts(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether a pronoun does what a dentist does ("he measured")."""
    return bool({token.folded for token in tokens[item.end : item.end + 2]} & listed("dentist_verbs"))


def _is_of_a_part(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether a word for a sex is said of the half of an attachment ("the female parts are in the bag")."""
    return item.end < len(tokens) and tokens[item.end].folded in listed("gendered_parts")


def _by_ending(items: list[Item], tokens: Sequence[Token], languages: Sequence[str]) -> None:
    """``no es alérgica a nada``, ``Patient, 66``: what only persons are, and a German patient beside an age."""
    german, spanish = "de" in languages[:1], "es" in languages[:1]
    for sentence in [*parts(items, SENTENCE)] if german or spanish else []:
        run = [items[at] for at in sentence]
        if any(item.kind == "another" for item in run):
            continue
        aged = any(item.path == _AGE for item in run)
        for at, item in enumerate(run):
            named = item.kind == "filler" and tokens[item.end - 1].text in as_written("patient_male")
            headed = run[at + 1 : at + 2] != [] and run[at + 1].kind == "colon"
            if german and aged and named and not headed:
                item.kind, item.value, item.path = "fact", "male", _SEX
                item.match, item.extra = None, {"understood": True}
                return
            words = [token.folded for token in tokens[item.start : item.end]] if spanish else []
            word = next((one for one in words if one[:-1] in listed("adjectives_of_persons")), "")
            if word[-1:] in _ENDINGS:
                place = item.start + words.index(word)
                sex = Item("fact", place, place + 1, _ENDINGS[word[-1]], None, _SEX, {"understood": True})
                items.insert(sentence.start + at, sex)
                return


def _by_adjective(run: Sequence[Item], tokens: Sequence[Token]) -> None:
    """``Paciente alérgica al cromo``: an adjective right after a word that leaves the sex open settles it."""
    for item in run:
        if item.kind != "filler" or tokens[item.end - 1].folded not in listed("sexless"):
            continue
        after = item.end
        while after < len(tokens) and tokens[after].folded in listed("before_adjectives"):
            after += 1
        word = tokens[after].folded if after < len(tokens) else ""
        stem, ending = (word[:-1], word[-1:]) if word[-1:] in _ENDINGS else (word, "o")
        if stem in listed("gendered_adjectives"):
            item.kind, item.value, item.path = "fact", _ENDINGS[ending], _SEX
            item.match, item.extra = None, {"understood": True}


def _by_pronoun(run: Sequence[Item], tokens: Sequence[Token]) -> None:
    """``il a une hygiène déplorable``: a pronoun that may also be a thing is the patient beside what only one has."""
    person = any(item.path.startswith("patient.") and item.path != _SEX for item in run)
    for item in run:
        word = tokens[item.start].folded
        wills = item.end < len(tokens) and tokens[item.end].folded in listed("verbs_of_will")
        if item.kind in ("filler", "word") and item.end - item.start == 1 and word in listed("pronouns_male"):
            has = item.end < len(tokens) and tokens[item.end].folded in listed("has_words")
            if wills or (person and has):
                item.kind, item.value, item.path = "fact", "male", _SEX
                item.match, item.extra = None, {"understood": True}


def _is_address(item: Item, tokens: Sequence[Token]) -> bool:
    return item.path == _SEX and tokens[item.end - 1].folded in listed("addressed")


def pronouns(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """A French "elle" after a tooth, a feminine noun, is that tooth ("sur la 47 aucun crochet, elle est fragile")."""
    tooth = False
    ended = 0
    for item in items:
        if item.kind in ("number", "name"):
            tooth, ended = True, 0
        elif item.path.startswith("patient.") and tokens[item.start].folded != _SHE:
            tooth = False
        ended += item.kind in SENTENCE
        if item.path == _SEX and tokens[item.start].folded == _SHE and tooth and ended < _TWO_ENDS:
            item.kind = item.value = "filler"
            item.path = ""
    return items


def without_conditions(items: list[Item]) -> list[Item]:
    """Findings under a condition ("if the floor is high"), or of somebody else, are none."""
    conditional = inside = False
    part: list[Item] = []
    for item in [*items, Item("stop", 0, 0)]:
        ends = item.kind in SENTENCE
        conditional = (conditional or item.kind == "condition") and not ends
        inside = (inside or item.kind == "open") and item.kind != "close" and not ends
        if (
            conditional and item.kind == "fact" and not inside and (item.path, item.value) != _CARELESS
        ):  # "if there is room (floor 9 mm)": in brackets it is known
            item.kind = "word"
        if ends or item.kind == "comma":
            _of_others(part)
            part = []
        else:
            part.append(item)
    return items


def _of_others(part: Sequence[Item]) -> None:
    """What is said of somebody else ("mother allergic to nickel"), or was ("used to grind"), is no finding."""
    another = any(item.kind == "another" for item in part)
    formerly = any(item.kind == "formerly" for item in part)
    for item in part:
        person = item.kind == "fact" and item.path.startswith(("patient.", "occlusion."))
        if person and (another or (formerly and item.path != "patient.allergy")):
            item.kind = "word"
