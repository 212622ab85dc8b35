"""The recommendation as a person reads it in a terminal."""

from typing import TYPE_CHECKING, Any

from recommender.advice.model import DecisionResult, Framework, OptionResult, PreparationStep, Recommendation
from recommender.cli import output
from recommender.domain.case import Case
from recommender.domain.labels import ASKED_IN_VAIN
from recommender.domain.numbering import display

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender

STATUS_WORDS = {
    "open": "open",
    "needs_preparation": "after preparation",
    "advised_against": "advised against",
    "excluded": "excluded",
}
PURPOSE = (
    "A proposal for a qualified person. The prescribing dentist decides; local regulation and the licensed "
    "technician stand above it. Scores rank options; they are no probabilities."
)
_HEADS = {
    "retainer": "Retainer on",
    "rest": "Rest on",
    "replacement": "Replacement for",
    "connector": "Connector",
}


def show(recommender: "Recommender", case: Case, top: int, numbering: str) -> None:
    """Print the answer for one case: class, frameworks, each decision, preparation, cautions, gaps."""
    from recommender.advice.analysis import NoAdviceError

    console = output.console()
    try:
        answer = recommender.recommend(case)
    except NoAdviceError as nothing:
        console.print(str(nothing))
        return
    flag = "   PROVISIONAL: rests on facts that were not recorded" if answer.provisional else ""
    console.rule(f"{case.id} ({case.arch})")
    console.print(f"{answer.kennedy['label']}{flag}", style="bold")
    console.print(PURPOSE, style="dim")
    for number, framework in enumerate(answer.frameworks, 1):
        _framework(console, number, framework, numbering)
    for result in _in_order(answer):
        _decision(console, result, top, numbering)
    _seats(console, answer, numbering)
    _preparation(console, answer.preparation, numbering)
    _list(console, "Cautions and questions", answer.cautions)
    gaps = [
        f"{gap.field} ({ASKED_IN_VAIN + '; ' if gap.asked else ''}bears on {', '.join(gap.would_change)})"
        for gap in answer.not_recorded[:10]
    ]
    _list(console, "Not recorded, and could change the answer", gaps)


def _in_order(answer: Recommendation) -> list[DecisionResult]:
    found: list[DecisionResult] = []
    for tooth, result in answer.retainers.items():
        found += [result, answer.rests[tooth]]
    return [*found, answer.connector, *answer.replacements.values()]


def _title(result: DecisionResult, numbering: str) -> str:
    head = _HEADS[result.decision.kind]
    tooth = f" {display(result.decision.tooth, numbering)}" if result.decision.tooth else ""
    given = f", given {result.given}" if result.given else ""
    return f"{head}{tooth}{given}   (precedents count {result.precedent_weight:.0%})"


def _decision(console: Any, result: DecisionResult, top: int, numbering: str) -> None:
    from rich.table import Table

    table = Table(title=_title(result, numbering), title_justify="left", expand=True)
    for name, options in {
        "option": {"min_width": 18},
        "status": {"min_width": 17},
        "score": {"justify": "right"},
        "range": {"justify": "right", "min_width": 7},
        "main reasons": {"ratio": 1},
    }.items():
        table.add_column(name, **options)  # type: ignore[arg-type]
    for option in result.ranked[:top]:
        star = "*" if option.provisional else ""
        table.add_row(
            option.option,
            STATUS_WORDS[option.status],
            f"{option.score:.0f}{star}",
            f"{option.low:.0f}-{option.high:.0f}",
            _reasons(option, numbering),
        )
    console.print(table)
    excluded = [option for option in result.ranked[top:] if option.status == "excluded"]
    others = len(result.ranked) - top - len(excluded)
    if others > 0 or excluded:
        parts = [f"and {others} more that are possible"] if others > 0 else []
        if excluded:
            parts.append("excluded: " + ", ".join(option.option for option in excluded))
        tail = "  " + "; ".join(parts)
        console.print(tail, style="dim")


def _reasons(option: OptionResult, numbering: str, count: int = 2) -> str:
    """What blocks it, or else the rules that moved it most, each with its points; then its nearest precedent."""
    if option.blocked_by:
        words = [block.text for block in option.blocked_by[:count]]
        if option.unlocked_by:
            words.append("opens after: " + "; ".join(step_words(s, numbering) for s in option.unlocked_by))
        return "\n".join(words)
    lines = [line for line in option.contributions if line.kind == "rule"]
    lines.sort(key=lambda line: -abs(line.points))
    words = [f"{line.points:+.1f} {line.text}" for line in lines[:count]]
    words += [f"{line.points:+.1f} {line.text}" for line in option.contributions if line.kind == "precedent"][
        :1
    ]
    return "\n".join(words)


def step_words(step: PreparationStep, numbering: str) -> str:
    """A preparation in words, e.g. ``guiding plane on 14 distal``."""
    asked = "" if step.permitted is not None or step.routine else " (ask the dentist)"
    tooth = display(step.tooth, numbering)
    return f"{step.action.replace('_', ' ')} on {tooth} {step.surface.replace('_', ' ')}{asked}"


def _framework(console: Any, number: int, framework: Framework, numbering: str) -> None:
    flag = "  PROVISIONAL" if framework.provisional else ""
    console.print(
        f"\nFramework {number}: {framework.connector}, score {framework.score:.1f}{flag}", style="bold"
    )
    parts = [f"{display(tooth, numbering)} {part}" for tooth, part in framework.retainers.items()]
    console.print("  retainers: " + ", ".join(parts))
    console.print("  rests: " + ", ".join(f"{display(t, numbering)} {r}" for t, r in framework.rests.items()))
    console.print(
        "  teeth: " + ", ".join(f"{display(t, numbering)} {r}" for t, r in framework.replacements.items())
    )
    seats = ", ".join(
        f"{display(seat.tooth, numbering)} {seat.rest}" for seat in framework.indirect_retainers
    )
    if seats:
        console.print(f"  indirect retention: {seats}")
    for line in framework.gives_up:
        console.print(f"  beside the first: {line}", style="dim")
    for check in framework.checks:
        if check.outcome != "passed":
            console.print(f"  {check.outcome.replace('_', ' ')}: {check.text}")


def _seats(console: Any, answer: Recommendation, numbering: str) -> None:
    words = [
        f"{display(seat.tooth, numbering)} {seat.rest}: lever about {seat.lever_mm:.0f} mm"
        for seat in answer.indirect_retainers[:6]
    ]
    _list(console, "Seats for indirect retention, best first", words)


def _preparation(console: Any, steps: tuple[PreparationStep, ...], numbering: str) -> None:
    routine = [step_words(step, numbering) for step in steps if step.routine]
    others = [
        step_words(step, numbering) for step in steps if not step.routine and step.permitted is not False
    ]
    _list(console, "Routine preparation by the dentist", routine)
    _list(console, "Preparation that would open further options", others)


def _list(console: Any, title: str, lines: Any) -> None:
    lines = list(lines)
    if not lines:
        return
    console.print(f"\n{title}", style="bold")
    for line in lines:
        console.print(f"  - {line}")
