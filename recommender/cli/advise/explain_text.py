"""An explanation as a person reads it in a terminal."""

from collections.abc import Sequence
from math import fsum
from typing import TYPE_CHECKING

import click

from recommender.advice.explanation.counterfactuals.changes import Changes
from recommender.advice.explanation.counterfactuals.preparation import Plan
from recommender.advice.explanation.counterfactuals.probe import figures
from recommender.advice.explanation.explain import Explanation, line_key
from recommender.advice.explanation.paths import SentencePath
from recommender.advice.model import BlockedBy, Contribution
from recommender.cli import output
from recommender.cli.advise.recommend_text import PURPOSE, STATUS_WORDS
from recommender.domain.case import Case
from recommender.domain.labels import field_label, field_unit, gap_label

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis

_FEW = 5


class Names:
    """What options and criteria are called."""

    def __init__(self, analysis: "CaseAnalysis", kind: str) -> None:
        self._options = analysis.engine.knowledge.catalogue.options[kind]
        self._criteria = analysis.engine.knowledge.criteria.labels

    def option(self, identifier: str) -> str:
        return self._options[identifier].label

    def criterion(self, identifier: str) -> str:
        return self._criteria[identifier]


def show(analysis: "CaseAnalysis", found: Explanation, full: bool) -> None:
    """Print an explanation; ``full`` tells everything that would change it."""
    names = Names(analysis, found.decision.kind)
    option = found.option
    given = f", given {Names(analysis, 'retainer').option(found.given)}" if found.given else ""
    click.echo(
        output.style(
            f"{analysis.case.id}, {found.decision.key}{given}: {names.option(option.option)}, "
            f"{STATUS_WORDS[option.status]}, {option.score:.1f} ({option.low:.1f} to {option.high:.1f}), "
            f"rank {option.rank}",
            bold=True,
        )
    )
    if option.provisional:
        click.echo(
            "PROVISIONAL: rests on facts that were not recorded: " + _paths(analysis.case, option.unverified)
        )
    click.echo(PURPOSE)
    _blocks(option.blocked_by)
    _why(found, full)
    _precedents(found)
    _contrast(found, names, full)
    _head("How sure")
    for words in found.sure.words:
        click.echo(f"  {words}")
    for reason in found.sure.reasons:
        click.echo(f"  certainty: {reason}")
    if found.changes is not None:
        _changes(found, found.changes, names, None if full else _FEW)


def _why(found: Explanation, full: bool) -> None:
    """The starting values in one sum, then every other line but the precedents, largest first."""
    _head("Why, largest first")
    starts = [line for line in found.lines if line.kind == "start"]
    click.echo(
        f"  {fsum(line.points for line in starts):+6.2f}  where it starts: {len(starts)} criteria, before any case"
    )
    for line in starts if full else ():
        _line(line, None)
    lines = [line for line in found.lines if line.kind not in ("start", "precedent")]
    shown = lines if full else lines[: 2 * _FEW]
    for line in shown:
        _line(line, found.paths.get(line_key(line)))
    _rest([line.points for line in lines[len(shown) :]])
    said = [line.points for line in found.lines if line.kind == "precedent"]
    if said:
        click.echo(f"  {fsum(said):+6.2f}  what {len(said)} precedents say, below")


def _rest(points: list[float]) -> None:
    if points:
        click.echo(f"  {fsum(points):+6.2f}  {len(points)} smaller lines")


def _head(text: str) -> None:
    click.echo("\n" + output.style(text, bold=True))


def _paths(case: Case, paths: tuple[str, ...]) -> str:
    return "; ".join(gap_label(case, path) for path in paths)


def _line(line: Contribution, path: SentencePath | None) -> None:
    click.echo(f"  {line.points:+6.2f}  {line.text}")
    for field, cited in line.because.items():
        without = "" if cited.without_this is None else f" (without this: {cited.without_this:.1f})"
        click.echo(f"            because {field_label(field)} is {_value(cited.value, field)}{without}")
    if line.kind == "rule":
        click.echo(f"            {line.id}; {line.source}")
        if path is not None and path.condition and not line.because:
            click.echo(f"            when {path.condition}")


def _value(value: object, path: str) -> str:
    if isinstance(value, (list, tuple, set, frozenset)):
        return ", ".join(str(each).replace("_", " ") for each in value) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return f"{value:g} {field_unit(path)}".strip()
    return "not recorded" if value is None else str(value).replace("_", " ")


def _blocks(blocks: tuple[BlockedBy, ...]) -> None:
    for block in blocks:
        click.echo(f"  {block.kind.replace('_', ' ')}: {block.text} [{block.id}; {block.source}]")


def _precedents(found: Explanation) -> None:
    for head, said in (
        ("Precedents for it", [one for one in found.precedents if one.points > 0]),
        ("Precedents against it", [one for one in found.precedents if one.points < 0]),
    ):
        if said:
            _head(head)
            for one in said[:_FEW]:
                where = f" on {one.site}" if one.site else ""
                click.echo(
                    f"  {one.points:+6.2f}  {one.case_id}{where}: {one.choice.replace('_', ' ')}, "
                    f"likeness {one.similarity:.2f}; {one.verdict}"
                )


def _contrast(found: Explanation, names: Names, full: bool) -> None:
    difference = found.contrast
    if difference is None:
        return
    second = difference.second
    _head(
        f"Why not {names.option(second.option)} ({STATUS_WORDS[second.status]}, {second.score:.1f}): "
        f"{difference.points:+.1f} in all"
    )
    if difference.settled_by_status:
        click.echo("  What decides is the status, not the points.")
    _blocks(second.blocked_by)
    shown = difference.lines if full else difference.lines[: 2 * _FEW]
    for line in shown:
        click.echo(f"  {line.points:+6.2f}  {line.text}")
        if line.kind == "rule":
            click.echo(f"            {line.id}; {line.source}")
    _rest([line.points for line in difference.lines[len(shown) :]])


def _changes(found: Explanation, changes: Changes, names: Names, few: int | None) -> None:
    _head("What would change it (each run again with the change made; weights solved exactly)")
    for words in plans_words(changes.plans, names):
        click.echo("  " + words)
    shown = changes.toward if changes.toward is not None else changes.flips
    if not shown.flips:
        which = "puts it first" if changes.toward is not None else "puts another first"
        click.echo(f"  no change of a single recorded fact {which}")
    for flip in shown.flips[:few]:
        click.echo(
            f"  {field_label(flip.path)}: {_value(flip.value, flip.path)} instead of "
            f"{_value(flip.now, flip.path)} would put {names.option(flip.leader)} first"
        )
    ends = [
        (room, end, word)
        for room in changes.rooms
        for end, word in ((room.down, "below"), (room.up, "above"))
        if end is not None and end.share <= float(figures()["weight_told_to"])
    ]
    for room, end, word in ends[:few]:
        click.echo(
            f"  {names.criterion(room.criterion)} counting {word} {end.share:.1%} (now {room.share:.1%}) would put "
            f"{names.option(end.leader)} first"
        )
    if not ends:
        click.echo("  no shift of a single criterion within reason puts another first")
    _measure(changes, names, few)
    left = {
        *changes.flips.not_tried,
        *(changes.toward.not_tried if changes.toward else ()),
        *changes.worths.not_tried,
    }
    if left:
        click.echo(f"  the search stopped at its limit; fields of less pull that were not tried: {len(left)}")


def _measure(changes: Changes, names: Names, few: int | None) -> None:
    """The unrecorded fields that are most worth recording."""
    for worth in changes.worths.fields[: few and few - 2]:
        by_leader: dict[str, list[str]] = {}
        for value, leader in worth.flips:
            by_leader.setdefault(leader, []).append(_value(value, worth.path))
        told = int(figures()["values_told"])
        parts = [
            f"{names.option(leader)} at {', '.join(values[:told])}"
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
            f"  not recorded, {field_label(worth.path)}: {said} (moves the score by up to "
            f"{worth.largest_move:.1f}{firm})"
        )


def plans_words(plans: Sequence[Plan], names: Names) -> list[str]:
    """Preparation plans in sentences, with their price; what opens an option and puts it first is said once."""
    words: dict[tuple[str, str], list[str]] = {}
    for plan in plans:
        work = ", ".join(
            f"{s.action.replace('_', ' ')} on {s.tooth} {s.surface.replace('_', ' ')}" for s in plan.steps
        )
        visits = f"{plan.price.visits} visit{'s' if plan.price.visits != 1 else ''}"
        told = {True: "", False: "; not permitted", None: "; the dentist has to agree"}[plan.permitted]
        key = (f"{work} ({plan.price.enamel_mm:.2g} mm of enamel, {visits}{told})", names.option(plan.option))
        if not plan.reached:
            said = f"belongs to it and leaves it listed as {STATUS_WORDS[plan.status]}"
        else:
            said = "would open it" if plan.goal == "open" else "would put it first"
        words.setdefault(key, []).append(said)
    return [f"{option}: {work} {' and '.join(said)}" for (work, option), said in words.items()]
