"""What a path gives and costs, and how a figure stands to the gauges, as statements."""

from collections.abc import Sequence

import numpy as np

from recommender.domain.statement import Quantity, Statement, Word, quantity, say, several, teeth, tooth
from recommender.survey.paths import AbutmentTerms, PathScore
from recommender.survey.result import Figure, Survey
from recommender.survey.settings import settings


def path_statement(path: PathScore) -> Statement:
    """A direction as a bench sets it: front down, right down, or level."""
    parts = []
    if path.tilt_ap_deg:
        parts.append(
            say("survey.front_down" if path.tilt_ap_deg > 0 else "survey.front_up", by=_by(path.tilt_ap_deg))
        )
    if path.tilt_lateral_deg:
        down = path.tilt_lateral_deg > 0
        parts.append(say("survey.right_down" if down else "survey.left_down", by=_by(path.tilt_lateral_deg)))
    return say("survey.tilt", parts=several(parts, "comma")) if parts else say("survey.level")


def _by(degrees: float) -> Quantity:
    return quantity(abs(degrees), "deg", 0 if float(degrees).is_integer() else 1)


def path_statements(path: PathScore, level: PathScore | None) -> list[Statement]:
    """One an abutment: what the path gives and what it costs, against the cast level where that is known."""
    before = {term.tooth: term for term in level.terms} if level is not None else {}
    return [_abutment(term, before.get(term.tooth)) for term in path.terms]


def path_standing(survey: Survey) -> Statement | None:
    """What is still open about the path taken: that the margins it hangs on are not confirmed, or that another one is
    better now that they are."""
    figures = settings()["path"]
    unsure = [term.tooth for term in survey.path.terms if survey.teeth[term.tooth].margin != "confirmed"]
    if unsure:
        moves = quantity(figures["first_moves_deg"], "deg", 0)
        return say("survey.path_first", teeth=teeth(unsure), moves=moves)
    if survey.search is None or survey.search.best.score - survey.path.score <= figures["plateau"]:
        return None
    return say("survey.path_better", path=path_statement(survey.search.best))


def _abutment(term: AbutmentTerms, before: AbutmentTerms | None) -> Statement:
    said = [_facial(term.facial_mm)]
    for side, depth in term.guiding_mm.items():
        if depth < settings()["path"]["guiding_plane_mm"] / 2:
            said.append(say("survey.side_parallel", side=Word("surface", side)))
        else:
            said.append(say("survey.side_blocked_out", depth=_mm(depth), side=Word("surface", side)))
    least = settings()["gauges_mm"][0]
    if np.isfinite(term.lingual_mm) and term.lingual_mm >= least:
        said.append(say("survey.lingual_in_the_way", depth=_mm(term.lingual_mm)))
    if before is not None and np.isfinite(before.facial_mm) and np.isfinite(term.facial_mm):
        change = term.facial_mm - before.facial_mm
        if abs(change) >= settings()["path"]["worth_saying_mm"]:
            said.append(
                say(
                    "survey.more_than_level" if change > 0 else "survey.less_than_level",
                    depth=_mm(abs(change)),
                )
            )
        if before.facial_mm < least <= term.facial_mm:
            said.append(say("survey.only_by_tilting"))
    return say("survey.abutment", tooth=tooth(term.tooth), parts=several(said))


def _facial(depth: float) -> Statement:
    gauges: Sequence[float] = settings()["gauges_mm"]
    if not np.isfinite(depth):
        return say("survey.facial_unread")
    if depth < gauges[0]:
        return say("survey.facial_little", depth=_mm(depth))
    return say("survey.facial" if depth <= gauges[1] else "survey.facial_deep", depth=_mm(depth))


def _mm(depth: float) -> Quantity:
    return quantity(depth, "mm", 2)


def figure_statement(figure: Figure) -> Statement:
    """A figure with its band, or why there is none."""
    if figure.value is None:
        return say("survey.not_measured", why=figure.why)
    return say(
        "survey.figure", value=quantity(figure.value, digits=2), band=Quantity(figure.low, figure.high, "", 2),
        check=figure.check,
    )  # fmt: skip


def gauge_statement(figure: Figure) -> Statement | None:
    """How the band stands to the gauges: which surely touches, and which has to be tried by hand.

    ``None`` where there is no figure.
    """
    if figure.low is None or figure.high is None:
        return None
    gauges: Sequence[float] = settings()["gauges_mm"]
    sure = [gauge for gauge in gauges if figure.low >= gauge]
    to_try = [gauge for gauge in gauges if figure.low < gauge <= figure.high]
    if to_try:
        tried = say(
            "survey.try_by_hand", gauges=several((quantity(gauge, digits=2) for gauge in to_try), "and")
        )
        return say("survey.gauges", parts=several([*_touching(sure), tried]))
    return (
        _touching(sure)[0] if sure else say("survey.less_than_a_gauge", gauge=quantity(gauges[0], digits=2))
    )


def _touching(sure: Sequence[float]) -> list[Statement]:
    return [say("survey.gauge_touches", gauge=quantity(sure[-1], digits=2))] if sure else []
