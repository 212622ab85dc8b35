"""Values of a case and of facts as people write them, with their units."""

from typing import TYPE_CHECKING, Any

from recommender.domain.statement import Quantity
from recommender.wording.templates import DEFAULT, language

if TYPE_CHECKING:
    from recommender.wording.words import Words

# What a label counts already needs no unit behind the number: "teeth in the space beside it 3".
_MOST_DIGITS = 3


def value(words: "Words", found: Any, unit: str = "") -> str:
    """A number with its unit (a pair as its bounds), yes or no, a list in words; ``None`` is not recorded."""
    if found is None or isinstance(found, bool):
        return words.term("recorded", {None: "nothing", True: "yes", False: "no"}[found])
    if isinstance(found, (int, float)):
        return _measure(words, found, found, unit)
    if isinstance(found, tuple) and len(found) == 2 and all(isinstance(end, (int, float)) for end in found):
        return _measure(words, found[0], found[1], unit)
    if isinstance(found, (list, tuple, set, frozenset)):
        said = [_plain(item) for item in found]
        return ", ".join(said if isinstance(found, (list, tuple)) else sorted(said)) or words.term(
            "recorded", "none"
        )
    return _plain(found)


def _measure(words: "Words", low: float, high: float, unit: str) -> str:
    digits = max(len(f"{round(end, _MOST_DIGITS):g}".partition(".")[2]) for end in (low, high))
    known = unit if unit in language(DEFAULT).terms["unit"] else ""
    return words.said(Quantity(low, high, known, digits))


def _plain(word: object) -> str:
    return str(word).replace("_", " ")
