"""An explanation as a person reads it in a terminal."""

from collections.abc import Sequence
from math import fsum
from typing import TYPE_CHECKING

import click

from recommender.advice.explanation.counterfactuals.changes import Changes
from recommender.advice.explanation.counterfactuals.preparation import Plan
from recommender.advice.explanation.explain import Explanation, line_key
from recommender.advice.explanation.paths import SentencePath
from recommender.advice.model import BlockedBy, Contribution
from recommender.cli import output
from recommender.cli.advise.recommend_text import PURPOSE
from recommender.domain.case import Case
from recommender.domain.labels import field_unit
from recommender.precedents.outcome_value import verdict
from recommender.wording.words import Words

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis

_FEW = 5


def show(words: Words, analysis: "CaseAnalysis", found: Explanation, full: bool) -> None:
    """Print an explanation; ``full`` tells everything that would change it."""
    kind = found.decision.kind
    option = found.option
    given = f", given {words.option('retainer', found.given)}" if found.given else ""
    click.echo(
        output.style(
            f"{analysis.case.id}, {words.choice(found.decision)}{given}: {words.option(kind, option.option)}, "
            f"{words.term('status', option.status)}, {option.score:.1f} ({option.low:.1f} to {option.high:.1f}), "
            f"rank {option.rank}",
            bold=True,
        )
    )
    if option.provisional:
        told = _paths(words, analysis.case, option.unverified)
        click.echo("PROVISIONAL: plausible values of what was not recorded could change its place: " + told)
    click.echo(PURPOSE)
    _blocks(words, option.blocked_by)
    _why(words, found, full)
    _precedents(words, found)
    _contrast(words, found, full)
    _head("How sure")
    for line in words.lines(found.sure.words):
        click.echo(f"  {line}")
    for reason in words.lines(found.sure.reasons):
        click.echo(f"  certainty: {reason}")
    if found.changes is not None:
        _changes(words, analysis, found, None if full else _FEW)


def _why(words: Words, found: Explanation, full: bool) -> None:
    """The starting values in one sum, then every other line but the precedents, largest first."""
    _head("Why, largest first")
    starts = [line for line in found.lines if line.kind == "start"]
    click.echo(
        f"  {fsum(line.points for line in starts):+6.2f}  where it starts: {len(starts)} criteria, before any case"
    )
    for line in starts if full else ():
        _line(words, line, None)
    lines = [line for line in found.lines if line.kind not in ("start", "precedent")]
    shown = lines if full else lines[: 2 * _FEW]
    for line in shown:
        _line(words, line, found.paths.get(line_key(line)))
    _rest([line.points for line in lines[len(shown) :]])
    said = [line.points for line in found.lines if line.kind == "precedent"]
    if said:
        click.echo(f"  {fsum(said):+6.2f}  what {len(said)} precedents say, below")


def _rest(points: list[float]) -> None:
    if points:
        click.echo(f"  {fsum(points):+6.2f}  {len(points)} smaller lines")


def _head(text: str) -> None:
    click.echo("\n" + output.style(text, bold=True))


def _paths(words: Words, case: Case, paths: tuple[str, ...]) -> str:
    return "; ".join(words.gap(case, path) for path in paths)


def _line(words: Words, line: Contribution, path: SentencePath | None) -> None:
    click.echo(f"  {line.points:+6.2f}  {words.text(line.statement)}")
    for field, cited in line.because.items():
        without = "" if cited.without_this is None else f" (without this: {cited.without_this:.1f})"
        click.echo(f"            because {words.path(field)} is {_value(cited.value, field)}{without}")
    if line.kind == "rule":
        click.echo(f"            source: {line.source}")
        if path is not None and path.condition and not line.because:
            click.echo(f"            when {_condition(line.id)}")


def _condition(rule: str) -> str:
    """When a rule speaks, in words."""
    from recommender.knowledge.in_force import knowledge
    from recommender.knowledge.wording import in_words

    known = knowledge()
    return in_words(known.rule(rule).when.root, known.registry)


def _value(value: object, path: str) -> str:
    if isinstance(value, (list, tuple, set, frozenset)):
        return ", ".join(str(each).replace("_", " ") for each in value) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return f"{value:g} {field_unit(path)}".strip()
    return "not recorded" if value is None else str(value).replace("_", " ")


def _blocks(words: Words, blocks: tuple[BlockedBy, ...]) -> None:
    for block in blocks:
        click.echo(f"  {block.kind.replace('_', ' ')}: {words.text(block.statement)} [{block.source}]")


def _precedents(words: Words, found: Explanation) -> None:
    for head, said in (
        ("Precedents for it", [one for one in found.precedents if one.points > 0]),
        ("Precedents against it", [one for one in found.precedents if one.points < 0]),
    ):
        if said:
            _head(head)
            for one in said[:_FEW]:
                where = f" on {words.tooth(one.site)}" if one.site else ""
                click.echo(
                    f"  {one.points:+6.2f}  {one.case_id}{where}: {words.option(found.decision.kind, one.choice)}, "
                    f"likeness {one.similarity:.2f}; {words.text(verdict(one.verdict))}"
                )


def _contrast(words: Words, found: Explanation, full: bool) -> None:
    difference = found.contrast
    if difference is None:
        return
    second = difference.second
    _head(
        f"Why not {words.option(found.decision.kind, second.option)} "
        f"({words.term('status', second.status)}, {second.score:.1f}): "
        f"{difference.points:+.1f} in all"
    )
    if difference.settled_by_status:
        click.echo("  What decides is the status, not the points.")
    _blocks(words, second.blocked_by)
    shown = difference.lines if full else difference.lines[: 2 * _FEW]
    for line in shown:
        click.echo(f"  {line.points:+6.2f}  {words.text(line.statement)}")
        if line.kind == "rule":
            click.echo(f"            {line.id}; {line.source}")
    _rest([line.points for line in difference.lines[len(shown) :]])


def _changes(words: Words, analysis: "CaseAnalysis", found: Explanation, few: int | None) -> None:
    _head("What would change it (each run again with the change made; weights solved exactly)")
    kind, changes = found.decision.kind, found.changes
    known = analysis.engine.knowledge.figures.confidence
    assert changes is not None
    for line in plans_words(words, kind, changes.plans):
        click.echo("  " + line)
    shown = changes.toward if changes.toward is not None else changes.flips
    if not shown.flips:
        which = "puts it first" if changes.toward is not None else "puts another first"
        click.echo(f"  no change of a single recorded fact {which}")
    for flip in shown.flips[:few]:
        click.echo(
            f"  {words.path(flip.path)}: {_value(flip.value, flip.path)} instead of "
            f"{_value(flip.now, flip.path)} would put {words.option(kind, flip.leader)} first"
        )
    ends = [
        (room, end, word)
        for room in changes.rooms
        for end, word in ((room.down, "below"), (room.up, "above"))
        if end is not None and end.share <= known.weight_told_to
    ]
    for room, end, word in ends[:few]:
        criterion = words.term("criterion", room.criterion)
        click.echo(
            f"  {criterion} counting {word} {end.share:.1%} (now {room.share:.1%}) would put "
            f"{words.option(kind, end.leader)} first"
        )
    if not ends:
        click.echo("  no shift of a single criterion within reason puts another first")
    _measure(words, kind, changes, few, known.values_told)
    left = {
        *changes.flips.not_tried,
        *(changes.toward.not_tried if changes.toward else ()),
        *changes.worths.not_tried,
    }
    if left:
        click.echo(f"  the search stopped at its limit; fields of less pull that were not tried: {len(left)}")


def _measure(words: Words, kind: str, changes: Changes, few: int | None, told: int) -> None:
    """The unrecorded fields that are most worth recording."""
    for worth in changes.worths.fields[: few and few - 2]:
        by_leader: dict[str, list[str]] = {}
        for value, leader in worth.flips:
            by_leader.setdefault(leader, []).append(_value(value, worth.path))
        parts = [
            f"{words.option(kind, leader)} at {', '.join(values[:told])}"
            + (
                f" and {len(values) - told} more of the {worth.tried} values tried"
                if len(values) > told
                else ""
            )
            for leader, values in by_leader.items()
        ]
        said = "would put first " + "; ".join(parts) if parts else "would not change the choice"
        firm = f", would settle it for {worth.firm} of {worth.tried} values" if worth.firm else ""
        click.echo(
            f"  not recorded, {words.path(worth.path)}: {said} (moves the score by up to "
            f"{worth.largest_move:.1f}{firm})"
        )


def plans_words(words: Words, kind: str, plans: Sequence[Plan]) -> list[str]:
    """Preparation plans in sentences, with their price; what opens an option and puts it first is said once."""
    told: dict[tuple[str, str], list[str]] = {}
    for plan in plans:
        work = ", ".join(words.step(step.tooth, step.surface, step.action) for step in plan.steps)
        visits = f"{plan.price.visits} visit{'s' if plan.price.visits != 1 else ''}"
        leave = {True: "", False: "; not permitted", None: "; the dentist has to agree"}[plan.permitted]
        key = (
            f"{work} ({plan.price.enamel_mm:.2g} mm of enamel, {visits}{leave})",
            words.option(kind, plan.option),
        )
        if not plan.reached:
            said = f"belongs to it and leaves it listed as {words.term('status', plan.status)}"
        else:
            said = "would make it possible" if plan.goal == "open" else "would put it first"
        told.setdefault(key, []).append(said)
    return [f"{option}: {work} {' and '.join(said)}" for (work, option), said in told.items()]
