"""The advice beside a panel's answers: how choices are counted, and floors under what is reached.

The cases are invented and the answers are opinions (``shared/panel/README.md``): floors notice a change of principle.
"""

from typing import get_args

import pytest

from recommender.advice.recommend import Recommender
from recommender.curation.evaluation.panel import Answer, PanelAgreement, judge_panel, panel_cases
from recommender.curation.evaluation.wants import moves_of
from recommender.domain import vocabulary
from recommender.knowledge.in_force import knowledge


@pytest.fixture(scope="module")
def found() -> PanelAgreement:
    return judge_panel(Recommender(None), panel_cases())


def test_an_answer_accepts_what_it_signs_and_what_it_names_besides() -> None:
    answer = Answer("i_bar", frozenset({"t_bar"}), frozenset({"ring"}))
    assert [answer.accepts(choice) for choice in ("i_bar", "t_bar", "ring", "rpa")] == [1, 1, 0, 0]


def test_seats_are_accepted_by_the_share_that_is_common() -> None:
    answer = Answer(frozenset({(14, "mesial"), (24, "mesial")}))
    assert answer.accepts(answer.best) == 1
    assert answer.accepts(frozenset({(14, "mesial"), (23, "cingulum")})) == pytest.approx(1 / 3)
    assert answer.accepts(frozenset()) == 0
    assert Answer(frozenset()).accepts(frozenset()) == 1


def test_every_case_is_answered_by_all_three_in_words_of_the_vocabulary() -> None:
    words = vars(vocabulary).values()
    options = {name for word in words for name in get_args(word) if isinstance(name, str)}
    cases = list(panel_cases())
    assert len(cases) == 12
    for case, sets in cases:
        assert case.design is None
        assert set(sets) == {"A", "B", "C"}
        for answers in sets.values():
            for key, answer in answers.items():
                if key not in ("kennedy", "indirect"):
                    assert {answer.best, *answer.also, *answer.never} <= options, (case.id, key)


def test_the_sets_agree_closely_with_each_other(found: PanelAgreement) -> None:
    retainers = found.itself["retainer"]
    assert retainers.accepted / retainers.of > 0.95
    assert retainers.refused == 0


def test_what_leads_is_mostly_accepted(found: PanelAgreement) -> None:
    for kind, least in (("kennedy", 1.0), ("connector", 0.9), ("retainer", 0.85), ("rest", 0.9)):
        tally = found.ranked[kind]
        assert tally.accepted / tally.of >= least, kind
    assert all(difference.answers for difference in found.differences)


def test_what_moved_first_frameworks_is_counted_by_rule() -> None:
    """Every retainer is either what leads at its tooth or is counted under the reason why not."""
    cases = [case for case, _ in panel_cases()][:4]
    found = moves_of(Recommender(None), cases)
    assert found.frameworks == 4
    assert 0 <= found.leading <= found.retainers
    assert sum(found.moved.values()) == found.retainers - found.leading
    rules = knowledge().figures.frameworks.rules
    assert set(found.not_met) <= {name for name, rule in rules.items() if rule.kind == "want"}
    assert all(points >= 0 for points in found.given_up.values())
