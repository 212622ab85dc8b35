"""``explain``: one option, or the contrast of two; what would change it; how sure it is."""

import re
import sys
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.decisions import HELP, parse_decision
from recommender.cli.advise.libraries import library_option, recommender_for
from recommender.domain.case import Case
from recommender.domain.errors import CaseError, Problem
from recommender.domain.statement import quantity

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis
    from recommender.advice.explanation.explain import Explanation
    from recommender.advice.model import Decision, DecisionResult
    from recommender.advice.recommend import Recommender
    from recommender.wording.words import Words

_FRAMEWORK = re.compile(r"framework(?::([1-9]\d?))?")


@click.command()
@output.case_argument()
@click.option("--for", "decision", required=True, help=HELP + " Or framework:1, the first whole framework.")
@click.option("--option", default=None, help="The option to explain. Left out: the one that leads.")
@click.option("--why-not", "why_not", default=None, help="Contrast with this option (or framework number).")
@click.option("--changes", "full", is_flag=True, help="All that would change it, not only the first few.")
@library_option(profile=True)
@output.json_option()
@click.option("--drafts", is_flag=True, help="Let draft cases speak as precedents too.")
@output.words_options()
def explain(
    cases: tuple[str, ...],
    decision: str,
    option: str | None,
    why_not: str | None,
    full: bool,
    where: str | None,
    as_json: bool,
    drafts: bool,
    words: "Words",
) -> None:
    """Why this option, why not that one, and what would change it.

    Every "what if" was run again with the change made. Weights of criteria are solved exactly.

    \b
    Example: rpd-casebook explain my-case.yaml --for retainer:14 --why-not circumferential
    """
    recommender = recommender_for(where, as_json, approved_only=not drafts)
    whole = _FRAMEWORK.fullmatch(decision)

    def document(case: Case) -> dict[str, Any]:
        analysis = _analysis(recommender, case, words)
        if whole:
            return _frameworks_document(words, analysis, whole[1], why_not)
        from recommender.advice.explanation.explain import explain as worked_out
        from recommender.documents.results.explanation import explanation_document

        asked = parse_decision(decision, analysis, words)
        _known(analysis, asked, option, why_not)
        found = _with_standing(analysis, worked_out(analysis, asked, option, why_not))
        return explanation_document(words, case.id, found)

    def text(case: Case) -> None:
        analysis = _analysis(recommender, case, words)
        if whole:
            _show_frameworks(words, _frameworks_document(words, analysis, whole[1], why_not))
            return
        from recommender.advice.explanation.explain import explain as worked_out
        from recommender.cli.advise.explain_text import show

        asked = parse_decision(decision, analysis, words)
        _known(analysis, asked, option, why_not)
        show(words, analysis, _with_standing(analysis, worked_out(analysis, asked, option, why_not)), full)

    sys.exit(output.each_case(cases, as_json, document, text))


def _analysis(recommender: "Recommender", case: Case, words: "Words") -> "CaseAnalysis":
    from recommender.advice.analysis import NoAdviceError

    try:
        return recommender.work(case)
    except NoAdviceError as nothing:
        problem = Problem(case.id, "missing", words.text(nothing.statement), "an arch with a Kennedy class")
        raise CaseError([problem], case.id) from nothing


def _with_standing(analysis: "CaseAnalysis", found: "Explanation") -> "Explanation":
    """The explanation of an option that says whether plausible values could change it."""
    from dataclasses import replace

    from recommender.advice.confidence.answers import Confidence
    from recommender.advice.confidence.attach import marked_option

    result = analysis.decide(found.decision)
    return replace(found, option=marked_option(result, found.option, Confidence(analysis)))


def _known(analysis: "CaseAnalysis", asked: "Decision", option: str | None, why_not: str | None) -> None:
    """An option that the decision does not know is wrong use; it is told with those that the decision knows."""
    result: DecisionResult = analysis.decide(asked)
    known = [each.option for each in result.ranked]
    for flag, found in (("--option", option), ("--why-not", why_not)):
        if found is not None and found not in known:
            raise click.UsageError(f"{flag} {found}: {asked.key} has {', '.join(known)}")


def _frameworks_document(
    words: "Words", analysis: "CaseAnalysis", first: str | None, second: str | None
) -> dict[str, Any]:
    from recommender.advice.explanation.contrast import contrast_frameworks
    from recommender.advice.recommend import recommendation
    from recommender.documents.results.explanation import framework_contrast_document

    number = int(first or 1)
    other = second or ("2" if number == 1 else "1")
    if not re.fullmatch(r"[1-9]\d?", other):
        raise click.UsageError(f"--why-not {other}: write the number of a framework")
    found = recommendation(analysis, max(3, number, int(other))).frameworks
    wrong = [n for n in (number, int(other)) if n > len(found)]
    if wrong:
        if not found:
            raise click.UsageError(f"framework {wrong[0]}: {analysis.case.id} has no whole framework")
        raise click.UsageError(f"framework {wrong[0]}: {analysis.case.id} has 1 to {len(found)}")
    difference = contrast_frameworks(found[number - 1], found[int(other) - 1], analysis.decide)
    return {
        "format": 1,
        "case": analysis.case.id,
        "for": f"framework:{number}",
        "contrast": {
            "with": f"framework:{other}",
            "score": difference.first.score,
            "other_score": difference.second.score,
            **framework_contrast_document(words, difference),
        },
    }


def _show_frameworks(words: "Words", document: dict[str, Any]) -> None:
    difference = document["contrast"]
    head = words.told(
        "verb.explain.against",
        case=document["case"],
        decision=document["for"],
        score=quantity(difference["score"]),
        other=difference["with"],
        other_score=quantity(difference["other_score"]),
        points=quantity(difference["points"]),
    )
    click.echo(output.style(head, bold=True))
    for line in difference["lines"]:
        took, instead = line["took_words"], line["instead_words"]
        parts = words.told("verb.explain.part_against", took=took, instead=instead)
        click.echo(f"  {line['points']:+6.2f}  {line['place_words']}: {parts}")
        for part in line["reasons"][:3]:
            click.echo(
                f"            {part['points']:+.1f} {words.told('verb.explain.there', why=part['text'])}"
            )
