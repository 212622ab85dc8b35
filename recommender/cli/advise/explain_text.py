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
from recommender.domain.statement import (
    Choice,
    Field,
    Said,
    Statement,
    Word,
    count,
    quantity,
    say,
    several,
    tooth,
)
from recommender.precedents.outcome_value import verdict
from recommender.wording.words import Words

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis

_FEW = 5


def show(words: Words, analysis: "CaseAnalysis", found: Explanation, full: bool) -> None:
    """Print an explanation; ``full`` tells everything that would change it."""
    kind = found.decision.kind
    option = found.option
    head = words.told(
        "verb.explain.head",
        case=analysis.case.id,
        decision=found.decision,
        given=Choice("retainer", found.given) if found.given else None,
        option=Choice(kind, option.option),
        status=Word("status", option.status),
        score=quantity(option.score),
        low=quantity(option.low) if option.low < option.high else None,
        high=quantity(option.high) if option.low < option.high else None,
        rank=option.rank,
    )
    click.echo(output.style(head, bold=True))
    if option.provisional:
        told = _paths(words, analysis.case, option.unverified)
        click.echo(words.told("verb.explain.provisional", fields=told))
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
    begun = words.told("verb.explain.starts", n=len(starts))
    click.echo(f"  {fsum(line.points for line in starts):+6.2f}  {begun}")
    for line in starts if full else ():
        _line(words, line, None)
    lines = [line for line in found.lines if line.kind not in ("start", "precedent")]
    shown = lines if full else lines[: 2 * _FEW]
    for line in shown:
        _line(words, line, found.paths.get(line_key(line)))
    _rest(words, [line.points for line in lines[len(shown) :]])
    said = [line.points for line in found.lines if line.kind == "precedent"]
    if said:
        click.echo(f"  {fsum(said):+6.2f}  {words.told('verb.explain.precedents_say', n=len(said))}")


def _rest(words: Words, points: list[float]) -> None:
    if points:
        click.echo(f"  {fsum(points):+6.2f}  {words.told('verb.explain.smaller', n=len(points))}")


def _head(text: str) -> None:
    click.echo("\n" + output.style(text, bold=True))


def _paths(words: Words, case: Case, paths: tuple[str, ...]) -> str:
    return "; ".join(words.gap(case, path) for path in paths)


def _line(words: Words, line: Contribution, path: SentencePath | None) -> None:
    click.echo(f"  {line.points:+6.2f}  {words.text(line.statement)}")
    for field, cited in line.because.items():
        without = None if cited.without_this is None else quantity(cited.without_this)
        value = _value(cited.value, field)
        told = words.told("verb.explain.because", field=Field(field), value=value, without=without)
        click.echo(f"            {told}")
    if line.kind == "rule":
        click.echo(f"            source: {line.source}")
        if path is not None and path.condition and not line.because:
            click.echo(f"            {words.told('verb.explain.when', condition=_condition(line.id))}")


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
                told = words.told(
                    "verb.precedent",
                    case=one.case_id,
                    site=tooth(one.site) if one.site else None,
                    option=Choice(found.decision.kind, one.choice),
                    likeness=quantity(one.similarity, "", 2),
                    fared=verdict(one.verdict),
                )
                click.echo(f"  {one.points:+6.2f}  {told}")


def _contrast(words: Words, found: Explanation, full: bool) -> None:
    difference = found.contrast
    if difference is None:
        return
    second = difference.second
    _head(
        words.told(
            "verb.explain.why_not_in_all",
            option=Choice(found.decision.kind, second.option),
            status=Word("status", second.status),
            score=quantity(second.score),
            points=quantity(difference.points),
        )
    )
    if difference.settled_by_status:
        click.echo(f"  {words.told('verb.explain.status_decides')}")
    _blocks(words, second.blocked_by)
    shown = difference.lines if full else difference.lines[: 2 * _FEW]
    for line in shown:
        click.echo(f"  {line.points:+6.2f}  {words.text(line.statement)}")
        if line.kind == "rule":
            click.echo(f"            {line.id}; {line.source}")
    _rest(words, [line.points for line in difference.lines[len(shown) :]])


def _changes(words: Words, analysis: "CaseAnalysis", found: Explanation, few: int | None) -> None:
    _head("What would change it (each run again with the change made; weights solved exactly)")
    kind, changes = found.decision.kind, found.changes
    known = analysis.engine.knowledge.figures.confidence
    assert changes is not None
    for line in plans_words(words, kind, changes.plans):
        click.echo("  " + line)
    shown = changes.toward if changes.toward is not None else changes.flips
    if not shown.flips:
        code = "verb.explain.no_flip_to_it" if changes.toward is not None else "verb.explain.no_flip"
        click.echo(f"  {words.told(code)}")
    for flip in shown.flips[:few]:
        told = words.told(
            "verb.explain.flip",
            field=Field(flip.path),
            value=_value(flip.value, flip.path),
            now=_value(flip.now, flip.path),
            option=Choice(kind, flip.leader),
        )
        click.echo(f"  {told}")
    ends = [
        (room, end, code)
        for room in changes.rooms
        for end, code in ((room.down, "verb.explain.below"), (room.up, "verb.explain.above"))
        if end is not None and end.share <= known.weight_told_to
    ]
    for room, end, code in ends[:few]:
        told = words.told(
            code,
            criterion=Word("criterion", room.criterion),
            share=f"{end.share:.1%}",
            now=f"{room.share:.1%}",
            option=Choice(kind, end.leader),
        )
        click.echo(f"  {told}")
    if not ends:
        click.echo(f"  {words.told('verb.explain.no_shift')}")
    _measure(words, kind, changes, few, known.values_told)
    left = {
        *changes.flips.not_tried,
        *(changes.toward.not_tried if changes.toward else ()),
        *changes.worths.not_tried,
    }
    if left:
        click.echo(f"  {words.told('verb.explain.stopped', n=len(left))}")


def _measure(words: Words, kind: str, changes: Changes, few: int | None, told: int) -> None:
    """The unrecorded fields that are most worth recording."""
    for worth in changes.worths.fields[: few and few - 2]:
        by_leader: dict[str, list[str]] = {}
        for value, leader in worth.flips:
            by_leader.setdefault(leader, []).append(_value(value, worth.path))
        parts = several(
            say(
                "verb.explain.leads_at",
                option=Choice(kind, leader),
                values=Said(", ".join(values[:told])),
                more=count(len(values) - told) if len(values) > told else None,
                tried=count(worth.tried),
            )
            for leader, values in by_leader.items()
        )
        line = words.told(
            "verb.explain.worth" if parts else "verb.explain.worth_nothing",
            field=Field(worth.path),
            leaders=parts,
            most=quantity(worth.largest_move),
            firm=worth.firm or None,
            tried=worth.tried,
        )
        click.echo(f"  {line}")


def plans_words(words: Words, kind: str, plans: Sequence[Plan]) -> list[str]:
    """Preparation plans in sentences, with their price; what opens an option and puts it first is said once."""
    told: dict[tuple[str, str], list[Statement]] = {}
    for plan in plans:
        work = ", ".join(words.step(step.tooth, step.surface, step.action) for step in plan.steps)
        leave = {True: None, False: say("verb.explain.forbidden"), None: say("verb.explain.to_agree")}
        price = words.told(
            "verb.explain.price",
            work=work,
            enamel=f"{plan.price.enamel_mm:.2g}",
            visits=plan.price.visits,
            leave=leave[plan.permitted],
        )
        if not plan.reached:
            said = say("verb.explain.belongs", status=Word("status", plan.status))
        else:
            said = say("verb.explain.makes_possible" if plan.goal == "open" else "verb.explain.puts_first")
        told.setdefault((price, plan.option), []).append(said)
    return [
        words.told("verb.explain.plan", option=Choice(kind, option), work=price, does=several(said, "and"))
        for (price, option), said in told.items()
    ]
