"""What a negation denies: the concept after it and those joined to it, or what stands before it."""

from collections.abc import Sequence
from functools import cache

from recommender.domain import lexicon as lx
from recommender.orders.concepts import ALONE, Atom, is_concept
from recommender.orders.items import Item
from recommender.orders.vocabulary import as_written, listed

# How many items before the second half of a negation its first half may stand.
_AROUND_VERB = 6


@cache
def _stands_after() -> tuple[frozenset[str], frozenset[str]]:
    """Negations that stand after what they deny, and those that may."""
    after = as_written("negations_after")
    return after, after | as_written("negations_either_side")


def reaches(atoms: Sequence[Atom], atom: Atom) -> bool:
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


def reaches_nothing(sentence: Sequence[Item], place: int) -> bool:
    """Whether nothing but words that say nothing follow a negation up to the next comma: it denies what went before."""
    for item in sentence[place + 1 :]:
        if item.kind in ("comma", "close"):
            return True
        if item.kind in ("teeth", *ALONE, "fact", "unsettled", "word", "heading") or is_concept(item):
            return False
    return True


def denies_next(sentence: Sequence[Item], place: int) -> bool:
    """Whether what a negation denies stands right after it ("a rest and forbidden any clasp")."""
    after = next((one for one in sentence[place + 1 :] if one.kind != "filler"), None)
    return after is not None and (after.kind in ALONE or is_concept(after))


def only_words_follow(sentence: Sequence[Item], place: int) -> bool:
    """Whether words that the lexicon does not know, and nothing that says something, follow up to the next comma."""
    unknown = False
    for item in sentence[place + 1 :]:
        if item.kind == "comma":
            break
        if item.kind in ("teeth", *ALONE, "fact", "unsettled", "negation", "measure") or is_concept(item):
            return False
        unknown = unknown or item.kind == "word"
    return unknown


def closes_verb(sentence: Sequence[Item], place: int) -> bool:
    """Whether a negation is the second half of one around a verb that says something ("on ne les remplace pas")."""
    if lx.fold(sentence[place].phrase) not in listed("closes_verb"):
        return False
    verb = False
    for item in reversed(sentence[max(0, place - _AROUND_VERB) : place]):
        if item.kind not in ("filler", "role", "word"):
            return False
        if verb and item.kind == "filler" and lx.fold(item.phrase) in listed("opens_verb"):
            return True
        verb = verb or item.kind == "role"
    return False


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


def deny_last(atoms: list[Atom], denial: Item) -> None:
    """Denies the concept said last."""
    for atom in reversed(atoms):
        if atom.kind != "teeth":
            atom.denied, atom.denial = True, denial
            return


def word_follows(sentence: Sequence[Item], place: int) -> bool:
    """Whether something other than a mark or a joint follows an item."""
    following = sentence[place + 1] if place + 1 < len(sentence) else None
    return following is not None and following.kind not in ("comma", "to", "colon", "close", "mark")


def remark(atoms: Sequence[Atom]) -> None:
    """A denial in brackets that reaches nothing known ("(no thirds)") marks what was said before it."""
    for atom in atoms[-2:]:
        if atom.kind != "teeth":
            atom.item.extra["remarked"] = True
