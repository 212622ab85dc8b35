"""One world as an ordinary case: every drawn field recorded with its value there."""

import re
from typing import Any

from recommender.advice.confidence.worlds import Worlds
from recommender.domain.case import Case
from recommender.domain.fields import get_field, with_field
from recommender.domain.measures import Interval

_LOST = re.compile(r"future_loss_likely\[(\d+)\]\Z")


def completed(worlds: Worlds, world: int) -> Case:
    """The case as it is in one world, as far as its fields have been drawn."""
    case = worlds.case
    lost: list[int] | None = None
    for path, value in values_in(worlds, world).items():
        found = _LOST.match(path)
        if found is not None:
            lost = lost or []
            if value:
                lost.append(int(found[1]))
        elif get_field(case, path) is None or isinstance(get_field(case, path), Interval):
            case = with_field(case, path, list(value) if isinstance(value, tuple) else value)
    if lost is not None and case.future_loss_likely is None:
        case = case.model_copy(update={"future_loss_likely": sorted(lost)})
    return case


def values_in(worlds: Worlds, world: int) -> dict[str, Any]:
    """Every field drawn so far, with its value in one world."""
    return {
        path: drawn.values[int(drawn.codes[world])]
        for path, drawn in worlds.drawn().items()
        if drawn is not None
    }
