"""Which other values a field could have had: allowed words, gauges, and the limits at which rules turn."""

from collections.abc import Iterable
from typing import Any

from recommender.advice.explanation.counterfactuals.links import Link
from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, side_of
from recommender.domain.fields import get_field, split
from recommender.domain.measures import Interval, expected
from recommender.domain.shape import Shape, declared, single
from recommender.knowledge.figures.confidence import Search

_FEW = 6


def shape_of(path: str, value: object) -> Shape | None:
    """What may stand at a path; ``None`` for a place that holds no single value."""
    shape = declared(split(path))
    if shape is not None and shape.kind == "choice":
        fits = isinstance(value, Interval) or not (isinstance(value, dict) or hasattr(value, "model_fields"))
        shape = single(shape) if fits else None
    return None if shape is None or shape.kind in ("record", "map", "text") else shape


def other_values(case: Case, link: Link, tooth: int, search: Search) -> list[list[Any]]:
    """Other values in the order in which they are tried, in lanes: a lane is left at its first success.

    Numbers have two lanes, downward and upward from what is recorded, nearest first; each other value is a lane
    of its own. For a field that was not recorded every value is a lane of its own.
    """
    now = get_field(case, link.path)
    shape = shape_of(link.path, now)
    now = expected(now) if isinstance(now, Interval) else now
    if shape is None or (isinstance(now, str) and shape.kind in ("whole", "number")):
        return []
    if shape.kind in ("whole", "number"):
        if now is None:
            return [[value] for value in _numbers(link, shape, 0, search)]
        down = [value for value in reversed(_numbers(link, shape, -1, search)) if value < float(now)]
        up = [value for value in _numbers(link, shape, 1, search) if value > float(now)]
        return [lane for lane in (down, up) if lane]
    return [[value] for value in _words(case, shape, now, tooth) if value != now]


def _words(case: Case, shape: Shape, now: Any, tooth: int) -> Iterable[Any]:
    if shape.kind == "word":
        # The format lists graded words in their order: the next grade is the smaller change.
        at = shape.words.index(str(now)) if now in shape.words else 0
        return sorted(shape.words, key=lambda word: abs(shape.words.index(word) - at))
    if shape.kind == "flag":
        return [True, False]
    if shape.kind == "tooth":
        side = side_of(int(now)) if now else "right"
        return [each for each in ARCH_ORDER[case.arch] if side_of(each) == side]
    if shape.kind == "list" and shape.item is not None:
        words: list[Any] = list(shape.item.words)
        if shape.item.kind == "tooth":
            words = [tooth] if tooth else []
        held = list(now or ())
        toggled = [[w for w in held if w != word] if word in held else [*held, word] for word in words]
        return ([[]] if now is None else []) + toggled
    return []


def _numbers(link: Link, shape: Shape, way: int, search: Search) -> list[Any]:
    """The first value beyond each limit of the rules on a way down (-1) or up (1), and the field's usual values.

    For a field that was not recorded (0): its gauges where it has any that are fixed, else both sides of each
    limit.
    """
    step = resolution(link.path, search)
    whole = shape.kind == "whole"
    low = 0.0 if shape.low is None else shape.low
    high = 100.0 if shape.high is None else shape.high
    grid = {float(value) for value in _grid(link.path, search)}
    found: set[float] = set()
    if whole and high - low <= _FEW:
        found.update(float(number) for number in range(int(low), int(high) + 1))
    gauged = any(name in search.gauged for name in split(link.path))
    if way or not gauged:
        for limit, below in link.limits:
            beyond, within = (limit + step, limit) if below else (limit, limit - step)
            found.update({beyond} if way > 0 else {within} if way < 0 else {beyond, within})
    if gauged or link.worked or "precedents" in link.rules or not link.limits:
        found |= grid
    kept = sorted({round(value, 6) for value in found if low <= value <= high})
    return [int(value) for value in kept if value.is_integer()] if whole else kept


def resolution(path: str, search: Search) -> float:
    """The step in which a field is measured."""
    for ending, step in search.resolution.items():
        if any(str(name).endswith(ending) for name in split(path)):
            return float(step)
    return 1.0


def _grid(path: str, search: Search) -> list[float]:
    grids = search.grids
    return next((list(grids[name]) for name in reversed(split(path)) if name in grids), [])
