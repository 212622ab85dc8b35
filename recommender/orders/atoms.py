"""The parts of a sentence that say something, in their order, with what is denied and doubted of them.

A negation reaches the concept after it and those joined to it; a question mark doubts the one before it; what stands
under a condition says nothing.
"""

from collections.abc import Sequence

from recommender.domain import lexicon as lx
from recommender.orders.concepts import ALONE, Atom, is_concept, is_design, is_material, is_rest
from recommender.orders.conditions import conditioned, is_plain_if, is_way_out, only_wishes
from recommender.orders.denials import (
    closes_verb,
    denies_back,
    denies_next,
    deny_last,
    only_words_follow,
    reaches,
    reaches_nothing,
    remark,
    stands_after,
    word_follows,
)
from recommender.orders.doubts import doubt_last, open_choice, unknown_follows
from recommender.orders.items import Item, is_role
from recommender.orders.vocabulary import listed

_TALK = frozenset({"word", "heading", "fact", "measure", "negation", "name", "number", "site"})


def atoms_of(sentence: Sequence[Item]) -> list[Atom]:
    """The parts of one sentence, in their order."""
    atoms: list[Atom] = []
    between: set[str] = set()
    denial: Item | None = None
    instead = False
    planes = any(is_role(item, "planes") for item in sentence)
    has_rest = planes or any(is_rest(item) for item in sentence)
    _refer_back(sentence)
    seats = any(is_role(item, "rest_seat") and not item.extra.get("refers") for item in sentence)
    outside: tuple[set[str], int] | None = None
    conditional = False
    aside = False
    former = wished = False
    for place, item in enumerate(sentence):
        former = (former or item.kind == "formerly") and item.kind != "comma"
        if former and (item.kind == "teeth" or is_design(item)) and not _is_loss(sentence, place):
            between.add("word")
            continue
        kind = "teeth" if item.kind == "teeth" else "concept" if is_concept(item) else ""
        bound = bool(atoms) and atoms[-1].kind == "teeth" and "comma" not in between
        bound = bound and not (_is_one(atoms[-1].item) and _led_to_them(sentence, place))
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
                said_after = stands_after(item)
                if said_after and between & {"and", "comma"} and denies_next(sentence, place):
                    denial = item
                elif said_after and atoms and "comma" not in between:
                    deny_last(atoms, item)
                elif (
                    denies_back(item)
                    and atoms
                    and "comma" not in between
                    and only_words_follow(sentence, place)
                ):
                    doubt_last(atoms)  # "horseshoe not to my liking": a person looks
                elif atoms and closes_verb(sentence, place) and "comma" not in between:
                    deny_last(atoms, item)
                elif reaches_nothing(sentence, place):
                    if "open" in between and atoms:
                        (remark if word_follows(sentence, place) else doubt_last)(atoms)
                    elif atoms and atoms[-1].kind == "teeth" and "comma" not in between:
                        none = Item(
                            "role", item.start, item.end, "nothing", item.match, extra={"guessed": True}
                        )  # "13 I-bar, 23 none"
                        atoms.append(Atom(none, "concept", between - {"negation"}))
                        between = set()
                    elif denies_back(item) and "fact" not in between:
                        deny_last(atoms, item)
                else:
                    denial = item
            elif item.kind == "nor":
                denial = item
            elif item.kind == "or" and atoms and atoms[-1].kind == "teeth" and open_choice(sentence, place):
                atoms[-1].item.value.doubtful = True
            elif (
                item.kind == "or" and atoms and unknown_follows(sentence, place) and atoms[-1].kind != "teeth"
            ):
                atoms[-1].doubt = "one or the other?"
            elif item.kind == "condition" and only_wishes(sentence, place):
                said_before = conditioned(atoms)
                wished = wished or not said_before
            elif item.kind == "condition":
                conditional = True
                if is_plain_if(item) and "comma" not in between:
                    conditioned(atoms)
            elif item.kind == "otherwise" and (wished or is_way_out(atoms, sentence, place)):
                conditional = True
                conditioned(atoms)
            elif item.kind == "instead":
                instead = True
            elif item.kind in ("comma", "to"):
                denial = None
            elif item.kind == "filler" and lx.fold(item.phrase) in listed("conclusions"):
                denial = None  # "no metal, so mill it from PEEK"
            elif item.kind == "unsure" and atoms and str(item.value) != "before":
                doubt_last(atoms)
            between.add(item.kind)
            if item.kind in ("filler", "all", "side", "word") and lx.fold(item.phrase) in listed("each_one"):
                between.add("each")
            aside = aside or item.kind in ("word", "heading") or is_material(item)
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
        if denial is not None and not reaches(atoms, atom):
            denial = None
        atom.denied = bool(item.extra.get("refused"))
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


def _of_all_named(sentence: Sequence[Item], place: int) -> bool:
    """Whether what is said is said "of all of them"."""
    following = next((one for one in sentence[place + 1 :] if one.kind not in ("filler", "on")), None)
    before = next((one for one in reversed(sentence[:place]) if one.kind not in ("filler", "on")), None)
    led = (
        before is not None
        and before.kind == "them"
        and (sentence[place].kind == "retainer" or _ends_with_clasp(sentence, place))
        and _ends_with(before)
    )
    led = led and any(
        is_rest(one) or one.kind == "retainer" or one.path == "abutments.kind" for one in sentence[:place]
    )
    return led or (following is not None and following.kind == "them" and not _ends_with(following))


def _ends_with_clasp(sentence: Sequence[Item], place: int) -> bool:
    """Whether a clasp stands before words for teeth that go before a rest ("34 a T, 45 an I, both with a rest")."""
    said = [one.kind for one in sentence[:place] if one.kind not in ("filler", "on", "them")]
    return sentence[place].kind == "rest" and said[-1:] == ["retainer"]


def _is_one(item: Item) -> bool:
    """Whether a list is one tooth, of which nothing is said in the plural."""
    ref = item.value.refs[0]
    return len(item.value.refs) == 1 and not (
        ref.many or ref.upto or ref.way or ref.digits or ref.side == "both"
    )


def _led_to_them(sentence: Sequence[Item], place: int) -> bool:
    """Whether words for teeth named before, more than one of them, follow right after ("with rests on both")."""
    following = next((one for one in sentence[place + 1 :] if one.kind not in ("filler", "on")), None)
    plural = (
        following is not None
        and following.kind == "them"
        and not listed("one_tooth") & {lx.fold(following.phrase)}
    )
    return plural and sum(one.kind == "teeth" for one in sentence[:place]) > 1


def _ends_with(item: Item) -> bool:
    """Whether words for teeth named before end with "with" ("todos con")."""
    last = lx.fold(item.match.meanings[0].phrase).split()[-1] if item.match is not None else ""
    return last in listed("together")
