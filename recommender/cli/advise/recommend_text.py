"""The recommendation as a person reads it in a terminal."""

import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from recommender.advice.model import (
    Decision,
    DecisionResult,
    Framework,
    OptionResult,
    PreparationStep,
    Recommendation,
)
from recommender.cli import output
from recommender.documents.standing import otherwise_words, part_words, standing_words
from recommender.domain.case import Case
from recommender.domain.decision import decision_at
from recommender.domain.labels import field_label
from recommender.domain.statement import Choice, Teeth, quantity, say, several
from recommender.domain.statement import tooth as one_tooth
from recommender.wording.words import Words

if TYPE_CHECKING:
    from recommender.advice.confidence.answers import Confidence
    from recommender.advice.confidence.values import ChoiceConfidence
    from recommender.advice.recommend import Recommender

PURPOSE = (
    "A proposal for a qualified person. The prescribing dentist decides; local regulation and the licensed "
    "technician stand above it. Scores rank options; they are no probabilities."
)

HOUSE_NOTE = (
    "With the profile of this house, whose lines are named as its own; "
    "--profile none gives the textbook's answer."
)


def show(recommender: "Recommender", case: Case, top: int, words: Words) -> None:
    """Print the answer for one case: class, frameworks, each decision, preparation, cautions, gaps."""
    from recommender.advice.analysis import NoAdviceError
    from recommender.advice.confidence.answers import Confidence
    from recommender.advice.confidence.attach import with_standing
    from recommender.advice.recommend import recommendation

    console = output.console()
    try:
        analysis = recommender.work(case)
        confidence = Confidence(analysis)
        answer = with_standing(recommendation(analysis), confidence)
    except NoAdviceError as nothing:
        console.print(f"{case.id}: {words.text(nothing.statement)}")
        return
    flag = f"   {words.told('verb.recommend.provisional')}" if answer.provisional else ""
    console.rule(f"{case.id} ({case.arch})")
    console.print(f"{answer.kennedy.label}{flag}", style="bold")
    console.print(PURPOSE, style="dim")
    if recommender.engine.knowledge.house:
        console.print(HOUSE_NOTE, style="dim")
    _list(console, "To be answered before metal is cast", before_metal(confidence, words))
    for number, (framework, sure) in enumerate(
        zip(answer.frameworks, confidence.frameworks(answer.frameworks), strict=True), 1
    ):
        _framework(console, number, framework, confidence.parts(framework), words)
        console.print("  " + standing_words(sure, "", words))
    for result in _in_order(answer):
        _decision(console, result, confidence.decision(result.decision), top, words)
    _seats(console, answer, words)
    if answer.frameworks:
        _preparation(console, answer.frameworks[0].preparation, words)
    _list(console, "Cautions and questions", words.lines(answer.cautions))
    asking = confidence.asking(answer.frameworks)
    asked = [
        _bears_on(words, words.gap(case, ask.field), map(decision_at, asking.hangs_on(ask.field)))
        for ask in asking.next
    ]
    _list(console, "Worth asking or measuring next, as a set", asked)
    gaps = [
        _bears_on(words, words.gap(case, gap.field), map(decision_at, gap.would_change))
        for gap in answer.not_recorded[:10]
    ]
    _list(console, "Not recorded, and could change the answer", gaps)


def before_metal(confidence: "Confidence", words: Words) -> list[str]:
    """The dangerous questions that are open, teeth with the same question in one line."""
    lines: dict[tuple[str, str, bool], list[int]] = {}
    for each in confidence.before_metal:
        tooth = re.search(r"\[(\d+)\]", each.field)
        key = (re.sub(r"\[\d+\]", "[]", each.field), each.why, each.asked)
        lines.setdefault(key, []).extend([int(tooth[1])] if tooth else [])
    told = []
    for (pattern, why, asked), teeth in lines.items():
        name = field_label(pattern.replace("abutments[].", "abutments.")) if teeth else words.path(pattern)
        code = "verb.recommend.waits_asked" if asked else "verb.recommend.waits"
        told.append(words.told(code, name=name, teeth=Teeth(tuple(teeth)) if teeth else None, why=why))
    return told


def _bears_on(words: Words, field: str, decisions: Iterable[Decision]) -> str:
    return words.told(
        "verb.recommend.bears_on", field=field, on=several(decisions, "comma") or say("verb.the_whole")
    )


def _in_order(answer: Recommendation) -> list[DecisionResult]:
    found: list[DecisionResult] = []
    for tooth, result in answer.retainers.items():
        found += [result, answer.rests[tooth]]
    return [*found, answer.connector, *answer.replacements.values()]


def _title(result: DecisionResult, words: Words) -> str:
    return words.told(
        "verb.recommend.decision",
        decision=result.decision,
        given=Choice("retainer", result.given) if result.given else None,
        share=quantity(result.precedent_weight, "share"),
    )


def _decision(console: Any, result: DecisionResult, sure: "ChoiceConfidence", top: int, words: Words) -> None:
    from rich.table import Table

    table = Table(title=_title(result, words), title_justify="left", expand=True)
    for name, options in {
        "option": {"min_width": 18},
        "status": {"min_width": 17},
        "score": {"justify": "right"},
        "first": {"justify": "right", "min_width": 5},
        "main reasons": {"ratio": 1},
    }.items():
        table.add_column(name, **options)  # type: ignore[arg-type]
    for option in result.ranked[:top]:
        star = "*" if option.provisional else ""
        table.add_row(
            words.option(result.decision.kind, option.option),
            words.term("status", option.status),
            f"{option.score:.0f}{star}",
            f"{sure.firsts.get(option.option, 0.0):.0%}",
            _reasons(option, words),
        )
    console.print(table)
    console.print("  " + standing_words(sure, result.decision.kind, words))
    console.print("  " + otherwise_words(sure, result.decision.kind, words))
    excluded = [option for option in result.ranked[top:] if option.status == "excluded"]
    others = len(result.ranked) - top - len(excluded)
    if others > 0 or excluded:
        parts = [words.told("verb.recommend.more", n=others)] if others > 0 else []
        if excluded:
            names = (words.option(result.decision.kind, option.option) for option in excluded)
            parts.append(words.told("verb.recommend.excluded", options=", ".join(names)))
        tail = "  " + "; ".join(parts)
        console.print(tail, style="dim")


def _reasons(option: OptionResult, words: Words, count: int = 2) -> str:
    """What blocks it, or else the rules that moved it most, each with its points; then its nearest precedent."""
    if option.blocked_by:
        said = words.lines(block.statement for block in option.blocked_by[:count])
        if option.unlocked_by:
            work = "; ".join(step_words(step, words) for step in option.unlocked_by)
            said.append(words.told("screen.opens_after", work=work))
        return "\n".join(said)
    lines = [line for line in option.contributions if line.kind == "rule"]
    lines.sort(key=lambda line: -abs(line.points))
    lines = lines[:count] + [line for line in option.contributions if line.kind == "precedent"][:1]
    return "\n".join(f"{line.points:+.1f} {words.text(line.statement)}" for line in lines)


def step_words(step: PreparationStep, words: Words) -> str:
    """A preparation in words, e.g. ``prepare a guiding plane on 14, distal``."""
    settled = step.permitted is not None or step.routine
    return words.said(step.work) if settled else words.told("work_to_ask", work=step.work)


def _framework(
    console: Any,
    number: int,
    framework: Framework,
    standings: "Mapping[Decision, ChoiceConfidence]",
    words: Words,
) -> None:
    def beside(kind: str, tooth: int = 0) -> str:
        held = standings.get(Decision(kind, tooth))
        return f" ({part_words(held, words)})" if held is not None else ""

    flag = "  PROVISIONAL" if framework.provisional else ""
    connector = words.option("connector", framework.connector)
    title = words.told(
        "verb.recommend.framework",
        number=number,
        connector=f"{connector}{beside('connector')}",
        score=quantity(framework.score),
    )
    console.print(f"\n{title}{flag}", style="bold")
    for head, kind, parts in (
        ("retainers", "retainer", framework.retainers),
        ("rests", "rest", framework.rests),
        ("teeth", "replacement", framework.replacements),
        ("indirect retention", "rest", {seat.tooth: seat.rest for seat in framework.indirect_retainers}),
    ):
        if parts:
            told = beside if head != "indirect retention" else lambda kind, tooth: ""
            said = (
                f"{words.tooth(t)} {words.option(kind, part)}{told(kind, t)}" for t, part in parts.items()
            )
            console.print(f"  {head}: " + ", ".join(said))
    for line in words.lines(framework.drawn_in):
        console.print(f"  chosen: {line}")
    for line in words.lines(departure.statement for departure in framework.departures):
        console.print(f"  departs: {line}", style="dim")
    for line in words.lines(framework.gives_up):
        console.print(f"  beside the first: {line}", style="dim")
    for check in framework.checks:
        if check.outcome != "passed":
            console.print(f"  {words.term('outcome', check.outcome)}: {words.text(check.statement)}")


def _seats(console: Any, answer: Recommendation, words: Words) -> None:
    said = [
        words.told(
            "verb.recommend.seat",
            tooth=one_tooth(seat.tooth),
            rest=Choice("rest", seat.rest),
            lever=quantity(seat.lever_mm, "mm", 0),
        )
        for seat in answer.indirect_retainers[:6]
    ]
    _list(console, "Seats for indirect retention, best first", said)


def _preparation(console: Any, steps: tuple[PreparationStep, ...], words: Words) -> None:
    """What the dentist does for the first framework; what other options would need stands with them."""
    _list(console, words.told("verb.recommend.prepares"), [step_words(step, words) for step in steps])


def _list(console: Any, title: str, lines: Any) -> None:
    lines = list(lines)
    if not lines:
        return
    console.print(f"\n{title}", style="bold")
    for line in lines:
        console.print(f"  - {line}")
