"""The recommendation as a person reads it in a terminal."""

from typing import TYPE_CHECKING, Any

from recommender.advice.model import DecisionResult, Framework, OptionResult, PreparationStep, Recommendation
from recommender.cli import output
from recommender.domain.case import Case
from recommender.domain.decision import decision_at
from recommender.wording.words import Words

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender

PURPOSE = (
    "A proposal for a qualified person. The prescribing dentist decides; local regulation and the licensed "
    "technician stand above it. Scores rank options; they are no probabilities."
)


def show(recommender: "Recommender", case: Case, top: int, words: Words) -> None:
    """Print the answer for one case: class, frameworks, each decision, preparation, cautions, gaps."""
    from recommender.advice.analysis import NoAdviceError

    console = output.console()
    try:
        answer = recommender.recommend(case)
    except NoAdviceError as nothing:
        console.print(f"{case.id}: {words.text(nothing.statement)}")
        return
    flag = "   PROVISIONAL: rests on facts that were not recorded" if answer.provisional else ""
    console.rule(f"{case.id} ({case.arch})")
    console.print(f"{answer.kennedy.label}{flag}", style="bold")
    console.print(PURPOSE, style="dim")
    for number, framework in enumerate(answer.frameworks, 1):
        _framework(console, number, framework, words)
    for result in _in_order(answer):
        _decision(console, result, top, words)
    _seats(console, answer, words)
    _preparation(console, answer.preparation, words)
    _list(console, "Cautions and questions", words.lines(answer.cautions))
    gaps = [
        f"{words.gap(case, gap.field)} (bears on "
        f"{', '.join(words.choice(decision) for decision in map(decision_at, gap.would_change))})"
        for gap in answer.not_recorded[:10]
    ]
    _list(console, "Not recorded, and could change the answer", gaps)


def _in_order(answer: Recommendation) -> list[DecisionResult]:
    found: list[DecisionResult] = []
    for tooth, result in answer.retainers.items():
        found += [result, answer.rests[tooth]]
    return [*found, answer.connector, *answer.replacements.values()]


def _title(result: DecisionResult, words: Words) -> str:
    given = f", given {words.option('retainer', result.given)}" if result.given else ""
    return f"{words.title(result.decision)}{given}   (precedents count {result.precedent_weight:.0%})"


def _decision(console: Any, result: DecisionResult, top: int, words: Words) -> None:
    from rich.table import Table

    table = Table(title=_title(result, words), title_justify="left", expand=True)
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
            words.option(result.decision.kind, option.option),
            words.term("status", option.status),
            f"{option.score:.0f}{star}",
            f"{option.low:.0f}-{option.high:.0f}",
            _reasons(option, words),
        )
    console.print(table)
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


def _framework(console: Any, number: int, framework: Framework, words: Words) -> None:
    flag = "  PROVISIONAL" if framework.provisional else ""
    connector = words.option("connector", framework.connector)
    console.print(f"\nFramework {number}: {connector}, score {framework.score:.1f}{flag}", style="bold")
    for head, kind, parts in (
        ("retainers", "retainer", framework.retainers),
        ("rests", "rest", framework.rests),
        ("teeth", "replacement", framework.replacements),
        ("indirect retention", "rest", {seat.tooth: seat.rest for seat in framework.indirect_retainers}),
    ):
        if parts:
            said = (f"{words.tooth(tooth)} {words.option(kind, part)}" for tooth, part in parts.items())
            console.print(f"  {head}: " + ", ".join(said))
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
    routine = [step_words(step, words) for step in steps if step.routine]
    others = [step_words(step, words) for step in steps if not step.routine and step.permitted is not False]
    _list(console, "Routine preparation by the dentist", routine)
    _list(console, "Preparation that would open further options", others)


def _list(console: Any, title: str, lines: Any) -> None:
    lines = list(lines)
    if not lines:
        return
    console.print(f"\n{title}", style="bold")
    for line in lines:
        console.print(f"  - {line}")
