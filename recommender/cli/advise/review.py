"""``review``: the prescription, or the case's own design, held against the recommendation."""

import sys
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option, recommender_for
from recommender.domain.case import Case
from recommender.domain.statement import Choice, Word

if TYPE_CHECKING:
    from recommender.advice.review import ReviewItem
    from recommender.wording.words import Words


@click.command()
@output.case_argument()
@library_option(profile=True)
@output.json_option()
@click.option(
    "--design", "own_design", is_flag=True, help="Review the case's own design instead of its prescription."
)
@output.words_options()
def review(
    cases: tuple[str, ...], where: str | None, as_json: bool, own_design: bool, words: "Words"
) -> None:
    """Choice by choice: agrees, acceptable, better alternative, or conflicts; and what each way costs.

    Without a prescription the case's own design is reviewed. The decision stays with the dentist.

    \b
    Example: rpd-casebook review my-case.yaml
    """
    recommender = recommender_for(where, as_json)

    def items(case: Case) -> tuple[str, tuple["ReviewItem", ...]]:
        from recommender.advice.analysis import NoAdviceError
        from recommender.advice.confidence.answers import Confidence
        from recommender.advice.confidence.attach import reviewed
        from recommender.advice.review import review as held_against

        try:
            analysis = recommender.work(case)
        except NoAdviceError:
            return "nothing", ()  # no class and no advice: nothing to hold anything against
        subject = "design" if own_design or case.prescription is None else "prescription"
        asked = case.design if subject == "design" else case.prescription
        found = reviewed(held_against(analysis, asked), Confidence(analysis))
        return subject if asked is not None else "nothing", found

    def document(case: Case) -> dict[str, Any]:
        from recommender.documents.results.review import review_document

        subject, found = items(case)
        return {"format": 1, "case": case.id, "reviewed": subject, "items": review_document(words, found)}

    def text(case: Case) -> None:
        from recommender.advice.analysis import nothing_said
        from recommender.cli.advise.recommend_text import PURPOSE

        subject, found = items(case)
        click.echo(output.style(words.told("verb.review.head", case=case.id, subject=subject), bold=True))
        click.echo(PURPOSE)
        if not found:
            click.echo(words.told("verb.review.nothing", why=nothing_said(case)))
        for item in found:
            head = words.told(
                "verb.review.item_near_tie" if item.near_tie else "verb.review.item",
                decision=item.decision,
                given=Choice("retainer", item.given) if item.given else None,
                verdict=Word("verdict", item.verdict),
            )
            click.echo(f"\n{head}" + (", PROVISIONAL" if item.provisional else ""))
            click.echo(f"  {words.text(item.wording)}")
            for title, lines in (
                ("to follow costs", item.price_of_following),
                ("to depart costs", item.price_of_departing),
                ("precedent for what was asked", item.precedents_for_asked[:2]),
                ("precedent for what leads", item.precedents_for_lead[:2]),
            ):
                if lines and item.verdict not in ("agrees", "left_out"):
                    click.echo(f"  {title}: " + "; ".join(words.lines(lines)))

    sys.exit(output.each_case(cases, as_json, document, text))
