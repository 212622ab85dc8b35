"""``evaluate leave-one-out``: how often a library's own choices come first."""

import sys
from functools import partial
from typing import TYPE_CHECKING

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.domain import statement

if TYPE_CHECKING:
    from collections.abc import Callable

    from recommender.curation.evaluation.learning_curve import Point
    from recommender.curation.evaluation.shares import Share
    from recommender.wording.words import Words

from recommender.cli.teach.evaluate import evaluate as evaluate


@evaluate.command("leave-one-out")
@library_option()
@output.json_option()
@click.option("--jobs", type=int, default=1, show_default=True, help="Processes at work; -1 for all.")
@click.option(
    "--every", is_flag=True, help="Advise every case of a large library, not 2,000 of them, evenly chosen."
)
@click.option(
    "--curve", is_flag=True, help="Also how it goes as the library grows (works every case out once more)."
)
@output.words_options()
def leave_one_out(
    where: str | None, as_json: bool, jobs: int, curve: bool, every: bool, words: "Words"
) -> None:
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
