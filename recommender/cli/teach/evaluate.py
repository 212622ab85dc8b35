"""``evaluate``: agreement with published cases, with a panel's answers, and leave-one-out over a library."""

import sys
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option, recommender_for
from recommender.domain import statement
from recommender.domain.statement import Word

if TYPE_CHECKING:
    from collections.abc import Callable

    from recommender.curation.evaluation.learning_curve import Point
    from recommender.curation.evaluation.panel import PanelAgreement, Tally
    from recommender.curation.evaluation.published import Agreement
    from recommender.curation.evaluation.shares import Share
    from recommender.wording.words import Words


@click.group()
def evaluate() -> None:
    """How often the advice agrees with published designs, and with a library's own.

    Schools of design differ and some sources contradict each other: agreement is a figure to report, not a target.
    """


@evaluate.command()
@library_option(profile=True)
@click.option(
    "--cases",
    "folder",
    type=click.Path(exists=True, file_okay=False),
    help="Worked cases (default: the packaged ones).",
)
@click.option(
    "--items",
    "items_file",
    type=click.Path(exists=True, dir_okay=False),
    help="Examination items (default: the packaged ones).",
)
@output.json_option()
@output.words_options()
def published(
    where: str | None, folder: str | None, items_file: str | None, as_json: bool, words: "Words"
) -> None:
    """Published worked cases and examination items against the ranking.

    \b
    Example: rpd-casebook evaluate published --library none
    """
    from pathlib import Path

    from recommender.curation.evaluation.published import (
        exam_items,
        judge_cases,
        judge_frameworks,
        judge_items,
        published_cases,
    )

    recommender = recommender_for(where, as_json)
    worked = published_cases(Path(folder) if folder else None)
    cases = judge_cases(recommender, worked)
    whole = judge_frameworks(recommender, worked)
    items = judge_items(recommender, exam_items(Path(items_file) if items_file else None))
    if as_json:
        output.emit(
            {
                "format": 1,
                "worked_cases": document(cases, words),
                "exam_items": document(items, words),
                "whole_designs": document(whole, words),
            }
        )
        return
    for title, agreement in (
        ("Worked cases", cases),
        ("Examination items", items),
        ("Whole designs among the first three frameworks", whole),
    ):
        _show(title, agreement, words)


def document(agreement: "Agreement", words: "Words") -> dict[str, Any]:
    """The figures and every verdict; ``explained`` says in one sentence why a published choice does not come first."""
    from recommender.curation.evaluation.published import explained

    top = {f"top_{n}": dict(zip(("placed", "of"), agreement.share(n), strict=True)) for n in (1, 3)}
    return {
        "agree": agreement.agreeing,
        "of": len(agreement.verdicts),
        **top,
        "published_choice_excluded": len(agreement.excluded),
        "verdicts": [
            {
                "item": v.item, "ask": v.ask, "expected": v.expected, "found": v.found, "agrees": v.agrees,
                "rank": v.rank, "excluded": v.excluded, "why": words.said(v.why), "source": v.source,
                "explained": "" if v.agrees else explained(v),
            }
            for v in agreement.verdicts
        ],
    }  # fmt: skip


def _show(title: str, agreement: "Agreement", words: "Words") -> None:
    from recommender.cli.advise.decisions import named
    from recommender.curation.evaluation.published import explained

    first, ranked = agreement.share(1)
    third, _ = agreement.share(3)
    click.echo(output.style(title, bold=True))
    click.echo(
        "  "
        + words.told(
            "evaluate.expectations_hold", agreeing=agreement.agreeing, verdicts=len(agreement.verdicts)
        )
    )
    click.echo("  " + words.told("evaluate.published_choice_first", first=first, ranked=ranked, third=third))
    click.echo(f"  published choice excluded: {len(agreement.excluded)}")
    for verdict in agreement.verdicts:
        if not verdict.agrees:
            place = (" " + words.told("evaluate.rank", rank=verdict.rank)) if verdict.rank else ""
            asked, kind = named(verdict.ask, words), verdict.ask.partition(":")[0]
            expected, found = words.option(kind, verdict.expected), words.option(kind, verdict.found)
            code = "evaluate.rejected_here" if verdict.below else "evaluate.published_here"
            click.echo(
                "  "
                + words.told(
                    code, item=verdict.item, asked=asked, expected=expected, found=found, place=place
                )
            )
            if verdict.why is not None:
                click.echo(f"      {words.said(verdict.why)}")
            why = explained(verdict)
            click.echo("      " + words.told("evaluate.why" if why else "evaluate.why_open", why=why))
            click.echo(f"      {verdict.source}")


@evaluate.command()
@library_option(profile=True)
@click.option(
    "--panel",
    "folder",
    type=click.Path(exists=True, file_okay=False),
    help="Folder with cases and answers (default: the packaged panel).",
)
@output.json_option()
@output.words_options()
def panel(where: str | None, folder: str | None, as_json: bool, words: "Words") -> None:
    """Invented cases answered three times independently: opinions, no evidence.

    Accepted, same and refused, for the first of each ranked list and for the first whole framework, beside how far
    the answer sets agree with each other.

    \b
    Example: rpd-casebook evaluate panel --library none
    """
    from pathlib import Path

    from recommender.curation.evaluation.panel import judge_panel, panel_cases

    found = judge_panel(recommender_for(where, as_json), panel_cases(Path(folder) if folder else None))
    if as_json:
        output.emit(panel_document(found))
    else:
        _show_panel(found, words)


_PANEL_PARTS = {
    "ranked": "first of each ranked list",
    "framework": "first whole framework",
    "itself": "the answer sets among themselves",
}


_NOTE = "invented cases; the answers are opinions, no evidence"


def panel_document(found: "PanelAgreement") -> dict[str, Any]:
    """The tallies by kind of decision, and every choice that not all sets accept."""
    return {
        "format": 1,
        "note": _NOTE,
        **{
            part: {kind: _tally(tally) for kind, tally in getattr(found, part).items()}
            for part in _PANEL_PARTS
        },
        "differences": [
            {
                "case": d.case, "decision": d.decision, "of": "framework" if d.of_framework else "ranked",
                "found": d.found, "refused": d.refused, "answers": dict(d.answers),
            }
            for d in found.differences
        ],
    }  # fmt: skip


def _tally(tally: "Tally") -> dict[str, float]:
    return {"of": tally.of, "accepted": tally.accepted, "same": tally.same, "refused": tally.refused}


def _show_panel(found: "PanelAgreement", words: "Words") -> None:
    from recommender.cli.advise.decisions import named

    click.echo("Invented cases; the answers are opinions, no evidence.")
    for part, title in _PANEL_PARTS.items():
        click.echo(output.style(title, bold=True))
        for kind, tally in getattr(found, part).items():
            shares = [100 * n / tally.of for n in (tally.accepted, tally.same, tally.refused)]
            click.echo(
                "  "
                + words.told(
                    "evaluate.accepted_same_refused",
                    kind=kind,
                    what=f"{shares[0]:.0f}",
                    what_two=f"{shares[1]:.0f}",
                    what_three=f"{shares[2]:.0f}",
                    of=tally.of,
                )
            )
    for difference in found.differences:
        click.echo(
            "  - "
            + words.told(
                "evaluate.difference_refused" if difference.refused else "evaluate.difference",
                case=difference.case,
                decision=named(difference.decision, words),
                of=Word("part_of_answer", "framework" if difference.of_framework else "list"),
                found=difference.found,
            )
        )
        for name, said in difference.answers.items():
            click.echo(f"      {name}: {said}")


@evaluate.command()
@library_option()
@click.option(
    "--of",
    "which",
    type=click.Choice(["panel", "published", "demo"]),
    multiple=True,
    help="Which cases (default: all three).",
)
@output.json_option()
@output.words_options()
def wants(where: str | None, which: tuple[str, ...], as_json: bool, words: "Words") -> None:
    """How often each rule between parts moves a first framework away from what leads at a tooth.

    With the points that the parts gave up for it, and how often each want is left unmet.

    \b
    Example: rpd-casebook evaluate wants --of panel --library none
    """
    from recommender.curation.evaluation.panel import panel_cases
    from recommender.curation.evaluation.published import published_cases
    from recommender.curation.evaluation.wants import moves_of
    from recommender.domain.statement import quantity, say
    from recommender.precedents.source import demo_source

    recommender = recommender_for(where, as_json)
    sets = {
        "panel": lambda: [case for case, _ in panel_cases()],
        "published": lambda: [case for case, _, _ in published_cases()],
        "demo": lambda: list(demo_source().cases()),
    }
    rules = recommender.engine.knowledge.figures.frameworks.rules
    found = {name: moves_of(recommender, sets[name]()) for name in which or sets}
    if as_json:
        told = {
            name: {
                "frameworks": m.frameworks, "retainers": m.retainers, "leading": m.leading,
                "decisions": m.decisions, "near_ties": m.near_ties, "moved": dict(m.moved),
                "given_up": dict(m.given_up), "dearest": m.dearest, "not_met": dict(m.not_met),
            }
            for name, m in found.items()
        }  # fmt: skip
        output.emit({"format": 1, "sets": told})
        return
    for name, m in found.items():
        click.echo(output.style(name, bold=True))
        click.echo(
            "  "
            + words.told(
                "evaluate.first_frameworks_retainers",
                frameworks=m.frameworks,
                leading=m.leading,
                retainers=m.retainers,
            )
        )
        click.echo(
            "  " + words.told("evaluate.leading_two_called", near_ties=m.near_ties, decisions=m.decisions)
        )
        for reason, count in m.moved.most_common():
            code = f"between_parts.{reason}" if reason in rules else f"departs.{reason}"
            price = (
                words.told("evaluate.price", price=f"{rules[reason].price:g}", kind=rules[reason].kind)
                if reason in rules
                else ""
            )
            mean = m.given_up[reason] / count
            said = say(code, points=quantity(mean, "points") if reason == "neighbour_better" else None)
            most = m.dearest[reason]
            click.echo(
                "  "
                + words.told(
                    "evaluate.points_each_most",
                    count=count,
                    said=words.text(said),
                    mean=f"{mean:.1f}",
                    most=f"{most:.1f}",
                    price=price,
                )
            )
        for reason, count in m.not_met.most_common():
            click.echo(f"  {count} frameworks leave unmet: {words.text(say(f'between_parts.{reason}'))}")


@evaluate.command("leave-one-out")
@library_option()
@output.json_option()
@click.option("--jobs", type=int, default=1, show_default=True, help="Processes at work; -1 for all.")
@click.option("--every", is_flag=True, help="Advise every case of a large library, not 2,000 of them, evenly chosen.")
@click.option("--curve", is_flag=True, help="Also how it goes as the library grows (works every case out once more).")
@output.words_options()
def leave_one_out(where: str | None, as_json: bool, jobs: int, curve: bool, every: bool, words: "Words") -> None:
    """Each approved case advised without itself and its near-duplicates: how often its own choices come first.

    Rests and teeth that carry nothing count. Beside it: the rules alone, and always the commonest choice of the other
    cases. Intervals are 95 %, resampled by case. The published figures are judged; what a house profile gains is
    measured by profile learn, on cases that it was not learned from.

    \b
    Example: rpd-casebook evaluate leave-one-out --jobs 2
    """
    from recommender.curation.evaluation.leave_one_out import MOST, evaluate_some
    from recommender.curation.evaluation.summing_up import summary

    told = partial(output.tell_how_far, "cases")
    rows, of = evaluate_some(where, jobs, progress=told, most=None if every else MOST)
    found = summary(rows)
    points = _curve(where, told) if curve else []
    if as_json:
        grown = [
            {
                "cases": p.cases, "decision": p.kind, "first": p.first, "least": p.least, "most": p.most,
                "low": p.low, "high": p.high,
            }
            for p in points
        ]  # fmt: skip
        grown_too = {"learning_curve": grown} if curve else {}
        output.emit({"format": 1, **found.document(), "of_cases": of, **grown_too})
        sys.exit(output.DONE)
    chosen = None if every or of <= MOST else statement.count(of)
    click.echo(words.told("evaluate.cases_each_advised", cases=found.cases, chosen=chosen))
    for kind, group in found.by_kind.items():
        click.echo(
            "  "
            + words.told(
                "evaluate.own_choice_first",
                kind=kind,
                first=_percent(group.first),
                three=_percent(group.three),
                rules_first=_percent(group.rules_first),
                commonest=_percent(group.commonest),
            )
        )
    click.echo(words.told("library.teeth_which_design", without_clasp=_percent(found.without_clasp)))
    click.echo(words.told("evaluate.precedents_change_whether", changed=_percent(found.changed)))
    click.echo(words.told("evaluate.own_choices_rules", out_of_status=found.out_of_status))
    click.echo(output.style("By size of the lead, in points", bold=True))
    for (low, high), group_share in found.by_lead.items():
        size = (
            words.told("verb.from_to", low=f"{low:g}", high=f"{high:g}")
            if high < float("inf")
            else words.told("library.more", low=f"{low:g}")
        )
        click.echo("  " + words.told("evaluate.right", size=size, group_share=_percent(group_share)))
    click.echo(output.style("By option that was chosen", bold=True))
    for (kind, option), held in sorted(found.by_option.items(), key=lambda item: (item[0][0], -item[1].of)):
        name = words.option(kind, option)
        click.echo(f"  {words.told('verb.first_of', kind=kind, option=name, share=_percent(held))}")
    for point in points:
        spread = words.told(
            "evaluate.draws",
            low=f"{point.low:.0%}",
            high=f"{point.high:.0%}",
            least=f"{point.least:.0%}",
            most=f"{point.most:.0%}",
        )
        click.echo(
            "  "
            + words.told(
                "evaluate.cases_first",
                cases=point.cases,
                kind=point.kind,
                first=f"{point.first:.0%}",
                spread=spread,
            )
        )
    sys.exit(output.DONE)


def _percent(found: "Share") -> str:
    return output.told(
        "evaluate.of_to",
        held=found.held,
        of=found.of,
        share=f"{found.share:.0%}",
        low=f"{found.low:.0%}",
        high=f"{found.high:.0%}",
    )


def _curve(where: str | None, told: "Callable[[int, int], None]") -> "list[Point]":
    from recommender.curation.evaluation.learning_curve import learning_curve
    from recommender.knowledge.in_force import knowledge
    from recommender.precedents.store.opening import open_library

    return learning_curve(list(open_library(where).cases()), knowledge(), told)
