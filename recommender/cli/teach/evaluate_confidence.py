"""``evaluate calibration``, ``worth``, ``prediction-sets`` and the like: whether what is said of being sure holds."""

import random
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option, recommender_for
from recommender.cli.teach.evaluate_library import evaluate
from recommender.domain.statement import quantity, say

if TYPE_CHECKING:
    from recommender.curation.evaluation.calibration import Calibration
    from recommender.domain.case import Case

masks_option = click.option(
    "--masks", type=click.IntRange(1, 50), default=4, show_default=True, help="Times each case is masked."
)
most_option = click.option(
    "--most", type=click.IntRange(1), default=None, help="Cases to take at most, evenly over them."
)
cases_option = click.option(
    "--cases", "which", type=click.Choice(["library", "invented", "published", "all"]), default="library",
    show_default=True,
    help="The library's own, cases invented by fixed mechanisms, published worked cases; or all, with 100 invented "
    "ones, or as many as make up --most.",
)  # fmt: skip
keep_option = click.option(
    "--keep", type=click.Path(dir_okay=False, writable=True, path_type=Path), default=None,
    help="A file to keep what is found of each case, and to go on from when it was stopped.",
)  # fmt: skip


def _cases(which: str, where: str | None, most: int | None) -> "list[Case]":
    from recommender.curation.evaluation.mechanisms import invented_cases
    from recommender.curation.evaluation.published import published_cases
    from recommender.precedents.store.opening import open_library

    if which == "invented":
        return list(invented_cases(most or 100))
    cases: list[Case] = []
    if which in ("library", "all"):
        cases += open_library(None if where == "none" else where).cases()
    if which in ("published", "all"):
        cases += [case for case, _, _ in published_cases()]
    if which == "all":
        cases += invented_cases(100 if most is None else max(0, most - len(cases)))
        random.Random("all").shuffle(cases)  # what is stopped early has looked at some of each
    if most is not None and most < len(cases):
        cases = [cases[place * len(cases) // most] for place in range(most)]
    return cases


def _progress(total: int) -> Callable[[int], None]:
    return lambda done: output.tell_how_far("cases", done, total)


@evaluate.command()
@library_option()
@masks_option
@most_option
@cases_option
@keep_option
@output.json_option()
def calibration(
    where: str | None, masks: int, most: int | None, which: str, keep: Path | None, as_json: bool
) -> None:
    """Whether the stated acceptability holds: recorded facts masked by lot, the advice asked, then uncovered.

    \b
    Example: rpd-casebook evaluate calibration --most 20
    """
    from recommender.curation.evaluation.calibration import calibrate

    cases = _cases(which, where, most)
    found = calibrate(recommender_for(where, as_json), cases, masks, _progress(len(cases)), keep)
    if as_json:
        output.emit({**found.document(), "of": which})
    else:
        _show_calibration(found)


def _show_calibration(found: "Calibration") -> None:
    click.echo(
        output.told("evaluate.choices_masked_facts", judgements=len(found.judgements), cases=found.cases)
    )
    click.echo("stated         choices   said   stood   95 % of bootstraps   . as stated   # as it stood")
    for tenth in found.tenths:
        line = [" "] * 41
        line[round(40 * tenth.stated)] = "."
        line[round(40 * tenth.stood)] = "#"
        click.echo(
            output.told(
                "evaluate.to_to",
                low_edge=f"{tenth.low_edge:.1f}",
                high_edge=f"{tenth.high_edge:.1f}",
                number=f"{tenth.number:7d}",
                stated=f"{tenth.stated:4.2f}",
                stood=f"{tenth.stood:5.2f}",
                low=f"{tenth.low:4.2f}",
                high=f"{tenth.high:4.2f}",
                line="".join(line),
            )
        )
    for word, these in found.document()["standing"].items():
        if these["n"]:
            click.echo(
                output.told(
                    "evaluate.choices_which_stood",
                    word=word,
                    n=f"{these['n']:.0f}",
                    stood=f"{these['stood']:.0%}",
                )
            )
    click.echo(
        output.told(
            "evaluate.brier_score_always",
            brier=f"{found.brier:.4f}",
            brier_always=f"{found.brier_always:.4f}",
        )
    )


@evaluate.command("prediction-sets")
@library_option()
@click.option(
    "--houses", type=click.IntRange(1, 1000), default=None,
    help="Not of a library: mean coverage, on cases that had no part, over so many generated ones of 60 cases.",
)  # fmt: skip
@keep_option
@output.json_option()
def prediction_sets(where: str | None, houses: int | None, keep: Path | None, as_json: bool) -> None:
    """Within which options the accepted choice lies in 9 of 10 of a library's cases.

    Approved cases only, at least 60; each is advised without itself and its near duplicates.

    \b
    Example: rpd-casebook evaluate prediction-sets --library sqlite:///cases.db
    """
    from recommender.curation.evaluation.prediction_sets import LEAST_CASES, prediction_sets
    from recommender.precedents.store.opening import open_library

    if houses is not None:
        _generated(houses, keep, as_json)
        return
    cases = list(open_library(None if where == "none" else where).cases())
    found = prediction_sets(recommender_for(where, as_json), cases, _progress(len(cases)))
    if as_json:
        output.emit(found.document())
        return
    if not found.kinds:
        click.echo(output.told("library.approved_cases_design", cases=found.cases, least_cases=LEAST_CASES))
        return
    click.echo("In 9 of 10 of this library's cases the accepted choice lies in its set.")
    click.echo("Found on cases that had no part in it:")
    for each in found.kinds:
        within = "evaluate.within" if each.within < float("inf") else "evaluate.every_option"
        click.echo(
            "  "
            + output.told(
                "evaluate.cases_options_set",
                kind=each.kind,
                covered=f"{each.covered:.0%}",
                low=f"{each.low:.0%}",
                high=f"{each.high:.0%}",
                within=say(within, points=quantity(each.within)),
                size=f"{each.size:.1f}",
                options=each.options,
                choices=each.choices,
                cases=each.cases,
            )
        )


def _generated(houses: int, keep: Path | None, as_json: bool) -> None:
    from recommender.curation.evaluation.generated_houses import coverage

    found = coverage(
        recommender_for("none", as_json), houses, None,
        lambda done: output.tell_how_far("libraries", done, houses), keep,
    )  # fmt: skip
    means = {kind: sum(rates) / len(rates) for kind, rates in found.items()}
    if as_json:
        output.emit({"format": 1, "houses": houses, "mean_coverage": means, "coverage": found})
        return
    click.echo(output.told("evaluate.mean_coverage_over", houses=houses))
    for kind, mean in means.items():
        click.echo(
            "  "
            + output.told(
                "evaluate.least_most",
                kind=kind,
                mean=f"{mean:.1%}",
                min=f"{min(found[kind]):.0%}",
                max=f"{max(found[kind]):.0%}",
            )
        )


@evaluate.command()
@library_option()
@most_option
@cases_option
@keep_option
@output.json_option()
def standing(where: str | None, most: int | None, which: str, keep: Path | None, as_json: bool) -> None:
    """How many choices are firm, firm if or open, in cases as they are recorded.

    \b
    Example: rpd-casebook evaluate standing --most 20
    """
    from recommender.curation.evaluation.standings import WORDS, standings

    cases = _cases(which, where, most)
    found = standings(recommender_for(where, as_json), cases, _progress(len(cases)), keep)
    if as_json:
        output.emit({**found.document(), "of": which})
        return
    for name, counted in (("decisions", found.decisions), ("first frameworks", found.frameworks)):
        total = counted.total() or 1
        shares = ", ".join(
            f"{word.replace('_', ' ')} {counted[word]} ({counted[word] / total:.0%})" for word in WORDS
        )
        click.echo(
            output.told("evaluate.cases", total=counted.total(), name=name, cases=found.cases, shares=shares)
        )
    click.echo(output.told("evaluate.dangerous_question_open", waiting=found.waiting, cases=found.cases))


@evaluate.command()
@library_option()
@most_option
@cases_option
@click.option(
    "--masked", type=click.IntRange(1, 40), default=6, show_default=True, help="Facts masked in each case."
)
@keep_option
@output.json_option()
def worth(
    where: str | None, most: int | None, which: str, masked: int, keep: Path | None, as_json: bool
) -> None:
    """Whether what answers are said to be worth holds, against working each case out with every answer.

    \b
    Example: rpd-casebook evaluate worth --most 5
    """
    from recommender.curation.evaluation.worth import worth_held

    cases = _cases(which, where, most)
    found = worth_held(recommender_for(where, as_json), cases, masked, _progress(len(cases)), keep)
    if as_json:
        output.emit({**found.document(), "of": which})
        return
    held, of = found.first_among_two
    ranked = len(found.worth_ranking)
    click.echo(
        output.told(
            "evaluate.masked_fields_cases", fields=len(found.fields), cases=found.cases, ranked=ranked
        )
    )
    click.echo(
        output.told("evaluate.rank_correlation_over", rank_correlation=f"{found.rank_correlation:.2f}")
    )
    click.echo(output.told("evaluate.field_named_first", held=held, of=of))


@evaluate.command("frameworks")
@library_option()
@most_option
@cases_option
@click.option(
    "--worlds", type=click.IntRange(1, 400), default=8, show_default=True, help="Worlds of each case."
)
@output.json_option()
def frameworks(where: str | None, most: int | None, which: str, worlds: int, as_json: bool) -> None:
    """How far the acceptability of whole frameworks is off, against asking the solver again in some worlds.

    \b
    Example: rpd-casebook evaluate frameworks --most 5
    """
    from recommender.curation.evaluation.worth import solved_again

    cases = _cases(which, where, most)
    found = solved_again(recommender_for(where, as_json), cases, worlds, progress=_progress(len(cases)))
    total = sum(each.worlds for each in found) or 1
    figures = {
        "same": sum(each.same for each in found) / total,
        "leads_in_pool": sum(each.leads_in_pool for each in found) / total,
        "leads_again": sum(each.leads_again for each in found) / total,
        "points_behind": sum(each.behind * (each.worlds - each.blocked) for each in found) / total,
        "pool_blocked": sum(each.blocked for each in found) / total,
    }
    if as_json:
        output.emit({"format": 1, "of": which, "cases": len(found), "worlds": total, **figures})
        return
    click.echo(output.told("evaluate.worlds_cases_solver", total=total, found=len(found)))
    click.echo(
        output.told(
            "evaluate.pool_s_leader",
            same=f"{figures['same']:.0%}",
            points_behind=f"{figures['points_behind']:.2f}",
            pool_blocked=f"{figures['pool_blocked']:.0%}",
        )
    )
    click.echo(
        output.told(
            "evaluate.proposed_framework_leads",
            leads_in_pool=f"{figures['leads_in_pool']:.0%}",
            leads_again=f"{figures['leads_again']:.0%}",
        )
    )
