"""What stands under a condition ("if the floor permits", "otherwise a plate") says nothing, or is marked."""

from collections.abc import Sequence

from recommender.orders.concepts import ALONE, Atom, is_concept
from recommender.orders.items import Item


def conditioned(atoms: Sequence[Atom]) -> bool:
    """Marks what was said last as said under a condition; whether there was anything."""
    last = next((atom for atom in reversed(atoms) if atom.kind != "teeth"), None)
    if last is not None:
        last.item.extra["wished"] = True
    return last is not None


def _other_connector(atoms: Sequence[Atom], sentence: Sequence[Item], place: int) -> bool:
    """Whether a way out names another connector after one ("lingual bar; otherwise a plate")."""
    named = any(atom.item.kind == "connector" and not atom.denied for atom in atoms)
    return named and any(item.kind == "connector" for item in sentence[place + 1 :])


def is_way_out(atoms: Sequence[Atom], sentence: Sequence[Item], place: int) -> bool:
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


def is_plain_if(item: Item) -> bool:
    """Whether a condition hangs on what went before ("if"); "in case" only gives its purpose."""
    return item.match is not None and " " not in item.match.meanings[0].phrase


def only_wishes(sentence: Sequence[Item], place: int) -> bool:
    """Whether a condition ends with words that permit ("if the floor permits"): then the order stands, marked."""
    for item in sentence[place + 1 :]:
        if item.kind == "permits":
            return True
        if item.kind in ("comma", "teeth", *ALONE) or is_concept(item):
            return False
    return False
