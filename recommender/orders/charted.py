"""Findings in one word, as a chart has them: ``44: RPI, filled, distal guiding plane; 47: crowned (full metal)``.

A word that says as much only where it stands alone between commas, in a sentence that begins with its tooth; marked.
"""

from collections.abc import Iterator, Sequence
from functools import cache

from recommender.domain import lexicon as lx
from recommender.orders.items import PART, SENTENCE, Item, parts
from recommender.orders.text import Token

_TOOTH = ("number", "name", "quadrant")
_SILENT = ("filler", "line")
_BETWEEN = (*PART, "open", "close", "colon", "and")
_CROWNED, _MATERIAL = ("abutments.restoration", "crowned"), "abutments.crown_material"


def with_charted(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with such words as facts."""
    places = [at for sentence in parts(items, SENTENCE) if _begins(items, sentence) for at in sentence]
    charted = set(places)
    made: list[Item] = []
    at, crowned = 0, False
    for part in parts(items, _BETWEEN):
        made += items[at : part.start]
        at = part.stop
        said = [items[place] for place in part]
        fact = _alone(said, tokens, crowned) if said and part.start in charted else None
        made += [fact] if fact is not None else said
        crowned = any((one.path, one.value) == _CROWNED for one in said)
    return [*made, *items[at:]]


def _begins(items: Sequence[Item], sentence: range) -> bool:
    first = next((items[at] for at in sentence if items[at].kind not in _SILENT), None)
    return first is not None and first.kind in _TOOTH


def _alone(said: Sequence[Item], tokens: Sequence[Token], crowned: bool) -> Item | None:
    """The fact that a part as a whole states; the material of a crown right after the crown."""
    if any(one.kind == "fact" for one in said):
        return None
    words = tokens[said[0].start : said[-1].end]
    path, value = _charted().get(tuple(lx.stem(token.folded) for token in words), ("", None))
    if crowned and not path:
        path, value = _MATERIAL, lx.lookup("crown_material", " ".join(token.text for token in words))
    if not path or value is None:
        return None
    return Item("fact", said[0].start, said[-1].end, value, None, path, {"understood": True})


@cache
def _charted() -> dict[tuple[str, ...], tuple[str, str]]:
    return {words: (path, value) for path, value, words in _phrases()}


def _phrases() -> Iterator[tuple[str, str, tuple[str, ...]]]:
    for finding, entry in lx.document("order")["charted"].items():
        path, _, value = finding.partition("=")
        for _, phrase in lx.spoken(entry):
            yield path, value, tuple(lx.stem(word) for word in lx.fold(phrase).split())
