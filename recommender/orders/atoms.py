"""The parts of a sentence that say something: concepts, teeth, and what stands alone.

A negation reaches the concept after it and those joined to it; a question mark doubts the one before it; what stands
under a condition says nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache

from recommender.domain import lexicon as lx
from recommender.orders.items import Item, is_role
from recommender.orders.vocabulary import as_written, listed

_TALK = frozenset({"word", "heading", "fact", "measure", "negation", "name", "number", "site"})
# Concepts that stand by themselves.
ALONE = ("connector", "alloy", "bare")
GENERIC = {"clasp": ("retainer", "unsettled"), "rest": ("rest",), "rest_seat": ("rest",), "planes": ()}


_SITED = ("rest", "rest_seat", "planes")


@cache
def _stands_after() -> tuple[frozenset[str], frozenset[str]]:
    """Negations that stand after what they deny, and those that may."""
    after = as_written("negations_after")
    return after, after | as_written("negations_either_side")


@dataclass
class Atom:
    """One part: its ``kind`` (concept, teeth, alone), what stands before it, and what makes it no plain statement."""

    item: Item
    kind: str  # concept | teeth | alone
    before: set[str] = field(default_factory=set)
    denied: bool = False
    doubt: str = ""
    dropped: bool = False
    talked: bool = False
    bracketed: bool = False
    denial: Item | None = None


def is_concept(item: Item) -> bool:
    """Whether an item says something of teeth."""
    if item.kind == "unsettled":
        return not str(item.value).startswith(ALONE)
    if item.kind == "fact":
        return item.path.startswith(("abutments.", "spans."))
    if item.kind == "heading":
        return _is_abutment(item)
    return item.kind in ("role", "retainer", "replacement", "rest", "site")


def _is_abutment(item: Item) -> bool:
    return item.match is not None and any(
        one.kind == "heading" and one.identifier == "abutments.tooth" for one in item.match.meanings
    )


def atoms_of(sentence: Sequence[Item]) -> list[Atom]:
    """The parts of one sentence, in their order."""
    atoms: list[Atom] = []
    between: set[str] = set()
    denial: Item | None = None
    instead = False
    planes = any(is_role(item, "planes") for item in sentence)
    has_rest = planes or any(_is_rest(item) for item in sentence)
    _refer_back(sentence)
    seats = any(is_role(item, "rest_seat") and not item.extra.get("refers") for item in sentence)
    outside: tuple[set[str], int] | None = None
    conditional = False
    aside = False
    former = wished = False
    polite = any(is_polite(item) for item in sentence)
    for place, item in enumerate(sentence):
        former = (former or item.kind == "formerly") and item.kind != "comma"
        if former and (item.kind == "teeth" or _is_design(item)) and not _is_loss(sentence, place):
            between.add("word")
            continue
        if item.kind == "unsure" and polite and _is_question_mark(item):
            continue
        kind = "teeth" if item.kind == "teeth" else "concept" if is_concept(item) else ""
        bound = bool(atoms) and atoms[-1].kind == "teeth" and "comma" not in between
        if kind == "concept" and not bound and _of_all_named(sentence, place):
            kind = "alone"  # "clasps on all four": the teeth were named before
        kind = "alone" if item.kind in ALONE or (item.kind == "unsettled" and not kind) else kind
        kind = "alone" if item.extra.get("refers") else kind
        if conditional and item.kind in ("negation", "nor"):
            continue
        if (
            item.kind == "site"
            and not has_rest
            and item.value == "cingulum"
            and _teeth_beside(sentence, place)
        ):
            item.extra["restless"] = True  # "cingulum on 13 and 23" is a rest
        elif item.kind == "site" and (not has_rest or _names_another(sentence, place)):
            kind = ""
        if not kind:
            if item.kind == "negation":
                said_after = any(
                    one.phrase in _stands_after()[0] for one in (item.match.meanings if item.match else ())
                )
                if said_after and between & {"and", "comma"} and _denies_next(sentence, place):
                    denial = item
                elif said_after and atoms and "comma" not in between:
                    _deny_last(atoms, item)
                elif (
                    denies_back(item)
                    and atoms
                    and "comma" not in between
                    and _only_words_follow(sentence, place)
                ):
                    _doubt_nearest(atoms, sentence, place)  # "horseshoe not to my liking": a person looks
                elif _reaches_nothing(sentence, place):
                    if "open" in between and atoms:
                        (_remark if _word_follows(sentence, place) else _doubt_last)(atoms)
                    elif atoms and atoms[-1].kind == "teeth" and "comma" not in between:
                        none = Item(
                            "role", item.start, item.end, "nothing", item.match, extra={"guessed": True}
                        )  # "13 I-bar, 23 none"
                        atoms.append(Atom(none, "concept", between - {"negation"}))
                        between = set()
                    elif denies_back(item) and "fact" not in between:
                        _deny_last(atoms, item)
                else:
                    denial = item
            elif item.kind == "nor":
                denial = item
            elif item.kind == "or" and atoms and atoms[-1].kind == "teeth" and _open_choice(sentence, place):
                atoms[-1].item.value.doubtful = True
            elif (
                item.kind == "or"
                and atoms
                and _unknown_follows(sentence, place)
                and atoms[-1].kind != "teeth"
            ):
                atoms[-1].doubt = "one or the other?"
            elif item.kind == "condition" and _only_wishes(sentence, place):
                said_before = _conditioned(atoms)
                wished = wished or not said_before
            elif item.kind == "condition":
                conditional = True
                if _is_plain_if(item) and "comma" not in between:
                    _conditioned(atoms)
            elif item.kind == "otherwise" and (wished or _is_way_out(atoms, sentence, place)):
                conditional = True
                _conditioned(atoms)
            elif item.kind == "instead":
                instead = True
            elif item.kind in ("comma", "to"):
                denial = None
            elif item.kind == "unsure" and atoms and str(item.value) != "before":
                _doubt_nearest(atoms, sentence, place)
            between.add(item.kind)
            aside = aside or item.kind in ("word", "heading") or _is_material(item)
            if item.kind in ("negation", "nor"):
                aside = False
            if item.kind == "open":
                outside = ({*between} - {"open"}, len(atoms))
            elif item.kind == "close" and outside is not None:
                between = (
                    {*outside[0], "aside"} if outside[1] == len(atoms) else between
                )  # a remark in brackets
                outside = None
            if atoms and "comma" not in between and item.kind in _TALK and outside is None:
                atoms[-1].talked = True
            continue
        if planes and item.kind == "site":
            item.extra["plane"] = True
        if seats and item.kind in ("site", "rest"):
            item.extra["seat"] = True
        if conditional:
            continue
        if wished and kind != "teeth":
            item.extra["wished"], wished = True, False
        atom = Atom(item, kind, between, dropped=instead and kind != "teeth", bracketed=outside is not None)
        if denial is not None and kind == "teeth" and aside and "negation" in between:
            between, denial = {"comma"}, None  # "no metal on 23": neither said nor denied of a clasp
            item.extra["without_metal"] = True
            continue
        if denial is not None and not _reaches(atoms, atom):
            denial = None
        aside = False
        if denial is not None:
            atom.denied, atom.denial = True, denial
            if kind == "teeth":
                denial = None
        if "or" in between and atoms and not atom.denied and kind != "teeth" and atoms[-1].kind == kind:
            atom.doubt = atoms[-1].doubt = "one or the other?"
        nothing = bool(atoms) and is_role(atoms[-1].item, "nothing")
        if kind == "teeth" and item.value.alternative and not (atom.denied or nothing):
            atom.doubt = "which of them?"
        atoms.append(atom)
        between, instead = set(), False
    return atoms


def _refer_back(sentence: Sequence[Item]) -> None:
    """``distal rest on 14, seats cut there``: seats of which their part of the sentence says no more lie where the
    rests named before do."""
    parts: list[list[Item]] = [[]]
    for item in sentence:
        if item.kind in ("comma", "open", "close"):
            parts.append([])
        else:
            parts[-1].append(item)
    for part in parts:
        seats = [item for item in part if is_role(item, "rest_seat")]
        alone = not any(item.kind in ("teeth", "site", "rest", "colon", "negation") for item in part)
        if seats and alone:
            for item in seats:
                item.extra["refers"] = True


def _is_design(item: Item) -> bool:
    """Whether an item names a part of a denture."""
    return item.kind in (*ALONE, "retainer", "rest", "replacement", "unsettled") or is_role(
        item, "clasp", "rest"
    )


def is_polite(item: Item) -> bool:
    """Whether words only put an order as a question ("could you make")."""
    return item.match is not None and any(one.identifier == "polite" for one in item.match.meanings)


def _is_question_mark(item: Item) -> bool:
    return item.match is not None and item.match.meanings[0].phrase.startswith("?")


def _is_loss(sentence: Sequence[Item], place: int) -> bool:
    """Whether teeth are said to be gone ("36 was previously extracted"): what was is then so."""
    at = place
    while at >= 0 and sentence[at].kind != "comma":
        at -= 1
    part: list[Item] = []
    for item in sentence[at + 1 :]:
        if item.kind == "comma":
            break
        part.append(item)
    return any(is_role(item, "missing", "absent", "extraction", "standing") for item in part)


def _is_material(item: Item) -> bool:
    """Whether a word names metal or another material ("no metal on 23" is not "not on 23")."""
    return item.match is not None and any(
        one.kind == "heading" and one.identifier == "prescription.alloy" for one in item.match.meanings
    )


def _reaches(atoms: Sequence[Atom], atom: Atom) -> bool:
    """Whether a negation goes on to this atom: it is the first after it, or joined to the one denied before."""
    if not atoms or atoms[-1].denial is None or "negation" in atom.before or "nor" in atom.before:
        return True
    if atom.kind == "teeth":
        return False
    before = atoms[-1].item
    if (
        atom.item.kind == before.kind == "connector"
        and atom.item.value == before.value
        and "comma" not in atom.before
    ):
        return True  # "must not cover the whole palate with a full plate"
    if atom.item.value == "rest_only" and "or" not in atom.before:
        return False  # "no clasp, only a rest"
    general = atoms[-1].item.kind == "role" and atom.item.kind in ("retainer", "unsettled")
    return bool(atom.before & {"or", "and", "nor"}) or (general and not atom.before - {"filler"})


def _is_rest(item: Item) -> bool:
    only = item.kind == "retainer" and item.value == "rest_only"
    return only or item.kind == "rest" or (item.kind == "role" and item.value in ("rest", "rest_seat"))


def _names_another(sentence: Sequence[Item], place: int) -> bool:
    """Whether a side belongs to a noun beside it ("distal guide plate", "GP distal") and not to a rest."""
    if place and sentence[place - 1].kind == "heading":
        return True
    following = sentence[place + 1] if place + 1 < len(sentence) else None
    return following is not None and following.kind in ("word", "heading", "fact", "retainer")


def _teeth_beside(sentence: Sequence[Item], place: int) -> bool:
    """Whether teeth stand right after an item, or end right before it."""
    after = next((one for one in sentence[place + 1 :] if one.kind not in ("filler", "on")), None)
    before = next((one for one in reversed(sentence[:place]) if one.kind not in ("filler", "on")), None)
    return any(one is not None and one.kind == "teeth" for one in (before, after))


def _reaches_nothing(sentence: Sequence[Item], place: int) -> bool:
    """Whether nothing but words that say nothing follow a negation up to the next comma: it denies what went before."""
    for item in sentence[place + 1 :]:
        if item.kind == "comma":
            return True
        if item.kind in ("teeth", *ALONE, "fact", "unsettled", "word", "heading") or is_concept(item):
            return False
    return True


def _denies_next(sentence: Sequence[Item], place: int) -> bool:
    """Whether what a negation denies stands right after it ("a rest and forbidden any clasp")."""
    after = next((one for one in sentence[place + 1 :] if one.kind != "filler"), None)
    return after is not None and (after.kind in ALONE or is_concept(after))


def _only_words_follow(sentence: Sequence[Item], place: int) -> bool:
    """Whether words that the lexicon does not know, and nothing that says something, follow up to the next comma."""
    unknown = False
    for item in sentence[place + 1 :]:
        if item.kind == "comma":
            break
        if item.kind in ("teeth", *ALONE, "fact", "unsettled", "negation", "measure") or is_concept(item):
            return False
        unknown = unknown or item.kind == "word"
    return unknown


def _conditioned(atoms: Sequence[Atom]) -> bool:
    """Marks what was said last as said under a condition; whether there was anything."""
    last = next((atom for atom in reversed(atoms) if atom.kind != "teeth"), None)
    if last is not None:
        last.item.extra["wished"] = True
    return last is not None


def _other_connector(atoms: Sequence[Atom], sentence: Sequence[Item], place: int) -> bool:
    """Whether a way out names another connector after one ("lingual bar; otherwise a plate")."""
    named = any(atom.item.kind == "connector" and not atom.denied for atom in atoms)
    return named and any(item.kind == "connector" for item in sentence[place + 1 :])


def _is_way_out(atoms: Sequence[Atom], sentence: Sequence[Item], place: int) -> bool:
    """Whether an "otherwise" says what to do where what was said before cannot be done."""
    other = _other_connector(atoms, sentence, place) or _other_clasp(atoms, sentence, place)
    return other or _has_condition(sentence, place)


def _other_clasp(atoms: Sequence[Atom], sentence: Sequence[Item], place: int) -> bool:
    """Whether a way out names another clasp, without teeth of its own, after one ("RPI; otherwise a wire clasp")."""
    named = any(atom.item.kind == "retainer" and not atom.denied for atom in atoms)
    after = [item.kind for item in sentence[place + 1 :]]
    return named and "retainer" in after and "teeth" not in after


def _has_condition(sentence: Sequence[Item], place: int) -> bool:
    return any(item.kind in ("condition", "permits", "unsure") for item in sentence[:place])


def _is_plain_if(item: Item) -> bool:
    """Whether a condition hangs on what went before ("if"); "in case" only gives its purpose."""
    return item.match is not None and " " not in item.match.meanings[0].phrase


def _of_all_named(sentence: Sequence[Item], place: int) -> bool:
    """Whether what is said is said "of all of them"."""
    following = next((one for one in sentence[place + 1 :] if one.kind not in ("filler", "on")), None)
    before = next((one for one in reversed(sentence[:place]) if one.kind not in ("filler", "on")), None)
    led = (
        before is not None
        and before.kind == "them"
        and sentence[place].kind == "retainer"
        and _ends_with(before)
    )
    led = led and any(_is_rest(one) or one.kind == "retainer" for one in sentence[:place])
    return led or (following is not None and following.kind == "them")


def _ends_with(item: Item) -> bool:
    """Whether words for teeth named before end with "with" ("todos con")."""
    last = lx.fold(item.match.meanings[0].phrase).split()[-1] if item.match is not None else ""
    return last in listed("together")


def _only_wishes(sentence: Sequence[Item], place: int) -> bool:
    """Whether a condition ends with words that permit ("if the floor permits"): then the order stands, marked."""
    for item in sentence[place + 1 :]:
        if item.kind == "permits":
            return True
        if item.kind in ("comma", "teeth", *ALONE) or is_concept(item):
            return False
    return False


def _open_choice(sentence: Sequence[Item], place: int) -> bool:
    """Whether teeth, or a word that the lexicon does not know, follow an "or" after teeth ("on 43 or on 34")."""
    following = next((item for item in sentence[place + 1 :] if item.kind not in ("filler", "on")), None)
    return following is not None and following.kind in ("teeth", "word", "heading")


def _unknown_follows(sentence: Sequence[Item], place: int) -> bool:
    """Whether the word after a joint is one that the lexicon does not know."""
    following = next((item for item in sentence[place + 1 :] if item.kind != "filler"), None)
    return following is not None and following.kind in ("word", "heading")


def denies_back(denial: Item, plain: bool = False) -> bool:
    """Whether a negation may stand after what it denies ("clasp on 23 not", but never "clear of the gum").

    ``plain``: by a bare "no" or "not", which denies whatever stands before it.
    """
    after, either = _stands_after()
    wanted = either - after if plain else either
    return denial.match is not None and any(one.phrase in wanted for one in denial.match.meanings)


def stands_after(denial: Item) -> bool:
    """Whether a negation always stands after what it denies ("is out of the question")."""
    return denial.match is not None and any(one.phrase in _stands_after()[0] for one in denial.match.meanings)


def _deny_last(atoms: list[Atom], denial: Item) -> None:
    for atom in reversed(atoms):
        if atom.kind != "teeth":
            atom.denied, atom.denial = True, denial
            return


def _word_follows(sentence: Sequence[Item], place: int) -> bool:
    following = sentence[place + 1] if place + 1 < len(sentence) else None
    return following is not None and following.kind not in ("comma", "to", "colon", "close", "mark")


def _doubt_last(atoms: Sequence[Atom]) -> None:
    last = next((atom for atom in reversed(atoms) if atom.kind != "teeth"), None)
    if last is not None:
        last.doubt = "is this meant? It is stated with doubt"


def _remark(atoms: Sequence[Atom]) -> None:
    """A denial in brackets that reaches nothing known ("(no thirds)") marks what was said before it."""
    for atom in atoms[-2:]:
        if atom.kind != "teeth":
            atom.item.extra["remarked"] = True


def _doubt_nearest(atoms: list[Atom], sentence: Sequence[Item], place: int) -> None:
    """A question mark doubts the concept before it; a word of doubt the one that follows, else the one before."""
    _doubt_last(atoms)


def without_general_words(atoms: list[Atom]) -> tuple[list[Atom], list[Item]]:
    """Without the general words ("clasps:", "rests:") where the sentence names the kind; and those words."""
    heads: list[Item] = []
    kinds = {atom.item.kind for atom in atoms}
    sited = "site" in kinds or "rest" in kinds
    made: list[Atom] = []
    for index, atom in enumerate(atoms):
        general = atom.item.kind == "role" and str(atom.item.value) in GENERIC
        general = general and not atom.item.extra.get("refers")
        if general and not atom.denied:
            value = str(atom.item.value)
            specific = [
                other for other in atoms
                if other.item.kind in GENERIC[value] or (value in _SITED and other.item.kind == "site")
            ]  # fmt: skip
            before = atoms[index - 1] if index and "comma" not in atom.before else None
            after = (
                atoms[index + 1]
                if index + 1 < len(atoms) and "comma" not in atoms[index + 1].before
                else None
            )
            beside = [one for one in (before, after) if one is not None and one in specific]
            headed = index == 0 and len(specific) > 0 and not _takes_its_own(atoms)
            if (value in _SITED and sited) or beside or headed:
                following = atoms[index + 1] if index + 1 < len(atoms) else None
                if following is not None:
                    following.before = (following.before | atom.before) - ({"colon"} if headed else set())
                heads.append(atom.item)
                continue
        if _is_kind_of(atoms, index):
            heads.append(atom.item)
            continue
        made.append(atom)
    return made, heads


def _takes_its_own(atoms: Sequence[Atom]) -> bool:
    """``clasp on 34, and an embrasure clasp on 46``: a general word with its own teeth, each other with its own too."""
    kinds = [atom.kind for atom in atoms[1:] if not is_role(atom.item, "clasp", "rest")]
    turns = ["teeth" if place % 2 == 0 else "concept" for place in range(len(kinds))]
    return len(kinds) >= 3 and len(kinds) % 2 == 1 and kinds == turns and "colon" not in atoms[1].before


def _is_kind_of(atoms: Sequence[Atom], index: int) -> bool:
    """Whether a general term only describes the retainer named right after it ("gingivally approaching I-bar")."""
    value = str(atoms[index].item.value)
    following = atoms[index + 1] if index + 1 < len(atoms) else None
    likely = str(atoms[index].item.extra.get("likely", ""))
    choice = value.partition(":")[2] if atoms[index].item.kind == "unsettled" else likely
    return (
        bool(choice)
        and following is not None
        and following.item.kind == "retainer"
        and following.item.value in choice.split("|")
        and "comma" not in following.before
    )
