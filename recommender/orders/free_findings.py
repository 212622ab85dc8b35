"""Findings in free words: hands that no longer obey, teeth that lean towards the tongue.

By what is named and what is said of it in the same part of a sentence; read so it is understood, and marked.
"""

from collections.abc import Sequence

from recommender.orders.items import PART, Item, parts, past, words_in
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_DEXTERITY, _LEAN, _TILT = "patient.dexterity", "floor.lingual_tilt", "abutments.tilt"
_CROWNED, _MATERIAL = ("abutments.restoration", "crowned"), "abutments.crown_material"
_DISEASE = "abutments.disease"
_NAMES_TEETH = ("number", "name", "quadrant")
_DENIES = ("negation", "nor")
_WAYS = ("mesial", "distal", "lingual", "facial")


def with_free_findings(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with such findings as facts."""
    made = [_of_crown(items, at) or _as_cause(items, at, tokens) for at in range(len(items))]
    for places in reversed(list(parts(items, PART))):
        run = items[places.start : places.stop]
        words = [words_in(item, tokens) for item in run]
        for finding in (_hands, _leaning):
            found = finding(run, words)
            if found is None:
                continue
            path, value, at = found
            item = run[at]
            made[places.start + at] = Item(
                "fact", item.start, item.end, value, None, path, {"understood": True}
            )
            break
    return made


def _of_crown(items: Sequence[Item], at: int) -> Item | None:
    """The material of a crown named apart from it, which is no alloy of the framework ("crowned (full gold)")."""
    item, before = items[at], at - 1
    before = past(items, before, -1, ("filler", "open", "on", "mark", "word"))
    named = item.match.of("dentition_of") if item.match is not None else None
    crowned = before >= 0 and (items[before].path, items[before].value) == _CROWNED
    if item.kind not in ("unsettled", "alloy") or named is None or not crowned:
        return None
    return Item("fact", item.start, item.end, named.identifier, None, _MATERIAL, {"understood": True})


def _as_cause(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> Item:
    """An item, or a word that says nothing where a disease is only why teeth are gone ("31, 41 por periodontitis")."""
    item = items[at]
    because = item.start > 0 and tokens[item.start - 1].folded in listed("causes")
    if item.path != _DISEASE or not because:
        return item
    return Item("filler", item.start, item.end, "filler")


def _at(words: Sequence[set[str]], section: str, run: Sequence[Item]) -> list[int]:
    """The places of items that name one of the words of a section and state nothing yet."""
    return [at for at, held in enumerate(words) if held & listed(section) and run[at].kind != "fact"]


def _hands(run: Sequence[Item], words: Sequence[set[str]]) -> tuple[str, str, int] | None:
    """``mit den Händen kommt sie nicht mehr zurecht``: hands, and that they fail or no longer do."""
    if any(item.path == _DEXTERITY for item in run):
        return None
    hands, fails = _at(words, "hands", run), _at(words, "hands_fail", run)
    denied = any(held & (listed("negations") | listed("no_longer")) for held in words)
    trouble = any(held & listed("troubles") for held in words)
    if not hands or (denied and (fails or trouble)) or not (denied or fails or trouble):
        return None
    return _DEXTERITY, "limited", hands[0]


def _leaning(run: Sequence[Item], words: Sequence[set[str]]) -> tuple[str, str | bool, int] | None:
    """``Restzähne stark nach lingual geneigt``; ``qui a basculé vers l'avant``: a lean and the way it goes."""
    numbered = any(item.kind in _NAMES_TEETH for item in run)
    general = any(held & listed("teeth_in_general") for held in words)
    said = next((at for at, item in enumerate(run) if item.path == _TILT and item.value == "lingual"), None)
    if said is not None and general and not numbered:
        return _LEAN, True, said
    lean = _at(words, "leaning", run)
    if not lean or any(item.path in (_LEAN, _TILT) or item.kind in _DENIES for item in run):
        return None
    ways = [way for way in _WAYS if any(held & listed(f"toward_{way}") for held in words)]
    if len(ways) != 1:
        return None
    if general and not numbered:
        return (_LEAN, True, lean[0]) if ways[0] == "lingual" else None
    return _TILT, ways[0], lean[0]
