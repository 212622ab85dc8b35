"""Changed rules tried on cases: what is told agrees with advising each case anew with either rule set."""

from dataclasses import replace

import pytest

from recommender.advice.recommend import Recommender
from recommender.curation.evaluation.leave_one_out import as_it_came
from recommender.curation.evaluation.rule_trial import FRAMEWORK, kinds, try_rules
from recommender.domain.case import Case
from recommender.knowledge.differences import differences
from recommender.knowledge.load import packaged_knowledge
from recommender.knowledge.model import Knowledge
from recommender.precedents.source import demo_source


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    return [case for case in demo_source().cases() if case.design and case.missing][:6]


def _weighed(decision: str, **weights: float) -> Knowledge:
    known = packaged_knowledge()
    base = {name: dict(each) for name, each in known.criteria.base.items()}
    base[decision].update(weights)
    return replace(known, criteria=replace(known.criteria, base=base))


def test_the_same_rules_change_nothing(cases: list[Case]) -> None:
    known = packaged_knowledge()
    found = try_rules(cases, known, known)
    assert (found.cases, found.decisions, found.moved, found.changes) == (len(cases), 0, 0, ())


def test_only_decisions_that_the_change_bears_on_are_tried(cases: list[Case]) -> None:
    known, changed = packaged_knowledge(), _weighed("connector", comfort=60)
    assert kinds(differences(known, changed), known, changed) == {"connector"}
    found = try_rules(cases, known, changed)
    assert found.decisions == len(cases)
    retainer = _weighed("retainer", appearance=60)
    assert kinds(differences(known, retainer), known, retainer) == {"retainer", "rest"}


def test_what_is_told_is_what_advising_anew_gives(cases: list[Case]) -> None:
    known, changed = packaged_knowledge(), _weighed("connector", comfort=900, hygiene=900)
    told: list[tuple[int, int]] = []
    found = try_rules(cases, known, changed, progress=lambda done, of: told.append((done, of)))
    assert told == [(number, len(cases)) for number in range(1, len(cases) + 1)]
    old, new = Recommender(None, known), Recommender(None, changed)
    expected, agree = [], [0, 0]
    for case in cases:
        first = [each.recommend(as_it_came(case), 0).connector.ranked[0] for each in (old, new)]
        if first[0].option != first[1].option:
            expected.append((case.id, first[0].option, first[1].option))
        for index in (0, 1):
            agree[index] += first[index].option == case.design.connector  # type: ignore[union-attr]
    assert expected, "weights this lopsided have to change something"
    assert [(change.case_id, change.before, change.after) for change in found.changes] == expected
    assert found.touched == tuple(sorted({case_id for case_id, *_ in expected}))
    assert (found.agree_before, found.agree_after) == tuple(agree)
    assert found.judged == sum(case.design.connector is not None for case in cases)  # type: ignore[union-attr]
    assert found.moved > 0


def test_stored_choices_that_a_new_block_takes_out_are_named(cases: list[Case]) -> None:
    known = packaged_knowledge()
    used = next(case.design.connector for case in cases if case.design and case.design.connector)
    model = next(rule for rule in known.rules if rule.decision == "connector" and rule.effect == "blocks")
    always = next(rule.when for rule in known.rules if rule.when.text == "always")
    block = replace(
        model, id="trial_block", options=(used,), when=always, stage="option", block="advised_against",
        unlocked_by=(), families=(),
    )  # fmt: skip
    rules = (*known.rules, block)
    by_decision = {**known.by_decision, "connector": (*known.by_decision["connector"], block)}
    changed = replace(known, rules=rules, by_decision=by_decision)
    found = try_rules(cases, known, changed)
    using = {case.id for case in cases if case.design and case.design.connector == used}
    assert {line.case_id for line in found.barred} == using
    assert all((line.option, line.decision) == (used, "connector") for line in found.barred)
    assert found.freed == ()
    back = try_rules(cases, changed, known)
    assert {line.case_id for line in back.freed} == using


def test_whole_frameworks_on_request(cases: list[Case]) -> None:
    known, changed = packaged_knowledge(), _weighed("connector", comfort=900, hygiene=900)
    found = try_rules(cases[:2], known, changed, frameworks=True)
    whole = [change for change in found.changes if change.decision == FRAMEWORK]
    old, new = Recommender(None, known), Recommender(None, changed)
    for case in cases[:2]:
        one, other = (each.recommend(as_it_came(case), 1).frameworks[0].connector for each in (old, new))
        lines = [change for change in whole if change.case_id == case.id]
        if one != other:
            assert f"connector={one}" in lines[0].before
            assert f"connector={other}" in lines[0].after


def test_changed_decisions_are_judged_one_by_one() -> None:
    """Nine better and one worse of ten: 55.5 to 99.7 % by Clopper and Pearson; one of two says nothing."""
    from recommender.curation.evaluation.rule_trial import Change, Trial

    def trial(better: int, worse: int, neither: int) -> Trial:
        made = [Change("a", "connector", "x", 1, "y", 2, "y")] * better
        made += [Change("a", "connector", "x", 1, "y", 2, "x")] * worse
        made += [Change("a", "connector", "x", 1, "y", 2, None)] * neither
        return Trial(1, 1, 1, tuple(made), (), (), 0, 0, 0)

    found = trial(9, 1, 4).verdict
    assert (found.better, found.worse, found.neither, found.telling) == (9, 1, 0, "better")
    assert (found.low, found.high) == pytest.approx((0.5550, 0.9975), abs=1e-4)
    assert trial(1, 1, 0).verdict.telling == "open"
    assert trial(0, 0, 3).verdict.telling == "open"
