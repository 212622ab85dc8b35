"""``classify``: Kennedy class with modifications, and which rule decided what."""

import sys
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.domain.case import Case

if TYPE_CHECKING:
    from recommender.wording.words import Words


@click.command()
@output.case_argument()
@output.json_option()
@output.words_options()
def classify(cases: tuple[str, ...], as_json: bool, words: "Words") -> None:
    """Kennedy class with modifications, and which of Applegate's rules decided what.

    CASE is a YAML or JSON file, a folder of them, or - for standard input.
    """
    sys.exit(
        output.each_case(cases, as_json, lambda case: document(case, words), lambda case: show(case, words))
    )


def document(case: Case, words: "Words") -> dict[str, Any]:
    """The answer in the result format: ``kennedy``, the ``spaces``, and open ``questions``."""
    from recommender.documents.results.recommendation import kennedy_document
    from recommender.documents.results.stated import stated
    from recommender.domain.kennedy import classify as classify_case

    found = classify_case(case)
    return {
        "format": 1,
        "case": case.id,
        "kennedy": kennedy_document(words, found),
        "spaces": [
            {
                "teeth": [str(tooth) for tooth in space.teeth],
                "support": space.support,
                "borders": [str(tooth) for tooth in space.borders],
                "crosses_midline": space.crosses_midline,
            }
            for space in found.spaces
        ],
        "questions": [
            {"field": question.field, **stated(words, question.statement), "otherwise": question.otherwise}
            for question in found.questions
        ],
    }


def show(case: Case, words: "Words") -> None:
    """The answer as a few lines of text."""
    from recommender.domain.kennedy import classify as classify_case

    found = classify_case(case)
    click.echo(f"{case.id} ({case.arch}): {output.style(found.label, bold=True)}")
    for step in found.steps:
        rule = words.told("verb.applegate", rule=step.rule) if step.rule else words.told("verb.case_format")
        click.echo(f"  {words.text(step.statement)} [{rule}]")
    for question in found.questions:
        click.echo(f"  To ask: {words.text(question.statement)}")
