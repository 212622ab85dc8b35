"""``evaluate``: agreement with published cases and a panel's answers, and what frameworks give up."""

from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option, recommender_for
from recommender.domain.statement import Word

if TYPE_CHECKING:
    from recommender.curation.evaluation.panel import PanelAgreement, Tally
    from recommender.curation.evaluation.published import Agreement
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
                "below": v.below, "rank": v.rank, "excluded": v.excluded, "why": words.said(v.why), "source": v.source,
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
