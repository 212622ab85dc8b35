"""``precedents``: nearest stored cases for one decision or all, what is alike and what differs."""

import sys
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.decisions import HELP, parse_decision
from recommender.cli.advise.libraries import library_option, recommender_for
from recommender.domain.case import Case
from recommender.domain.statement import quantity, tooth
from recommender.precedents.outcome_value import verdict

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis
    from recommender.advice.model import Decision
    from recommender.advice.recommend import Recommender
    from recommender.precedents.model import FeatureAccount, Neighbour
    from recommender.wording.words import Words


@click.command()
@output.case_argument(many=False)
@click.option("--for", "decision", default=None, help=HELP)
@click.option(
    "-k", "count", type=click.IntRange(min=1, max=1000), default=5, show_default=True, help="How many."
)
@click.option(
    "--weight",
    "weights",
    multiple=True,
    metavar="FEATURE=N",
    help="Weigh a feature differently for this call; repeatable.",
)
@click.option("--drafts", is_flag=True, help="Draft cases too.")
@library_option(profile=True)
@output.json_option()
@output.words_options()
def precedents(
    case: str,
    decision: str | None,
    count: int,
    weights: tuple[str, ...],
    drafts: bool,
    where: str | None,
    as_json: bool,
    words: "Words",
) -> None:
    """The stored cases most like this one at each decision: what is alike, what differs, what is not recorded.

    \b
    Example: rpd-casebook precedents my-case.yaml --for retainer:14 -k 3
    """
    from recommender.advice.analysis import NoAdviceError

    recommender = recommender_for(where, as_json, approved_only=not drafts)
    changed = _weights(weights, recommender)

    def answer(found: Case) -> dict[str, Any]:
        try:
            analysis = recommender.work(found)
        except NoAdviceError:
            return {"format": 1, "case": found.id, "precedents": {}}
        wanted = [parse_decision(decision, analysis, words)] if decision else analysis.decisions()
        return {
            "format": 1,
            "case": found.id,
            "precedents": {
                asked.key: [
                    neighbour_document(n, words)
                    for n in nearest(recommender, analysis, asked, count, changed)
                ]
                for asked in wanted
            },
        }

    def text(found: Case) -> None:
        try:
            analysis = recommender.work(found)
        except NoAdviceError as nothing:
            click.echo(f"{found.id}: {words.text(nothing.statement)}")
            return
        wanted = [parse_decision(decision, analysis, words)] if decision else analysis.decisions()
        for asked in wanted:
            _show(words, asked, nearest(recommender, analysis, asked, count, changed))

    sys.exit(output.each_case([case], as_json, answer, text))


def nearest(
    recommender: "Recommender",
    analysis: "CaseAnalysis",
    decision: "Decision",
    count: int,
    weights: Mapping[str, float],
) -> Sequence["Neighbour"]:
    """The nearest stored situations with their accounts; none without a library."""
    given = analysis.examine(decision).given
    return recommender.engine.nearest(analysis.facts, decision, count, given, weights)


def _weights(texts: Sequence[str], recommender: "Recommender") -> dict[str, float]:
    """Feature weights of this call. Ends the command with status 2 for one that cannot be read."""
    library = recommender.engine.library
    known = (
        {item.feature.name for kind in library.likeness.kinds.values() for item in kind.weighted}
        if library
        else set()
    )
    found: dict[str, float] = {}
    for text in texts:
        name, _, number = text.partition("=")
        try:
            weight = float(number)
        except ValueError:
            weight = -1.0
        if not 0 <= weight < float("inf"):
            raise click.UsageError(f"--weight {text}: write FEATURE=NUMBER with a number of 0 or more")
        if library and name not in known:
            raise click.UsageError(f"--weight {name}: no such feature; known are {', '.join(sorted(known))}")
        found[name] = weight
    return found


def neighbour_document(neighbour: "Neighbour", words: "Words") -> dict[str, Any]:
    """One neighbour as a JSON document."""
    stored = neighbour.situation
    return {
        "case": stored.case_id,
        "site": str(stored.site) if stored.site else None,
        "choice": stored.choice,
        "similarity": neighbour.likeness,
        "worth": stored.worth,
        "fared": words.text(verdict(stored.verdict)),
        "account": [
            {
                "feature": line.feature, "label": line.label, "here": _plain(line.here), "there": _plain(line.there),
                "verdict": line.verdict, "difference": line.difference, "weight": line.weight,
            }
            for line in neighbour.account
        ],
    }  # fmt: skip


def _plain(value: object) -> object:
    if isinstance(value, tuple):
        return list(value)
    return sorted(value) if isinstance(value, frozenset) else value


def _show(words: "Words", asked: "Decision", neighbours: Sequence["Neighbour"]) -> None:
    click.echo(output.style(words.title(asked), bold=True))
    if not neighbours:
        click.echo("  no precedents")
    for neighbour in neighbours:
        stored = neighbour.situation
        told = words.told(
            "verb.precedent",
            case=stored.case_id,
            site=tooth(stored.site) if stored.site else None,
            option=words.option(asked.kind, stored.choice),
            likeness=quantity(neighbour.likeness, "", 2),
            fared=verdict(stored.verdict),
        )
        click.echo(f"  {told}")
        for standing, head in (("alike", "alike"), ("near", "near"), ("differs", "differs")):
            lines = [
                _pair(words, line) for line in neighbour.account if line.verdict == standing and line.weight
            ]
            if lines:
                click.echo(f"    {head}: " + "; ".join(lines))
        gaps = [line.label for line in neighbour.account if line.verdict == "not_recorded" and line.weight]
        if gaps:
            click.echo(f"    {words.told('verb.precedents.gaps', features=', '.join(gaps))}")


def _pair(words: "Words", line: "FeatureAccount") -> str:
    from recommender.wording.values import value

    here = value(words, line.here, line.unit)
    if line.verdict == "alike":
        return f"{line.label} {here}"
    there = value(words, line.there, line.unit)
    return words.told("verb.precedents.pair", feature=line.label, here=here, there=there)
