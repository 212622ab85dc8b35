"""``classify``: Kennedy class with modifications, and which rule decided what."""

import sys
from typing import Any

import click

from recommender.cli import output
from recommender.domain.case import Case


@click.command()
@output.case_argument()
@output.json_option()
@output.numbering_option()
def classify(cases: tuple[str, ...], as_json: bool, numbering: str) -> None:
    """Kennedy class with modifications, and which of Applegate's rules decided what.

    CASE is a YAML or JSON file, a folder of them, or - for standard input.
    """
    sys.exit(output.each_case(cases, as_json, document, lambda case: show(case, numbering)))


def document(case: Case) -> dict[str, Any]:
    """The answer in the result format: ``kennedy``, the ``spaces``, and open ``questions``."""
    from recommender.domain.kennedy import classify as classify_case

    found = classify_case(case)
    return {
        "format": 1,
        "case": case.id,
        "kennedy": found.document(),
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
            {"field": question.field, "text": question.text, "otherwise": question.otherwise}
            for question in found.questions
        ],
    }


def show(case: Case, numbering: str) -> None:
    """The answer as a few lines of text."""
    from recommender.domain.kennedy import classify as classify_case

    found = classify_case(case, numbering)
    click.echo(f"{case.id} ({case.arch}): {output.style(found.label, bold=True)}")
    for step in found.steps:
        rule = f"Applegate rule {step.rule}" if step.rule else "case format"
        click.echo(f"  {step.text} [{rule}]")
    for question in found.questions:
        click.echo(f"  To ask: {question.text}")
