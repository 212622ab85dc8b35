"""Survival of each option by Kaplan and Meier's method, through lifelines, never without its definition of
failure.

Kaplan EL, Meier P. Nonparametric estimation from incomplete observations. J Am Stat Assoc 1958;53:457-481.
The band is Greenwood's, on the log-log scale. Parts of one denture fail together more often than the method
assumes, so the band is narrower than it should be; the answer says so.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from recommender.curation.evaluation.shares import exact
from recommender.domain.case import Case, Event

CLUSTERED = (
    "Parts of one denture, and dentures of one mouth, do not fail independently; the band takes no account of "
    "it and is too narrow."
)
WHOLE = (
    "The denture is what fails here, so that dentures are counted and not their parts. Dentures of one mouth do not "
    "fail independently; the band takes no account of it."
)


@dataclass(frozen=True, slots=True)
class Definition:
    """What counts as failure: ``events`` end survival; those in ``whole`` do so wherever they are recorded."""

    id: str
    label: str
    text: str
    events: frozenset[str]
    whole: frozenset[str]


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of ``shared/curation/survival.yaml``."""

    default: str
    definitions: tuple[Definition, ...]
    least_units: int
    least_at_risk: int
    confidence: float
    months: tuple[float, ...]

    def definition(self, identifier: str | None = None) -> Definition:
        """The definition of that id, or the default one. Raises ``KeyError``."""
        wanted = identifier or self.default
        for known in self.definitions:
            if known.id == wanted:
                return known
        raise KeyError(wanted)


def figures() -> Figures:
    """The figures in use."""
    from recommender.knowledge.in_force import knowledge

    known = knowledge().figures.survival
    whole: frozenset[str] = frozenset(known.whole)
    definitions = tuple(
        Definition(entry.id, entry.label, entry.text, frozenset(entry.events), whole)
        for entry in known.definitions
    )
    few = known.too_few
    return Figures(known.default, definitions, few.units, few.at_risk, known.confidence, tuple(known.months))


@dataclass(frozen=True, slots=True)
class Unit:
    """One part of one denture: how many ``months`` it was followed, and whether it then ``failed``."""

    case_id: str
    decision: str
    option: str
    tooth: int
    months: float
    failed: bool


@dataclass(frozen=True, slots=True)
class Point:
    """Survival at a month with its band (0-1), and how many were still followed; ``None`` = too few to say."""

    month: float
    at_risk: int
    survival: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Curve:
    """Survival of one option. ``units`` are what can fail: dentures where the definition is about the whole
    denture, else
    parts; ``cases`` are dentures in either case, by which it is told whether there are too few. ``steps`` is the whole
    curve as (month, survival, low, high, at risk)."""

    decision: str
    option: str
    units: int
    failures: int
    cases: int
    points: tuple[Point, ...]
    steps: tuple[tuple[float, float, float, float, int], ...]
    median: float | None
    too_few: bool


@dataclass(frozen=True, slots=True)
class Survival:
    """Curves by option under one definition; ``left_out`` counts parts whose time was not recorded, by
    reason.
    """

    definition: Definition
    curves: tuple[Curve, ...]
    left_out: dict[str, int]
    confidence: float
    caution: str = CLUSTERED


def parts(case: Case) -> Iterator[tuple[str, str, int]]:
    """The parts of a design as (decision, option, tooth); tooth 0 for the connector."""
    design = case.design
    if design is None:
        return
    if design.connector is not None:
        yield "connector", design.connector, 0
    for part in design.retainers or ():
        if part.assembly != "none":
            yield "retainer", part.assembly, part.tooth
    for tooth, option in (design.replacements or {}).items():
        if option != "leave_open":
            yield "replacement", option, tooth


def units(cases: Iterable[Case], definition: Definition) -> tuple[list[Unit], dict[str, int]]:
    """Every followed part, and how many were left out and why. Not recorded is never taken for zero."""
    found: list[Unit] = []
    left_out: dict[str, int] = {}
    for case in cases:
        outcome = case.outcome
        for decision, option, tooth in parts(case):
            if outcome is None or (outcome.followed_months is None and not outcome.events):
                _count(left_out, "no follow-up recorded")
                continue
            ending = [event for event in outcome.events or () if _ends(event, tooth, definition)]
            if any(event.month is None for event in ending):
                _count(left_out, "failed, but the month was not recorded")
            elif ending:
                month = min(event.month for event in ending if event.month is not None)
                found.append(Unit(case.id, decision, option, tooth, month, True))
            elif outcome.followed_months is None:
                _count(left_out, "how long it was followed was not recorded")
            elif outcome.still_worn is False and "not_worn" in definition.events:
                # given up at a time nobody wrote down, at the latest when last seen
                _count(left_out, "no longer worn, but since when was not recorded")
            else:
                found.append(Unit(case.id, decision, option, tooth, outcome.followed_months, False))
    return found, left_out


def _count(left_out: dict[str, int], reason: str) -> None:
    left_out[reason] = left_out.get(reason, 0) + 1


def _ends(event: Event, tooth: int, definition: Definition) -> bool:
    if event.event not in definition.events:
        return False
    if event.event in definition.whole or event.tooth is None:
        return True
    return event.tooth == tooth


def survival(
    cases: Iterable[Case],
    definition: Definition | None = None,
    decision: str | None = None,
    known: Figures | None = None,
) -> Survival:
    """Curves for every option that was followed, most parts first.

    ``decision``: ``retainer``, ``connector`` or ``replacement`` only.
    """
    given = known or figures()
    meant = definition or given.definition()
    found, left_out = units(cases, meant)
    whole = meant.events <= meant.whole
    if whole:
        found = _dentures(found)
    by_option: dict[tuple[str, str], list[Unit]] = {}
    for unit in found:
        if decision is None or unit.decision == decision:
            by_option.setdefault((unit.decision, unit.option), []).append(unit)
    ordered = sorted(by_option.items(), key=lambda item: (item[0][0], -len(item[1]), item[0][1]))
    curves = tuple(curve(kind, option, followed, given) for (kind, option), followed in ordered)
    return Survival(meant, curves, left_out, given.confidence, WHOLE if whole else CLUSTERED)


def _dentures(found: Iterable[Unit]) -> list[Unit]:
    """One unit for each denture and option, whatever the number of such parts: they fail together."""
    kept: dict[tuple[str, str, str], Unit] = {}
    for unit in found:
        kept.setdefault((unit.case_id, unit.decision, unit.option), unit)
    return list(kept.values())


def curve(decision: str, option: str, followed: Sequence[Unit], known: Figures) -> Curve:
    """The curve of one option; ``too_few`` where it says nothing (its points are then ``None``)."""
    failures = sum(unit.failed for unit in followed)
    number = len({unit.case_id for unit in followed})
    at_risk = {month: _dentures_at(followed, month) for month in known.months}
    if number < known.least_units:
        points = tuple(Point(month, at_risk[month], None, None, None) for month in known.months)
        return Curve(decision, option, len(followed), failures, number, points, (), None, True)
    fitted = _fitted(followed, known.confidence)
    points = tuple(
        Point(
            month,
            at_risk[month],
            *(_at(fitted, month) if at_risk[month] >= known.least_at_risk else (None,) * 3),
        )
        for month in known.months
    )
    median = min((month for month, share, *_ in fitted if share <= 0.5), default=None)
    silent = all(point.survival is None for point in points)
    return Curve(decision, option, len(followed), failures, number, points, tuple(fitted), median, silent)


Step = tuple[float, float, float, float, int]


def _fitted(followed: Sequence[Unit], confidence: float) -> list[Step]:
    from lifelines import KaplanMeierFitter

    fitter = KaplanMeierFitter(alpha=1 - confidence)
    fitter.fit([unit.months for unit in followed], [unit.failed for unit in followed])
    share = fitter.survival_function_.iloc[:, 0]
    band = fitter.confidence_interval_survival_function_
    at_risk = fitter.event_table["at_risk"]
    return [
        (float(month), float(share.loc[month]),
         *_band(float(share.loc[month]), tuple(band.loc[month]), followed, float(month), confidence),
         int(at_risk.loc[month]))
        for month in share.index
    ]  # fmt: skip


def _band(
    share: float, greenwood: Sequence[float], followed: Sequence[Unit], month: float, confidence: float
) -> tuple[float, float]:
    """Greenwood's band; where all or none are left it has no width, and the exact interval of as many dentures stands
    instead (Clopper CJ, Pearson ES. Biometrika 1934;26:404-413)."""
    if share >= 1.0:
        left = _dentures_at(followed, month)
        return exact(left, left, confidence)
    if share <= 0.0:
        return exact(0, len({unit.case_id for unit in followed if unit.failed}), confidence)
    return float(greenwood[0]), float(greenwood[1])


def _dentures_at(followed: Sequence[Unit], month: float) -> int:
    """How many dentures were still followed then."""
    return len({unit.case_id for unit in followed if unit.months >= month})


def _at(steps: Sequence[Step], month: float) -> tuple[float, float, float]:
    last = max((step for step in steps if step[0] <= month), key=lambda step: step[0])
    return last[1], last[2], last[3]
