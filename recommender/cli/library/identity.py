"""``library looked-at`` and ``redact``: texts that may identify a patient."""

import sys

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, database, told, who_option, why_option


@click.command("looked-at", context_settings=HELP)
@click.argument("case")
@library_option()
@who_option()
@click.option("--note", required=True, help="Why these texts identify nobody.")
def looked_at(case: str, where: str | None, who: str, note: str) -> None:
    """Say that the texts of a case that looked like patient identity were looked at and are none.

    A text that is changed afterwards has to be looked at again.

    \b
    Example: rpd-casebook library looked-at c-7 --library cases.db --who tutor --note "an invented name"
    """
    with told():
        from recommender.curation.identity import look_at

        with database(where, write=True) as library:
            hits = look_at(library, case, who=who, note=note)
    for hit in hits:
        click.echo(str(hit))
    if not hits:
        output.warn(f"{case}: nothing in it looked like patient identity")
        sys.exit(output.INVALID)


@click.command(context_settings=HELP)
@click.argument("case")
@click.argument("field")
@library_option()
@who_option()
@why_option("Why, without repeating the text.", required=True)
@click.option("--yes", is_flag=True, help="Do not ask.")
def redact(case: str, field: str, where: str | None, who: str, why: str, yes: bool) -> None:
    """Take the text of FIELD out of a case and out of its whole history, for good.

    The only change that reaches back. It is itself a version of the case. FIELD is named as in the warnings of
    'library check', e.g. title or dentist_answer[#1].reason. Backups and exports made before still hold the text.

    \b
    Example: rpd-casebook library redact c-7 title --library cases.db --who tutor --why "named a patient"
    """
    with told(), database(where, write=True) as library:
        from recommender.curation.redaction import redact as taking_out

        if not yes:
            click.confirm(f"Take {field} out of every version of {case}, for good?", abort=True, err=True)
        version, changed = taking_out(library, case, field, who=who, why=why)
    click.echo(f"{case}: {field} taken out of {changed} versions (revision {version.revision})")
    output.warn("Backups, exports and copies made before still hold the text; look after them too.")
