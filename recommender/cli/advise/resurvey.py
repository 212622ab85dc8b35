"""``resurvey``: a design held against the survey of the cast after preparation, one line a tooth."""

import sys
from typing import TYPE_CHECKING

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option, recommender_for

if TYPE_CHECKING:
    from recommender.wording.words import Words


@click.command()
@click.argument("case_file", metavar="CASE")
@click.argument("new_file", metavar="NEW")
@library_option(profile=True)
@output.json_option()
@output.words_options()
def resurvey(case_file: str, new_file: str, where: str | None, as_json: bool, words: "Words") -> None:
    """What still stands, what changed and what to do, tooth by tooth, once the teeth are prepared.

    CASE is the case as surveyed before preparation: its own design is taken, else the first proposal for it.
    NEW is the same case with the survey of the new cast.

    \b
    Example: rpd-casebook resurvey my-case.yaml my-case-prepared.yaml
    """
    from recommender.advice.analysis import NoAdviceError
    from recommender.advice.resurvey import on_new_cast
    from recommender.documents.results.stated import stated
    from recommender.domain.errors import CaseError

    recommender = recommender_for(where, as_json)
    try:
        before, after = output.read_one(case_file), output.read_one(new_file)
        found = on_new_cast(recommender, before, after, (case_file, new_file))
    except CaseError as error:
        output.report(error, as_json)
        sys.exit(output.INVALID)
    except NoAdviceError as nothing:
        click.echo(words.text(nothing.statement))
        return
    if as_json:
        lines = [
            {
                "tooth": str(one.tooth), "part": one.part, "standing": one.standing, **stated(words, one.said),
                "changed": words.lines(one.changed), "to_do": words.lines(one.to_do),
            }
            for one in found
        ]  # fmt: skip
        output.emit({"format": 1, "case": after.id, "teeth": lines})
        return
    for one in found:
        click.echo(words.text(one.said))
