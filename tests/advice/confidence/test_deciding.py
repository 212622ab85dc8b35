"""Decisions in every world, held against the ordinary advice on completed cases; means over what a fact could be."""

import os
import random
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchmarks.mirrored import mirror_case
from recommender.advice.analysis import CaseAnalysis, NoAdviceError
from recommender.advice.confidence.answers import Confidence
from recommender.advice.confidence.completed import completed
from recommender.advice.confidence.deciding import WorldCase
from recommender.advice.confidence.worlds import Worlds
from recommender.advice.model import STATUS_ORDER, Decision
from recommender.advice.recommend import Recommender, recommendation
from recommender.domain.case import Case
from recommender.domain.dentition import mirror
from recommender.domain.fields import recorded_fields, with_field, without_field
from recommender.precedents.source import demo_source
from tests.advice.strategies import cases

MODEST = settings(
    max_examples=40 if os.environ.get("RPD_LONG") else 3, deadline=None, suppress_health_check=list(HealthCheck)
)


def thinned(case: Case, seed: int, count: int = 15) -> Case:
    """The case without some of its recorded fields."""
    chance = random.Random(seed)
    paths = recorded_fields(case)
    for path in chance.sample(paths, min(len(paths), count)):
        case = without_field(case, path)
    return case


def held_to_completed(recommender: Recommender, case: Case, worlds: Worlds, chosen: list[int]) -> int:
    """Compares every decision in some worlds with the case completed as it is there; how many were compared."""
    analysis = CaseAnalysis(recommender.engine, case, None, None)
    worlds = Worlds(analysis.facts, worlds.count)
    world_case = WorldCase(analysis, worlds)
    ranked = {decision: world_case.ranked(decision) for decision in analysis.decisions()}
    assert not world_case.columns.undefined
    compared = 0
    for world in chosen:
        try:
            whole = recommender.work(completed(worlds, world))
        except NoAdviceError:
            continue
        if whole.facts.considered != analysis.facts.considered or whole.facts.spaces != analysis.facts.spaces:
            continue  # an abutment list changes which third molars count
        for decision, found in ranked.items():
            if decision.kind == "rest" and whole.examine(decision).given is None:
                continue
            there = whole.examine(decision)
            assert found.options[found.leaders[world]] == there.order()[0], (decision, world)
            best = found.status[:, world].min()
            scores = there.scores()
            rivals = [i for i in range(len(found.options)) if found.status[i, world] == best]
            assert STATUS_ORDER[best] == there.chosen[there.order()[0]].status
            for place in rivals:
                if len(rivals) > 1:
                    assert abs(found.scores[place, world] - scores[found.options[place]]) < 1e-9
            compared += 1
    return compared


@pytest.mark.parametrize("library", ["rules_alone", "with_demo"])
def test_a_world_is_the_advice_on_the_completed_case(library: str, request: pytest.FixtureRequest) -> None:
    recommender: Recommender = request.getfixturevalue(library)
    compared = 0
    for number, case in enumerate(demo_source().cases()):
        if number % 29 == 3:
            thin = thinned(case, number)
            compared += held_to_completed(
                recommender, thin, Worlds(recommender.work(thin).facts, 64), [5, 41]
            )
    assert compared > 60


@MODEST
@given(case=cases(), seed=st.integers(0, 63))
def test_a_world_of_any_case_is_the_advice_on_it_completed(
    rules_alone: Recommender, case: Case, seed: int
) -> None:
    held_to_completed(rules_alone, case, Worlds(rules_alone.work(case).facts, 64), [seed])


def first_of(recommender: Recommender, case: Case, decision: Decision, count: int) -> dict[str, float]:
    analysis = recommender.work(case)
    return WorldCase(analysis, Worlds(analysis.facts, count)).ranked(decision).first()


def nearly_complete(case: Case, recommender: Recommender, keep: set[str]) -> Case:
    """The case with every field that is drawn recorded, save those in ``keep``."""
    analysis = recommender.work(case)
    worlds = Worlds(analysis.facts, 2)
    world_case = WorldCase(analysis, worlds)
    for decision in analysis.decisions():
        world_case.ranked(decision)
    whole = completed(worlds, 0)
    for path in keep:
        whole = without_field(whole, path)
    return whole


@pytest.mark.parametrize(
    "paths",
    [
        ("abutments[14].undercuts_mm.mesiofacial", "patient.aesthetic_priority"),
        ("abutments[14].bone_support", "abutments[14].mobility"),
        ("patient.hygiene", "patient.caries_risk", "occlusion.load"),
    ],
)
def test_acceptability_is_the_mean_over_what_a_missing_fact_could_be(
    rules_alone: Recommender, paths: tuple[str, ...]
) -> None:
    """By exact enumeration: all but two or three fields recorded, the joint shares of these taken from the tree."""
    case = next(
        c
        for c in demo_source().cases()
        if c.arch == "maxilla" and any(a.tooth == 14 for a in c.abutments or ())
    )
    case = nearly_complete(case, rules_alone, set(paths))
    decision = Decision("retainer", 14)
    exact: dict[str, float] = {}

    def over(case: Case, left: tuple[str, ...], share: float) -> None:
        if not left:
            lead = rules_alone.work(case).examine(decision).order()[0]
            exact[lead] = exact.get(lead, 0.0) + share
            return
        analysis = rules_alone.work(case)
        for value, part in Worlds(analysis.facts, 2).share(left[0]).items():
            over(
                with_field(case, left[0], list(value) if isinstance(value, tuple) else value),
                left[1:],
                share * part,
            )

    over(case, paths, 1.0)
    found = first_of(rules_alone, case, decision, 2000)
    for option, share in exact.items():
        error = max(0.0, share * (1 - share) / 2000) ** 0.5
        assert abs(found[option] - share) <= 3 * error + 1e-9, (option, found[option], share)


def test_recording_a_fact_averages_back_and_choosing_again_never_lowers_the_mean(
    with_demo: Recommender,
) -> None:
    """On ordinary cases, within three standard errors of the worlds."""
    count = 600
    for number, path in ((7, "patient.aesthetic_priority"), (55, "occlusion.load")):
        case = without_field(thinned(list(demo_source().cases())[number], number), path)
        analysis = with_demo.work(case)
        worlds = Worlds(analysis.facts, count)
        now = {d: WorldCase(analysis, worlds).ranked(d).first() for d in analysis.decisions()}
        mean: dict[Decision, dict[str, float]] = {d: dict.fromkeys(first, 0.0) for d, first in now.items()}
        best = dict.fromkeys(now, 0.0)
        for value, share in worlds.share(path).items():
            other = with_demo.work(with_field(case, path, value))
            world_case = WorldCase(other, Worlds(other.facts, count))
            for decision in now:
                first = world_case.ranked(decision).first()
                best[decision] += share * max(first.values())
                for option, held in first.items():
                    mean[decision][option] += share * held
        for decision, first in now.items():
            for option, held in first.items():
                # the larger of the two shares: none of 600 worlds is no proof of none
                likely = max(held, mean[decision][option])
                error = (max(likely * (1 - likely), 1e-4) * 2 / count) ** 0.5
                assert abs(mean[decision][option] - held) <= 3 * error + 1e-9, (number, decision, option)
            assert best[decision] >= max(first.values()) - 3 * (0.5 / count) ** 0.5


@MODEST
@given(case=cases())
def test_left_and_right_are_alike(rules_alone: Recommender, case: Case) -> None:
    analysis, other = rules_alone.work(case), rules_alone.work(mirror_case(case))
    here, there = Confidence(analysis, Worlds(analysis.facts, 64)), Confidence(other, Worlds(other.facts, 64))
    for decision, sure in here.decisions.items():
        twin = there.decision(Decision(decision.kind, mirror(decision.tooth) if decision.tooth else 0))
        if sure.choice == twin.choice:  # a tie may fall otherwise
            assert sure.acceptability.document() == twin.acceptability.document(), decision
            assert sure.standing.word == twin.standing.word


@MODEST
@given(case=cases(), data=st.data())
def test_the_order_of_lists_changes_nothing(
    rules_alone: Recommender, case: Case, data: st.DataObject
) -> None:
    changed: dict[str, Any] = {
        name: data.draw(st.permutations(getattr(case, name)))
        for name in ("missing", "abutments", "spans")
        if getattr(case, name)
    }
    one, two = rules_alone.work(case), rules_alone.work(case.model_copy(update=changed))
    first, second = Confidence(one, Worlds(one.facts, 64)), Confidence(two, Worlds(two.facts, 64))
    for decision, sure in first.decisions.items():
        assert sure == second.decision(decision), decision


def test_a_bare_list_of_teeth_stays_open(with_demo: Recommender) -> None:
    """Where nothing is recorded nothing that rests on a measurement is firm, and the whole framework least of all."""
    case = Case(format=1, id="bare", arch="mandible", missing=[36, 37, 46, 47], absent=[38, 48])
    analysis = with_demo.work(case)
    confidence = Confidence(analysis)
    held = [s.standing.word for d, s in confidence.decisions.items() if d.kind in ("retainer", "connector")]
    assert "firm" not in held
    assert "open" in held
    assert {s.standing.word for s in confidence.frameworks(recommendation(analysis).frameworks)} == {"open"}


def test_rests_for_another_assembly_are_judged_as_if_worked_out_alone(with_demo: Recommender) -> None:
    analysis = with_demo.work(thinned(list(demo_source().cases())[20], 3))
    tooth = analysis.facts.considered[0]
    for assembly in sorted(analysis.examine(Decision("retainer", tooth)).judged)[::3]:
        here = analysis.examine_rest(tooth, assembly)
        alone = analysis.engine.examine(analysis.facts, Decision("rest", tooth), assembly)
        assert here.result == alone.result, assembly
        for option, ways in alone.judged.items():
            assert [w.fired for w in here.judged[option]] == [w.fired for w in ways]
            assert [w.undecided for w in here.judged[option]] == [w.undecided for w in ways]


def test_shares_add_up_and_are_shares(with_demo: Recommender) -> None:
    case = thinned(next(iter(demo_source().cases())), 1)
    for sure in Confidence(with_demo.work(case)).decisions.values():
        kept = sure.acceptability
        assert sum(sure.firsts.values()) == pytest.approx(1.0)
        assert kept.first + sum(kept.otherwise.values()) == pytest.approx(1.0)
        for share in (kept.first, kept.facts, kept.judgement, kept.not_blocked, kept.equal):
            assert 0.0 <= share <= 1.0
        assert kept.facts <= kept.equal + 1e-12
        assert np.isclose(sure.firsts[sure.choice], kept.first)
