"""Rules between parts: one object each, read by solver and checks alike; how one is added; every departure has
its reason.
"""

from dataclasses import replace
from typing import Any

import pytest

from recommender.advice.frameworks.assemble import finished
from recommender.advice.frameworks.candidates import gather
from recommender.advice.frameworks.parts import Choice, Stock
from recommender.advice.frameworks.rules.base import BetweenParts, Breach, Programme
from recommender.advice.frameworks.rules.book import RULES, book
from recommender.advice.frameworks.solve import best
from recommender.advice.indirect_retainers import indirect_seats
from recommender.advice.recommend import Recommender
from recommender.domain.case import Case
from recommender.domain.errors import CaseError, Problem
from recommender.domain.statement import say, tooth
from recommender.domain.validation import read_model
from recommender.knowledge.figures.frameworks import FrameworkFigures
from recommender.knowledge.in_force import knowledge
from recommender.precedents.source import demo_source
from recommender.wording.words import Words


def figures() -> FrameworkFigures:
    return knowledge().figures.frameworks


def stock_of(recommender: Recommender, case: Case) -> Stock:
    analysis = recommender.work(case)
    results = {decision: analysis.decide(decision) for decision in analysis.decisions()}
    return gather(analysis, results, indirect_seats(analysis.engine, analysis.facts))


def read_framework_figures(raw: dict[str, Any]) -> FrameworkFigures:
    problems: list[Problem] = []
    found = read_model(FrameworkFigures, raw, lambda path: "frameworks.yaml", problems)
    if found is None:
        raise CaseError(problems, "frameworks.yaml")
    return found


class NoIncisors(BetweenParts):
    """A rule made up for this test: no clasp on a tooth in front of the canine, at a price."""

    id = "no_incisors"

    def rows(self, p: Programme) -> None:
        for part in p.everyone:
            if part.clasps and part.tooth % 10 <= self.entry.figures["up_to"]:
                p.at_most([(1.0, p.x(part)), (-1.0, p.gives_way(self))], 0)

    reads = ("up_to",)

    def breaches(self, choice: Choice) -> list[Breach]:
        return [
            Breach((part.tooth,), say("needless_rest", tooth=tooth(part.tooth)))
            for part in choice.held
            if part.clasps and part.tooth % 10 <= self.entry.figures["up_to"]
        ]


def with_rule(price: float, up_to: int) -> tuple[BetweenParts, ...]:
    """The rules of the project and one more: an entry, a class; nothing else has to be touched."""
    raw: dict[str, Any] = figures().model_dump(mode="json")
    raw["rules"]["no_incisors"] = {
        "kind": "want", "price": price, "figures": {"up_to": up_to}, "source": "common practice, no source"
    }  # fmt: skip
    return book(read_framework_figures(raw), (*RULES, NoIncisors))


def test_a_rule_is_added_by_an_entry_and_a_class(rules_alone: Recommender) -> None:
    moved = 0
    for case in list(demo_source().cases())[::14]:
        stock = stock_of(rules_alone, case)
        rules = with_rule(90.0, 4)
        plain = best(stock, book(stock.figures), 1)[0].choice
        kept = best(stock, rules, 1)[0].choice
        rule = next(one for one in rules if one.id == "no_incisors")
        assert len(rule.breaches(kept)) <= len(rule.breaches(plain))
        moved += len(rule.breaches(kept)) < len(rule.breaches(plain))
    assert moved


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"nobody": {"kind": "told", "source": "x"}}, "an entry that nothing reads"),
        ({"three_rests": {"kind": "must", "price": 800, "source": "x"}}, "not given"),
        ({"spread": {"kind": "want", "price": 1, "figures": {"odd": 1}, "source": "x"}}, "odd"),
    ],
)
def test_a_figure_or_entry_that_nothing_reads_is_refused(change: dict[str, Any], told: str) -> None:
    raw: dict[str, Any] = figures().model_dump(mode="json")
    raw["rules"] = {**raw["rules"], **change}
    with pytest.raises(CaseError) as caught:
        book(read_framework_figures(raw))
    assert told in str(caught.value)


def test_a_want_without_a_price_is_refused() -> None:
    raw: dict[str, Any] = figures().model_dump(mode="json")
    raw["rules"]["spread"] = {"kind": "want", "source": "x"}
    with pytest.raises(CaseError, match="price"):
        read_framework_figures(raw)


def test_every_part_that_does_not_lead_says_why(rules_alone: Recommender) -> None:
    words = Words()
    seen = 0
    for case in list(demo_source().cases())[::12]:
        answer = rules_alone.recommend(case)
        for place, framework in enumerate(answer.frameworks):
            told = {departure.decision: departure for departure in framework.departures}
            for number, option in framework.retainers.items():
                lead = answer.retainers.get(number)
                if lead is not None and option != lead.ranked[0].option:
                    departure = told[f"retainer:{number}"]
                    assert departure.instead_of == lead.ranked[0].option
                    assert words.text(departure.statement)
                    seen += 1
                    code = dict(departure.statement.args)["why"].code  # type: ignore[union-attr]
                    # the first framework leaves what leads only for a rule, or because it cannot be made
                    assert place or code not in ("departs.runner_up", "departs.only_together"), (
                        case.id,
                        number,
                    )
            if framework.connector != answer.connector.ranked[0].option:
                assert "connector" in told
    assert seen > 10


def test_sameness_only_breaks_ties(rules_alone: Recommender) -> None:
    """Matching teeth that carry different kinds are worth less than any difference that is told."""
    near_tie = knowledge().scoring.near_tie
    assert figures().rules["alike"].price < near_tie


def test_fewer_retainers_than_the_class_wants_is_told(rules_alone: Recommender) -> None:
    missing = [t for t in (*range(31, 38), *range(41, 48)) if t not in (33, 43, 44)]
    case = Case.model_validate(
        {
            "format": 1, "id": "made-e", "arch": "mandible", "missing": missing, "absent": [38, 48],
            "abutments": [{"tooth": t, "mobility": 3} for t in (43, 44)] + [{"tooth": 33}],
        }
    )  # fmt: skip
    framework = rules_alone.recommend(case).frameworks[0]
    assert "retainers" in {departure.decision for departure in framework.departures}


def test_checks_read_what_the_solver_read(rules_alone: Recommender) -> None:
    """A finished framework fails a rule exactly where the choice breaches it."""
    for case in list(demo_source().cases())[::28]:
        stock = stock_of(rules_alone, case)
        rules = book(stock.figures)
        for selection in best(stock, rules, 2):
            framework = finished(selection.choice, knowledge().catalogue, rules)
            outcome = {check.id: check.outcome for check in framework.checks}
            for rule in rules:
                if rule.entry.kind == "want":
                    assert (outcome[rule.id] == "failed") == bool(rule.breaches(selection.choice)), rule.id


def test_a_root_under_the_base_is_hold_of_its_own_kind(rules_alone: Recommender) -> None:
    """It counts as support and hold, and is no clasp too many."""
    case = next(iter(demo_source().cases()))
    stock = stock_of(rules_alone, case)
    stud = knowledge().catalogue.options["retainer"]["stud"]
    part = replace(stock.available[0], option=stud)
    assert part.retentive
    assert part.rested
    assert not part.clasps
