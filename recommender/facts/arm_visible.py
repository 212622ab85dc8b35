"""How much of an arm the lips leave in view, from what a case records of the lips and the tooth."""

from typing import NamedTuple

from recommender.domain.case import Case
from recommender.domain.dentition import arch_of, mirror, opposite, position, side_of
from recommender.domain.findings import Abutment
from recommender.domain.measures import Interval, Measured
from recommender.domain.options import Option
from recommender.facts.case_fields import contour_at
from recommender.facts.values import Fact, between, known, not_recorded, one_of
from recommender.mechanics.bands import Band
from recommender.mechanics.display import LOWER_DISPLAYS, SMILE_LINES, shown_in_smile
from recommender.mechanics.figures import figure_band, figures, remembered
from recommender.mechanics.teeth import tooth_size
from recommender.mechanics.visibility import FacialRun, runs_of_arm, visible_share

DENTITION = "missing"
_HIDDEN = known(0.0, DENTITION, unit="ratio")


def left_twin(tooth: int) -> int:
    """The tooth itself on the left, its mirror image on the right, so that both sides share one model."""
    return tooth if side_of(tooth) == "left" else mirror(tooth)


def arm_path(option: Option) -> str:
    """Where an arm longer than its surface goes: on to the next tooth, back on itself, or round."""
    if "tip_on_neighbour" in option.parts:
        return "along"
    if option.arm is not None and option.tip is not None and option.arm.reach > 1:
        home = f"{option.arm.origin}_{option.arm.surface}"
        if option.tip.zones[0] == home:
            return "back"
    return "round"


def visible_fact(option: Option, tooth: int, case: Case, side: str) -> Fact:
    """``arm.visible_share``: how much of a full facial run of metal a smile shows."""
    if option.arm is None:
        return not_recorded(unit="ratio")
    origin_side, stretches = _stretches(option, side)
    if not stretches:
        return _HIDDEN
    abutment = _abutment(case, tooth)
    line = contour_at(tooth, abutment, f"{origin_side[:-2]}ofacial")
    return _visible(option, tooth, side, lips(case), line, abutment.crown_height_mm if abutment else None)


@remembered(1 << 15)
def _visible(
    option: Option, tooth: int, side: str, recorded: "Lips", line: Fact, crown: Measured | None
) -> Fact:
    stretches = _stretches(option, side)[1]
    smile = _Smile(recorded, tooth)
    height = f"abutments[{tooth}].crown_height_mm"
    level = None if line.value is None else str(line.value)
    ends = (
        None
        if crown is None
        else (crown.low, crown.value, crown.high)
        if isinstance(crown, Interval)
        else (crown,)
    )
    share = _share(left_twin(tooth), stretches, smile.line, smile.lower, smile.last, level, ends)
    fields, gaps = list(smile.fields), list(smile.gaps)
    (gaps if line.value is None else fields).extend(line.gaps if line.value is None else line.fields)
    (gaps if crown is None else fields).append(height)
    if isinstance(crown, Interval) and crown.low < crown.high:
        gaps.append(height)
    if share.exact:
        gaps = []
    return between(share.low, share.high, unit="ratio", fields=fields or [DENTITION], gaps=gaps)


@remembered()
def _stretches(option: Option, side: str) -> tuple[str, tuple[FacialRun, ...]]:
    """The side on which the arm of an option begins, and how it runs over the facial surface."""
    arm = option.arm
    assert arm is not None
    origin_side = opposite(side) if arm.origin == "far" else side
    short = arm.surface == "lingual" and "reciprocal_facial" in option.parts
    runs = runs_of_arm(origin_side, arm.origin, arm.surface, arm.reach, arm.level, arm_path(option), short)
    return origin_side, runs


def origin_of_arm(option: Option, side: str) -> str:
    """The side, ``mesial`` or ``distal``, on which the arm of an option that has one begins."""
    return _stretches(option, side)[0]


def share_in_view(
    option: Option,
    tooth: int,
    side: str,
    smile_line: str | None,
    lower_display: str | None,
    last: int | None,
    survey_line: str | None,
    crown_mm: float | None,
) -> Band:
    """What ``visible_fact`` is for these records: ``last`` is a position (1-8), ``survey_line`` that at the arm's
    origin."""
    _, stretches = _stretches(option, side)
    ends = None if crown_mm is None else (crown_mm,)
    return _share(left_twin(tooth), stretches, smile_line, lower_display, last, survey_line, ends)


def shows_words(tooth: int, line: str | None, lower: str | None, last: int | None) -> frozenset[str]:
    """The words that ``derived.shows`` may be for these records of the lips."""
    return _words(left_twin(tooth), line, lower, last)


@remembered(1 << 15)
def _share(
    tooth: int,
    stretches: tuple[FacialRun, ...],
    smile_line: str | None,
    lower_display: str | None,
    last: int | None,
    survey_line: str | None,
    crown_mm: tuple[float, ...] | None,
) -> Band:
    """Visible share over what is not recorded; ages move only typical values, and facts carry bounds."""
    size = tooth_size(tooth)
    shown = shown_in_smile(
        arch_of(tooth), position(tooth), size.crown_length_mm, smile_line, lower_display, last
    )
    likely = figure_band(figures("shows")["crown_share"]) * size.crown_length_mm
    heights = (
        (likely.typical, likely.low, likely.high)
        if crown_mm is None
        else tuple(min(max(crown, likely.low), likely.high) for crown in crown_mm)
    )
    bands = [visible_share(tooth, stretches, shown, survey_line, height) for height in heights]
    return bands[0].hull(*bands[1:])


class Lips(NamedTuple):
    """What a case records about the lips that bears on its arch; ``last`` is the last tooth seen in a smile."""

    line: str | None
    lower: str | None
    last: int | None


def lips(case: Case) -> Lips:
    """What this case records about them."""
    patient = case.patient
    if patient is None:
        return Lips(None, None, None)
    upper = case.arch == "maxilla"
    return Lips(
        patient.smile_line if upper else None,
        None if upper else patient.lower_display,
        patient.last_tooth_in_smile,
    )


class _Smile:
    """What is recorded about the lips, for one tooth."""

    def __init__(self, recorded: Lips, tooth: int) -> None:
        self.line, self.lower, last = recorded
        self.last = position(last) if last is not None else None
        upper = arch_of(tooth) == "maxilla"
        lip, shown = ("patient.smile_line", self.line) if upper else ("patient.lower_display", self.lower)
        records: list[tuple[str, object]] = [(lip, shown)]
        if float(figures("smile")["reach"][position(tooth)][0]) < 1 or self.last is not None:
            records.append(("patient.last_tooth_in_smile", last))
        self.fields = tuple(path for path, value in records if value is not None)
        self.gaps = tuple(path for path, value in records if value is None)


def _abutment(case: Case, tooth: int) -> Abutment | None:
    return next((entry for entry in case.abutments or () if entry.tooth == tooth), None)


def shows_fact(case: Case, tooth: int) -> Fact:
    """``derived.shows``: ``hidden``, ``partly`` or ``clear`` for an ordinary facial arm in a smile.

    The word follows from the expected share that shows, (low + 4 typical + high) / 6. Where the lips were not
    recorded every word stays possible that some record would give.
    """
    smile = _Smile(lips(case), tooth)
    words = _words(left_twin(tooth), smile.line, smile.lower, smile.last)
    order = [word for word in ("hidden", "partly", "clear") if word in words]
    return one_of(order, fields=smile.fields or (DENTITION,), gaps=smile.gaps if len(order) > 1 else ())


@remembered()
def _words(tooth: int, line: str | None, lower: str | None, last: int | None) -> frozenset[str]:
    upper = arch_of(tooth) == "maxilla"
    lines = [line] if line is not None or not upper else list(SMILE_LINES)
    lowers = [lower] if lower is not None or upper else list(LOWER_DISPLAYS)
    always = float(figures("smile")["reach"][position(tooth)][0]) >= 1
    lasts = [last] if last is not None else [8] if always else [8, position(tooth) - 1]
    return frozenset(_word(tooth, a, b, c) for a in lines for b in lowers for c in lasts)


def _word(tooth: int, line: str | None, lower: str | None, last: int | None) -> str:
    block = figures("shows")
    reach, level = float(block["arm"]["reach"]), tuple(float(v) for v in block["arm"]["level"])
    expected = []
    for origin in ("mesial", "distal"):
        stretches = runs_of_arm(origin, "near", "facial", reach, (level[0], level[1]))
        share = _share(tooth, stretches, line, lower, last, None, None)
        expected.append((share.low + 4 * share.typical + share.high) / 6)
    value = sum(expected) / len(expected)
    if value < float(block["hidden_under"]):
        return "hidden"
    return "clear" if value >= float(block["clear_from"]) else "partly"
