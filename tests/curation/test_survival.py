"""Survival against published figures, and what is said where there is too little to say anything."""

import math

import pytest

from recommender.curation import outcomes, survival
from recommender.domain.case import Case, Event, Outcome
from recommender.domain.designs import Design, DesignRetainer
from recommender.precedents.store.databases import create_database
from tests.store.invented import invented_cases

# Freireich EJ et al. The effect of 6-mercaptopurine on the duration of steroid-induced remissions in acute leukemia.
# Blood 1963;21:699-716: weeks in remission of the 21 treated patients (+ still in remission). The product-limit
# estimates are those printed in Collett D, Modelling Survival Data in Medical Research, and Klein JP, Moeschberger
# ML, Survival Analysis, Table 4.1A (both from memory, to three decimals).
WEEKS = [6, 6, 6, 7, 10, 13, 16, 22, 23]
STILL = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
PUBLISHED = {6: (0.857, 0.076), 7: (0.807, 0.087), 10: (0.753, 0.096), 13: (0.690, 0.107),
             16: (0.627, 0.114), 22: (0.538, 0.128), 23: (0.448, 0.135)}  # fmt: skip
AT_RISK = {6: 21, 7: 17, 10: 15, 13: 12, 16: 11, 22: 7, 23: 6}


def denture(number: int, month: float | None, event: str | None = None, **outcome: object) -> Case:
    """One invented lower case with an I-bar on 44 and 34."""
    events = [] if event is None else [Event(month=month, event=event)]
    return Case(
        format=1, id=f"d-{number}", arch="mandible", missing=[35, 36, 45, 46],
        design=Design(
            connector="lingual_bar",
            retainers=[DesignRetainer(tooth=44, assembly="i_bar"), DesignRetainer(tooth=34, assembly="rpa")],
        ),
        outcome=Outcome(**({"followed_months": month, "events": events} | outcome)),
    )  # fmt: skip


def freireich() -> list[Case]:
    failed = [denture(number, week, "remade") for number, week in enumerate(WEEKS)]
    return failed + [denture(100 + number, week) for number, week in enumerate(STILL)]


def test_the_published_example() -> None:
    answer = survival.survival(freireich(), decision="connector")
    (curve,) = answer.curves
    assert (curve.option, curve.units, curve.failures) == ("lingual_bar", 21, 9)
    steps = {month: (share, low, high, at_risk) for month, share, low, high, at_risk in curve.steps}
    for week, (share, error) in PUBLISHED.items():
        assert steps[week][0] == pytest.approx(share, abs=0.0006)
        assert steps[week][3] == AT_RISK[week]
        # Greenwood's standard error, carried to the log-log scale (Kalbfleisch and Prentice 1980)
        theta = 1.959964 * error / (share * math.log(share))
        low, high = sorted((share ** math.exp(theta), share ** math.exp(-theta)))
        assert steps[week][1] == pytest.approx(low, abs=0.004)
        assert steps[week][2] == pytest.approx(high, abs=0.004)
    assert curve.median == 23


def test_the_same_example_as_the_library_ships_it() -> None:
    from lifelines.datasets import load_leukemia

    frame = load_leukemia()
    treated = frame[frame["Rx"] == 0]
    assert sorted(treated[treated["status"] == 1]["t"]) == WEEKS
    assert sorted(treated[treated["status"] == 0]["t"]) == STILL


def test_the_definition_decides_and_is_told() -> None:
    cases = [denture(n, 24, "clasp_fracture" if n % 2 else None) for n in range(20)]
    known = survival.figures()
    strict = survival.survival(cases, known.definition("replaced_or_not_worn"), "retainer")
    wide = survival.survival(cases, known.definition("part_failed"), "retainer")
    assert [curve.failures for curve in strict.curves] == [0, 0]
    assert [curve.failures for curve in wide.curves] == [10, 10]
    assert strict.definition.text != wide.definition.text
    assert strict.definition.text
    with pytest.raises(KeyError):
        known.definition("no such thing")


def test_an_event_at_another_tooth_is_not_this_parts_failure() -> None:
    case = denture(1, 30).model_copy(
        update={
            "outcome": Outcome(followed_months=30, events=[Event(month=10, event="clasp_fracture", tooth=44)])
        }
    )
    found, _ = survival.units([case], survival.figures().definition("part_failed"))
    assert {(unit.option, unit.months, unit.failed) for unit in found} == {
        ("i_bar", 10, True), ("rpa", 30, False), ("lingual_bar", 30, False),
    }  # fmt: skip


def test_what_was_not_recorded_is_left_out_and_counted() -> None:
    cases = [
        denture(1, None, None, followed_months=None, events=None),
        denture(2, None, "remade", followed_months=40),
        denture(3, 20, None, still_worn=False),
        denture(4, None, None, followed_months=None, events=[Event(event="sore_spot", month=1)]),
        denture(5, 12),
    ]
    found, left_out = survival.units(cases, survival.figures().definition())
    assert {unit.case_id for unit in found} == {"d-5"}
    assert left_out == {
        "no follow-up recorded": 3,
        "failed, but the month was not recorded": 3,
        "no longer worn, but since when was not recorded": 3,
        "how long it was followed was not recorded": 3,
    }


def test_too_few_to_say() -> None:
    (few,) = survival.survival([denture(n, 30) for n in range(9)], decision="connector").curves
    assert few.too_few
    assert all(point.survival is None for point in few.points)
    assert [point.at_risk for point in few.points] == [9, 9, 0, 0, 0]
    (some,) = survival.survival([denture(n, 12.0 * (n + 1)) for n in range(10)], decision="connector").curves
    assert not some.too_few
    at = {point.month: point for point in some.points}
    assert at[60].at_risk == 6
    assert at[60].survival == 1.0
    assert at[120].at_risk == 1
    assert at[120].survival is None


def test_order_does_not_matter() -> None:
    cases = list(invented_cases(200))
    assert survival.survival(cases) == survival.survival(cases[::-1])


def test_follow_up_is_added_and_never_goes_back(tmp_path) -> None:
    case = denture(1, None, None, followed_months=None, events=None)
    with create_database(str(tmp_path / "l.db")) as library:
        library.add(case, who="KM")
        first = outcomes.FollowUp(months=6, accepted=True, events=[Event(month=2, event="sore_spot")])
        outcomes.add_follow_up(library, "d-1", first, who="KM")
        again = outcomes.FollowUp(months=24, satisfaction=4, events=[Event(month=2, event="sore_spot"),
                                                                    Event(month=20, event="relined")])  # fmt: skip
        saved = outcomes.add_follow_up(library, "d-1", again, who="KM")
        assert saved.case.outcome == Outcome(
            accepted=True, followed_months=24, satisfaction=4,
            events=[Event(month=2, event="sore_spot"), Event(month=20, event="relined")],
        )  # fmt: skip
        assert saved.kind == "outcome"
        for wrong in (
            outcomes.FollowUp(),
            outcomes.FollowUp(months=12),
            outcomes.FollowUp(months=30, events=[Event(month=31, event="remade")]),
        ):
            with pytest.raises(outcomes.UnfitFollowUp):
                outcomes.add_follow_up(library, "d-1", wrong, who="KM")
        assert len(library.history("d-1")) == 3


def test_dentures_are_counted_where_dentures_fail() -> None:
    """Two dentures with five resin teeth each are two, not ten: too few to say anything."""
    five = dict.fromkeys((35, 36, 37, 45, 46), "resin_tooth_lattice")
    cases = [
        denture(n, 30).model_copy(update={"design": Design(connector="lingual_bar", replacements=five)}) for n in (1, 2)
    ]
    (curve,) = survival.survival(cases, decision="replacement").curves
    assert (curve.units, curve.cases, curve.too_few) == (2, 2, True)
    parts = survival.survival(cases, survival.figures().definition("part_failed"), "replacement").curves[0]
    assert (parts.units, parts.cases, parts.too_few) == (10, 2, True)


def test_all_and_none_have_the_exact_interval() -> None:
    """Twelve dentures without a failure: 100 %, from 73.5 % (Clopper and Pearson for 12 of 12); all failed: 0 to
    26.5 %."""
    (sound,) = survival.survival([denture(n, 40) for n in range(12)], decision="connector").curves
    at = {point.month: point for point in sound.points}
    assert (at[36].survival, at[36].high) == (1.0, 1.0)
    assert at[36].low == pytest.approx(0.7354, abs=1e-4)
    (failed,) = survival.survival([denture(n, 10, "remade") for n in range(12)], decision="connector").curves
    assert failed.steps[-1][1] == 0.0
    assert failed.steps[-1][3] == pytest.approx(0.2646, abs=1e-4)
