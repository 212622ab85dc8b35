"""What the designer settled for the papers: own words for departures, and the framework that comes first."""

from dataclasses import replace
from typing import TYPE_CHECKING

from recommender.screens.session import current_advice, state

if TYPE_CHECKING:
    from recommender.advice.model import Framework


def said() -> dict[str, str]:
    """The designer's own words for departures, by decision key."""
    return dict(state.choices().get("wording") or {})


def settled(found: current_advice.Answer, framework: "Framework | None") -> "current_advice.Answer":
    """The answer with the designer's framework first, for the papers."""
    if framework is None:
        return found
    others = tuple(other for other in found.whole.frameworks if other is not framework)[:2]
    return replace(found, whole=replace(found.whole, frameworks=(framework, *others)))
