"""Everything that the phrases of the lexicon may mean in an order, and which of them steer a sentence."""

from collections.abc import Iterator
from functools import cache
from typing import Any, NamedTuple

from recommender.domain import lexicon as lx
from recommender.orders.spoken_numbers import spoken

# Kinds that steer a sentence: only in the language of the order. A trade term counts in every language.
STEERING = frozenset(
    {
        "role",
        "condition",
        "seat",
        "negation",
        "join",
        "filler",
        "unit",
        "counted",
        "years",
        "before",
        "side",
        "finding",
        "opposing",
        "permits",
        "them",
        "relative",
        "talk",
        "formerly",
        "another",
        "degree",
        "all_but",
        "hint",
        "dentition",
        "dentition_of",
        "wears",
        "otherwise",
        "again",
        "bare",
        "spoken",
        "earlier",
        "respectively",
        "also",
        "correction",
        "single",
    }
)
# Headings that name what is said of teeth.
_ROLE_OF = {
    "missing": "missing",
    "planned_extractions": "extraction",
    "future_loss_likely": "doubtful",
}


class Meaning(NamedTuple):
    """What a phrase means: its kind, an identifier, its language, and the phrase as the lexicon writes it."""

    kind: str
    identifier: str
    language: str
    phrase: str


@cache
def usual(kind: str, choice: str) -> str:
    """Which of several options that a word leaves open is nearly always meant; empty where none is."""
    entries = lx.document("options")["unsettled"][kind]
    return next((str(one["likely"]) for one in entries if "likely" in one and "|".join(one["of"]) == choice), "")


@cache
def all_meanings() -> tuple[Meaning, ...]:
    """Everything that a phrase of the lexicon may mean."""
    return tuple(_gathered())


def _gathered() -> Iterator[Meaning]:
    for entry in lx.lexicon().of(*lx.OPTION_KINDS, "arch", "numbering", "heading"):
        if entry.kind == "rest" and len(entry.words) == 1 and entry.identifier in entry.words:
            continue  # "mesial" alone is a site, and "long" or "none" no rest, in running text
        if entry.identifier in ("none", "wrought_wire") and entry.kind in ("retainer", "rest", "alloy"):
            continue
        yield Meaning(entry.kind, entry.identifier, entry.language, entry.phrase)
        if entry.kind == "heading" and entry.identifier in _ROLE_OF:
            yield Meaning("role", _ROLE_OF[entry.identifier], entry.language, entry.phrase)
    for entry in lx.lexicon().of("site"):
        yield Meaning("site", entry.identifier, entry.language, entry.phrase)
    for kind, items in lx.document("options")["unsettled"].items():
        for item in items:
            # where one of several is what is nearly always meant, that one is read, with a mark
            likely, of = item.get("likely"), "|".join(item["of"])
            beside = ":beside" if item.get("beside_teeth") else ""
            guessed = likely and kind == "retainer"
            named = ("likely", f"{likely}:{of}{beside}") if guessed else ("unsettled", f"{kind}:{of}")
            for language, phrase in lx.spoken(item):
                yield Meaning(*named, language, phrase)
    for kind, section in (("finding", "findings"), ("hint", "hints")):
        for statement, entry_ in lx.document("findings")[section].items():
            for language, phrase in lx.spoken(entry_):
                yield Meaning(kind, statement, language, phrase)
    for language, phrase, number in spoken():
        yield Meaning("spoken", str(number), language, phrase)
    yield from _steering()
    yield from _teeth()


def _steering() -> Iterator[Meaning]:
    order = lx.document("order")
    for kind, section in (
        ("role", order["roles"]),
        ("join", order["joins"]),
        ("relative", order["relatives"]),
        ("rest", order["rest_places"]),
        ("site", order["rest_sites"]),
        ("dentition", order["dentitions"]),
        ("bare", order["bare_connectors"]),
        ("dentition_of", order["dentition_of"]),
    ):
        for identifier, entry in section.items():
            yield from _listed(kind, identifier, entry)
    named = {
        "condition": "conditions", "seat": "seats", "negation": "negations", "unit": "units",
        "before": "before_numbers",
    }  # fmt: skip
    for kind in (
        "condition", "seat", "negation", "filler", "unit", "counted", "years", "before", "opposing", "permits", "them",
        "talk", "formerly", "another", "degree", "all_but", "wears", "otherwise", "again", "earlier",
        "respectively", "also", "correction", "single",
    ):  # fmt: skip
        yield from _listed(kind, kind, order[named.get(kind, kind)])
    yield from _listed("filler", "polite", order["polite"])


def _teeth() -> Iterator[Meaning]:
    teeth = lx.document("teeth")
    for position, entry in teeth["positions"].items():
        yield from _listed("name", str(position), entry)
    for index, entry in enumerate(teeth["groups"]):
        yield from _listed("group", str(index), entry)
    for quadrant, entry in teeth["quadrants"].items():
        yield from _listed("quadrant", str(quadrant), entry)
    for side, entry in teeth["sides"].items():
        yield from _listed("side", side, entry)


def _listed(kind: str, identifier: str, entry: dict[str, Any]) -> Iterator[Meaning]:
    for language, phrase in lx.spoken(entry):
        yield Meaning(kind, identifier, language, phrase)
