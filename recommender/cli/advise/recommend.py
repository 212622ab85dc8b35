"""``recommend``: the whole recommendation for a case."""

import sys
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option, recommender_for
from recommender.domain.case import Case

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender
    from recommender.wording.words import Words


@click.command()
@output.case_argument()
@library_option(profile=True)
@output.json_option()
@click.option(
    "--top", "top", type=click.IntRange(min=1), default=None, help="Options to show for each decision."
)
@click.option("--drafts", is_flag=True, help="Let draft and retired cases speak as precedents too.")
@output.words_options()
def recommend(
    cases: tuple[str, ...], where: str | None, as_json: bool, top: int | None, drafts: bool, words: "Words"
) -> None:
    """Every option of every decision, ranked and explained, and the best whole frameworks.

    CASE is a YAML or JSON file, a folder of them, or - for standard input. Asking for advice writes nothing.

    \b
    Example: rpd-casebook recommend cases_demo/ --top 3
    """
    from recommender.cli.advise.recommend_text import show

    recommender = recommender_for(where, as_json, approved_only=not drafts)
    sys.exit(
        output.each_case(
            cases,
            as_json,
            lambda case: document(recommender, case, top, words),
            lambda case: show(recommender, case, top or 4, words),
        )
    )


def document(recommender: "Recommender", case: Case, top: int | None, words: "Words") -> dict[str, Any]:
    """The answer in the result format, with every cited field's ``without_this`` and how sure each choice is."""
    from recommender.advice.analysis import NoAdviceError
    from recommender.advice.confidence.answers import Confidence
    from recommender.advice.confidence.attach import with_standing
    from recommender.documents.results.confidence import with_confidence
    from recommender.documents.results.recommendation import nothing_to_advise, recommendation_document

    try:
        analysis = recommender.work(case)
        confidence = Confidence(analysis)
        answer = with_standing(recommender.cited_with(analysis, top), confidence)
        return with_confidence(words, recommendation_document(words, answer, top), answer, confidence)
    except NoAdviceError:
        return nothing_to_advise(words, case)
