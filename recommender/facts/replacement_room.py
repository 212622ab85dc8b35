"""Room for each type of replacement tooth, from what a case records of its spaces."""

from recommender.domain.case import Case
from recommender.domain.dentition import in_arch_order, is_anterior, runs
from recommender.domain.findings import Span
from recommender.domain.measures import Interval, Measured
from recommender.domain.options import Option
from recommender.facts.values import Fact, between, not_recorded, one_of
from recommender.mechanics.bands import Band, exact
from recommender.mechanics.space import (
    Budget,
    depth_budget,
    facing_takes_contact,
    layers_in_depth,
    layers_of,
    vertical_budget,
)


def space_facts(option: Option, case: Case, tooth: int, span: Span | None) -> dict[str, Fact]:
    """``space.*`` of one type of replacement tooth at one missing tooth; ``span`` is its recorded space."""
    if not layers_of(option.id):
        return {}
    first = _first_of_space(case, tooth, span)
    facts: dict[str, Fact] = {}
    room, where = _clearance(span, tooth, f"spans[{first}].clearance_mm")
    vertical = None if room is None else vertical_budget(option.id, room)
    unsettled = _unsettled(room, where)
    facts["space.left_mm"] = _left(vertical, where, unsettled)
    depth, depth_where, others = _depth(option.id, case, tooth, span, first)
    if layers_in_depth(option.id):
        facts["space.depth_left_mm"] = _left(depth, depth_where, others)
    facts["space.fails_at"] = _fails(option.id, vertical, where, unsettled, depth, depth_where, others)
    return facts


def _first_of_space(case: Case, tooth: int, span: Span | None) -> int:
    if span is not None:
        return in_arch_order(case.arch, span.teeth)[0]
    return next((run[0] for run in runs(case.arch, case.missing) if tooth in run), tooth)


Others = tuple[tuple[str, bool], ...]


def _clearance(span: Span | None, tooth: int, where: str) -> tuple[Band | None, str]:
    raw = span.clearance_mm if span else None
    if isinstance(raw, dict):
        return _band(raw.get(tooth)), f"{where}[{tooth}]"
    return _band(raw), where


def _band(raw: Measured | None) -> Band | None:
    """A measured room with what it may be at least and at most."""
    if isinstance(raw, Interval):
        return Band(raw.low, raw.value, raw.high)
    return None if raw is None else exact(raw)


def _unsettled(room: Band | None, where: str) -> Others:
    """The path of a room that is known within bounds only, as one more thing to settle."""
    return () if room is None or room.exact else ((where, False),)


def _depth(
    replacement: str, case: Case, tooth: int, span: Span | None, first: int
) -> tuple[Budget | None, str, Others]:
    """Front-to-back budget, the path of the depth, and the other paths used with whether each is recorded."""
    where = f"spans[{first}].facial_depth_mm"
    room = _band(span.facial_depth_mm) if span else None
    occlusion = case.occlusion
    landed = ((occlusion.contacts if occlusion else None) or {}).get(tooth)
    overbite = occlusion.overbite if occlusion else None
    others = (
        (f"occlusion.contacts[{tooth}]", landed is not None),
        ("occlusion.overbite", overbite is not None),
        *_unsettled(room, where),
    )
    if room is None or not layers_in_depth(replacement):
        return None, where, others
    contacts = None if landed is None else frozenset(str(word) for word in landed)
    under = facing_takes_contact(case.arch, is_anterior(tooth), contacts)
    deep = None if overbite is None else overbite == "deep"
    return depth_budget(replacement, room, under, deep), where, others


def _left(budget: Budget | None, where: str, others: Others = ()) -> Fact:
    gaps = [path for path, recorded in others if not recorded]
    if budget is None:
        return not_recorded(where, *gaps, unit="mm")
    fields = [where, *(path for path, recorded in others if recorded)]
    return between(budget.left_mm.low, budget.left_mm.high, unit="mm", fields=fields, gaps=gaps)


def _fails(
    replacement: str,
    vertical: Budget | None,
    where: str,
    unsettled: Others,
    depth: Budget | None,
    depth_where: str,
    others: Others,
) -> Fact:
    """The layers that may fail first: from the ridge up, then from the lingual forward."""
    faced = bool(layers_in_depth(replacement))
    fields = ([where] if vertical else []) + ([depth_where] if depth else [])
    gaps = ([] if vertical else [where]) + ([] if depth or not faced else [depth_where])
    gaps += [path for path, _ in unsettled]
    if depth is not None:
        fields += [path for path, recorded in others if recorded]
        gaps += [path for path, recorded in others if not recorded]
    possible = _failing(vertical, [layer.name for layer in layers_of(replacement)])
    if faced and "none" in possible:
        names = [*(layer.name for layer in layers_in_depth(replacement)), "metal"]
        possible = [word for word in possible if word != "none"] + _failing(depth, names)
    words = list(dict.fromkeys(possible))
    return one_of(words, fields=fields, gaps=gaps if len(words) > 1 else ())


def _failing(budget: Budget | None, names: list[str]) -> list[str]:
    """Every layer between the first and the last that may fail, in the order of the build; ``none`` last."""
    order = [*names, "none"]
    if budget is None:
        return order
    places = [order.index(word) for word in budget.fails_at]
    return order[min(places) : max(places) + 1]
