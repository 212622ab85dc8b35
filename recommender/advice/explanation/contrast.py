"""Why this and not that: the lines in which two options differ, adding up to the difference of their scores."""

from collections.abc import Callable
from dataclasses import dataclass
from math import fsum

from recommender.advice.model import Contribution, Decision, DecisionResult, Framework, OptionResult
from recommender.domain.statement import Statement, say
from recommender.knowledge.model import HOUSE

_KINDS = ("start", "rule", "cap", "house", "precedent", "neutral")


@dataclass(frozen=True, slots=True)
class Difference:
    """One line of a contrast: what it gives the first option, what it gives the second, and the difference."""

    kind: str
    id: str
    criterion: str | None
    statement: Statement
    source: str | None
    first: float
    second: float

    @property
    def points(self) -> float:
        """Positive where the line speaks for the first option."""
        return self.first - self.second


@dataclass(frozen=True, slots=True)
class Contrast:
    """Two options of one decision; ``lines`` are sorted by size and add up to ``first.score - second.score``."""

    first: OptionResult
    second: OptionResult
    lines: tuple[Difference, ...]

    @property
    def points(self) -> float:
        """The difference of the two scores."""
        return fsum(line.points for line in self.lines)

    @property
    def for_first(self) -> tuple[Difference, ...]:
        """Lines that speak for the first option, largest first."""
        return tuple(line for line in self.lines if line.points > 0)

    @property
    def settled_by_status(self) -> bool:
        """Whether a block and not the score puts one before the other."""
        return self.first.status != self.second.status


def contrast(first: OptionResult, second: OptionResult) -> Contrast:
    """The difference of two options, line by line.

    A rule that moves both alike leaves no line; catalogue starts are compared criterion by criterion.
    """
    here, there = _keyed(first), _keyed(second)
    lines = []
    for key in dict.fromkeys((*here, *there)):
        one, other = here.get(key, []), there.get(key, [])
        points = fsum(line.points for line in one), fsum(line.points for line in other)
        if points[0] == points[1]:
            continue
        shown = (one or other)[0]
        lines.append(
            Difference(key[0], key[1], shown.criterion, _said(key[0], one, other), shown.source, *points)
        )
    lines.sort(key=lambda line: (-abs(line.points), _KINDS.index(line.kind), line.id))
    return Contrast(first, second, tuple(lines))


def _keyed(option: OptionResult) -> dict[tuple[str, str], list[Contribution]]:
    found: dict[tuple[str, str], list[Contribution]] = {}
    for line in option.contributions:
        identifier = f"start-{line.criterion}" if line.kind == "start" else line.id
        found.setdefault((line.kind, identifier), []).append(line)
    return found


def _said(kind: str, one: list[Contribution], other: list[Contribution]) -> Statement:
    if kind == "start" and one and other:
        return say("score.starts", first=one[0].statement, second=other[0].statement)
    return (one or other)[0].statement


def grouped_by_criterion(found: Contrast, label: Callable[[str], str]) -> list[tuple[str, float]]:
    """The difference by criterion, largest first; precedents and the neutral share under their own names."""
    sums: dict[str, list[float]] = {}
    for line in found.lines:
        own = "the house" if line.source == HOUSE else "precedents"
        name = label(line.criterion) if line.criterion and line.source != HOUSE else own
        sums.setdefault(name, []).append(line.points)
    return sorted(((name, fsum(points)) for name, points in sums.items()), key=lambda item: -abs(item[1]))


@dataclass(frozen=True, slots=True)
class FrameworkDifference:
    """One place in which two frameworks differ, on the scale of the framework's score.

    ``first`` and ``second`` are what that place gives each framework; ``took`` and ``instead`` the parts there
    (``None`` for a place that one of them leaves empty). ``parts`` contrasts the two parts on the scale of their
    own decision.
    """

    place: str
    took: str | None
    instead: str | None
    first: float
    second: float
    parts: Contrast | None = None

    @property
    def points(self) -> float:
        """Positive where the place speaks for the first framework."""
        return self.first - self.second


@dataclass(frozen=True, slots=True)
class FrameworkContrast:
    """Two whole frameworks; ``lines``, largest first, add up to ``first.score - second.score``."""

    first: Framework
    second: Framework
    lines: tuple[FrameworkDifference, ...]

    @property
    def points(self) -> float:
        """The difference of the two scores."""
        return fsum(line.points for line in self.lines)


def contrast_frameworks(
    first: Framework, second: Framework, ranked: Callable[[Decision], DecisionResult] | None = None
) -> FrameworkContrast:
    """The difference of two frameworks, place by place.

    ``ranked`` answers a decision of the case (``CaseAnalysis.decide``); with it every place in which the parts differ
    carries the contrast of the two parts.
    """
    lines = []
    for place in dict.fromkeys((*first.terms, *second.terms)):
        here, there = first.terms.get(place, 0.0), second.terms.get(place, 0.0)
        decision = decision_of(place)
        took = _part_at(first, decision)
        instead = _part_at(second, decision)
        if here == there and took == instead:
            continue
        parts = None
        if ranked is not None and decision is not None and took and instead and took != instead:
            result = ranked(decision)
            parts = contrast(result.option(took), result.option(instead))
        lines.append(FrameworkDifference(place, took, instead, here, there, parts))
    lines.sort(key=lambda line: (-abs(line.points), line.place))
    return FrameworkContrast(first, second, tuple(lines))


def decision_of(place: str) -> Decision | None:
    """The decision of a term of a framework's score: ``retainer 14``, ``further tooth 36``, ``connector``."""
    kind, _, tooth = place.rpartition(" ")
    if not tooth.isdigit():
        return Decision("connector") if place == "connector" else None
    kind = "retainer" if kind == "further tooth" else kind
    return Decision(kind, int(tooth)) if kind in ("retainer", "replacement", "rest") else None


def _part_at(framework: Framework, decision: Decision | None) -> str | None:
    if decision is None:
        return None
    if decision.kind == "connector":
        return framework.connector
    held = {"retainer": framework.retainers, "replacement": framework.replacements, "rest": framework.rests}
    return held[decision.kind].get(decision.tooth)
