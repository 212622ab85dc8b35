"""Of whom an order speaks: the reader it addresses, somebody else than the patient, a tooth that is called "elle"."""

from collections.abc import Sequence

from recommender.orders.items import SENTENCE, Item
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_SEX = "patient.sex"
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
            conditional and item.kind == "fact" and not inside
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
