"""The recommendation as a person reads it in a terminal."""

import re
from collections.abc import Mapping
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
    "With the profile of this house, whose lines are named as its own; --profile none gives the textbook's answer."
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
    flag = "   PROVISIONAL: plausible values of what was not recorded would change it" if answer.provisional else ""
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
        f"{words.gap(case, ask.field)} (bears on "
        f"{', '.join(words.choice(decision_at(path)) for path in asking.hangs_on(ask.field)) or 'the whole'})"
        for ask in asking.next
    ]
    _list(console, "Worth asking or measuring next, as a set", asked)
    gaps = [
        f"{words.gap(case, gap.field)} (bears on "
        f"{', '.join(words.choice(decision) for decision in map(decision_at, gap.would_change))})"
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
        where = f" of {words.teeth(teeth)}" if teeth else ""
        told.append(f"{name}{where}: {why}" + (" (asked; not known)" if asked else ""))
    return told


def _in_order(answer: Recommendation) -> list[DecisionResult]:
    found: list[DecisionResult] = []
    for tooth, result in answer.retainers.items():
        found += [result, answer.rests[tooth]]
    return [*found, answer.connector, *answer.replacements.values()]


def _title(result: DecisionResult, words: Words) -> str:
    given = f", given {words.option('retainer', result.given)}" if result.given else ""
    return f"{words.title(result.decision)}{given}   (precedents count {result.precedent_weight:.0%})"


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
        parts = [f"and {others} more that are possible"] if others > 0 else []
        if excluded:
            names = (words.option(result.decision.kind, option.option) for option in excluded)
            parts.append("excluded: " + ", ".join(names))
        tail = "  " + "; ".join(parts)
        console.print(tail, style="dim")


def _reasons(option: OptionResult, words: Words, count: int = 2) -> str:
    """What blocks it, or else the rules that moved it most, each with its points; then its nearest precedent."""
    if option.blocked_by:
        said = words.lines(block.statement for block in option.blocked_by[:count])
        if option.unlocked_by:
            said.append("opens after: " + "; ".join(step_words(step, words) for step in option.unlocked_by))
        return "\n".join(said)
    lines = [line for line in option.contributions if line.kind == "rule"]
    lines.sort(key=lambda line: -abs(line.points))
    lines = lines[:count] + [line for line in option.contributions if line.kind == "precedent"][:1]
    return "\n".join(f"{line.points:+.1f} {words.text(line.statement)}" for line in lines)


def step_words(step: PreparationStep, words: Words) -> str:
    """A preparation in words, e.g. ``prepare a guiding plane on 14, distal``."""
    asked = "" if step.permitted is not None or step.routine else " (ask the dentist)"
    return words.step(step.tooth, step.surface, step.action) + asked


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
    title = f"\nFramework {number}: {connector}{beside('connector')}, score {framework.score:.1f}{flag}"
    console.print(title, style="bold")
    for head, kind, parts in (
        ("retainers", "retainer", framework.retainers),
        ("rests", "rest", framework.rests),
        ("teeth", "replacement", framework.replacements),
        ("indirect retention", "rest", {seat.tooth: seat.rest for seat in framework.indirect_retainers}),
    ):
        if parts:
            told = beside if head != "indirect retention" else lambda kind, tooth: ""
            said = (f"{words.tooth(t)} {words.option(kind, part)}{told(kind, t)}" for t, part in parts.items())
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
        f"{words.tooth(seat.tooth)} {words.option('rest', seat.rest)}: lever about {seat.lever_mm:.0f} mm"
        for seat in answer.indirect_retainers[:6]
    ]
    _list(console, "Seats for indirect retention, best first", said)


def _preparation(console: Any, steps: tuple[PreparationStep, ...], words: Words) -> None:
    """What the dentist does for the first framework; what other options would need stands with them."""
    title = "What the dentist prepares for framework 1, in this order"
    _list(console, title, [step_words(step, words) for step in steps])


def _list(console: Any, title: str, lines: Any) -> None:
    lines = list(lines)
    if not lines:
        return
    console.print(f"\n{title}", style="bold")
    for line in lines:
        console.print(f"  - {line}")
