"""General words ("clasps:", "rests:") beside words that name the kind."""

from collections.abc import Sequence

from recommender.orders.concepts import Atom
from recommender.orders.items import Item, is_role

GENERIC = {"clasp": ("retainer", "unsettled"), "rest": ("rest",), "rest_seat": ("rest",), "planes": ()}
_SITED = ("rest", "rest_seat", "planes")


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
