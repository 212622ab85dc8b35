"""One choice beside the leading one: verdict, what speaks against it, its price, its precedents, its sentence."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from recommender.advice.explanation.contrast import Contrast, Difference
from recommender.advice.explanation.counterfactuals.preparation import Price, price_of
from recommender.advice.model import (
    WORTH_SAYING,
    Decision,
    DecisionResult,
    OptionResult,
    PreparationStep,
    points_by_criterion,
)
from recommender.domain.statement import (
    Choice,
    Name,
    Said,
    Statement,
    Word,
    count,
    quantity,
    say,
    several,
    tooth,
)
from recommender.knowledge.figures.review import ReviewFigures, School
from recommender.precedents.outcome_value import verdict as fared

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis

Verdict = Literal["agrees", "acceptable", "better_alternative", "conflicts", "left_out"]


def worded(
    verdict: Verdict,
    decision: Decision,
    asked: str | None,
    lead: str | None,
    reasons: Sequence[Statement],
    school: School | None = None,
) -> Statement:
    """The sentence of one item, as it would be said to the dentist."""
    if school is not None and verdict in ("better_alternative", "conflicts") and asked and lead:
        return say(
            "review.school",
            item=decision,
            asked=Choice(decision.kind, asked),
            lead=Choice(decision.kind, lead),
            reason=reasons[0] if reasons else say("review.scores_higher"),
            school=Said(school.name),
            published=Said(school.source),
        )
    code: str = verdict
    if verdict == "conflicts" and (lead is None or lead == asked):
        code = "conflicts_without_lead" if lead is None else "conflicts_as_drawn"
    return say(
        f"review.{code}",
        item=decision,
        asked=Choice(decision.kind, asked) if asked else None,
        lead=Choice(decision.kind, lead) if lead else None,
        reason=reasons[0] if reasons else say("review.scores_higher"),
    )


def verdict_of(asked: OptionResult, lead: OptionResult, known: ReviewFigures) -> Verdict:
    """How the asked-for option stands beside the leading one."""
    if asked.status in ("excluded", "advised_against"):
        return "conflicts"
    behind = lead.score - asked.score
    same_status = asked.status == lead.status
    if asked.option == lead.option or (same_status and behind <= known.agrees_within):
        return "agrees"
    return "acceptable" if behind <= known.acceptable_within else "better_alternative"


def reasons_against(
    kind: str, asked: OptionResult, lead: OptionResult, difference: Contrast, most: int
) -> tuple[Statement, ...]:
    """What speaks against the asked-for option: its blocks first, then the largest lines of the contrast.

    Each line names what it is about: the leading option, which it speaks for, or the other, which it speaks against.
    """
    blocks = [block.statement for block in asked.blocked_by]
    lines = [_about(kind, asked, lead, x) for x in difference.for_first if x.kind in ("rule", "precedent")]
    starts = [line.statement for line in difference.for_first if line.kind == "start"]
    return tuple(dict.fromkeys((blocks + lines) or starts))[:most]


def _about(kind: str, asked: OptionResult, lead: OptionResult, line: Difference) -> Statement:
    if line.kind == "precedent":
        return line.statement
    subject = lead if abs(line.first) >= abs(line.second) else asked
    return say(
        "review.about",
        rule=line.statement.rule,
        source=line.statement.source,
        subject=Choice(kind, subject.option),
        what=line.statement,
    )


def best_lines(option: OptionResult, most: int) -> tuple[Statement, ...]:
    """The rules that speak for an option, the largest first."""
    lines = sorted(
        (line for line in option.contributions if line.kind == "rule"), key=lambda line: -line.points
    )
    return tuple(line.statement for line in lines if line.points > 0)[:most]


def work_of(option: OptionResult, *, blocks: bool = False) -> tuple[PreparationStep, ...]:
    """The preparation that an option asks for; with ``blocks`` that which each of its blocks names too."""
    steps = [*option.unlocked_by, *option.preparation]
    if blocks:
        steps = [step for block in option.blocked_by for step in block.unlocked_by] + steps
    unique: dict[tuple[int, str, str], PreparationStep] = {}
    for step in steps:
        unique.setdefault((step.tooth, step.surface, step.action), step)
    return tuple(unique.values())


def priced(
    analysis: "CaseAnalysis", decision: Decision, option: OptionResult, steps: tuple[PreparationStep, ...]
) -> Price:
    """What its preparation costs, in enamel and visits."""
    known = analysis.engine.knowledge.catalogue.options[decision.kind][option.option]
    return price_of(
        analysis.case, steps, known, option.approach, analysis.engine.knowledge.figures.preparation
    )


def price_told(
    work: tuple[PreparationStep, ...], price: Price | None, difference: Contrast, most: int, *, ahead: bool
) -> tuple[Statement, ...]:
    """The work with its price, the points, and what is given up by criterion. ``ahead``: of the leader."""
    lines = [step_told(step) for step in work] or [say("review.no_work")]
    if work and price is not None:
        lines.append(
            say("review.price", enamel=quantity(price.enamel_mm, "mm", 2), visits=count(price.visits))
        )
    if ahead and difference.points > 0:
        lines.append(say("review.behind", points=quantity(difference.points, "points")))
    return (*lines, _given_up(difference, most, ahead=ahead))


def _given_up(difference: Contrast, most: int, *, ahead: bool) -> Statement:
    """Where the other option does better, by criterion, the most first."""
    moved = points_by_criterion([(1.0 if ahead else -1.0, difference.lines)])
    worse = sorted(((p, name) for name, p in moved.items() if p >= WORTH_SAYING), reverse=True)[:most]
    if not worse:
        return say("review.nothing_lost")
    told = (
        say("frameworks.criterion", criterion=Word("criterion", name), points=quantity(points))
        for points, name in worse
    )
    return say("review.worse", criteria=several(told, "comma"))


def step_told(step: PreparationStep) -> Statement:
    """A preparation, and whether the dentist ruled it out."""
    return say("review.forbidden_work" if step.permitted is False else "review.work", work=step.work)


def precedents_of(
    analysis: "CaseAnalysis", decision: Decision, result: DecisionResult, option: str
) -> tuple[Statement, ...]:
    """The stored cases among the nearest that chose an option, most alike first, with how they fared."""
    if decision.kind == "rest" and result.given is not None:
        evidence = analysis.engine.examine(analysis.facts, decision, result.given).evidence
    else:
        evidence = analysis.examine(decision).evidence
    return tuple(
        say(
            "precedent.of",
            case=Name(n.situation.case_id),
            site=tooth(n.situation.site) if n.situation.site else None,
            likeness=quantity(n.likeness, digits=2),
            fared=fared(n.situation.verdict),
        )
        for n in evidence.neighbours
        if n.situation.choice == option
    )
