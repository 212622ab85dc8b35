"""``library screen-text``, ``looked-at`` and ``redact``: texts that may identify a patient."""

import sys
from collections.abc import Iterator
from pathlib import Path

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, database, told, who_option, why_option


@click.command("screen-text", context_settings=HELP)
@click.argument("file")
@output.json_option()
def screen_text(file: str, as_json: bool) -> None:
    """Say of each line of the text in FILE (or - for standard input) what could identify a patient.

    The same gate as every way into a library. Without --json only lines with something found are shown.

    \b
    Example: rpd-casebook library screen-text notes.txt
             echo "Mrs Miller rang on 3 May" | rpd-casebook library screen-text - --json
    """
    with told():
        from recommender.privacy.recogniser import look

        number = count = 0
        for number, line in enumerate(_lines(file), start=1):
            found = look(line)
            count += bool(found)
            if as_json:
                told_of = [{"kind": one.kind, "words": one.words} for one in found]
                output.emit({"line": number, "found": told_of})
            else:
                for one in found:
                    click.echo(output.told("library.line", number=number, label=one.label, words=one.words))
    if not as_json:
        click.echo(output.told("library.lines_could_identify", count=count, number=number))


def _lines(file: str) -> Iterator[str]:
    from recommender.precedents.store.errors import LibraryError

    try:
        data = sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
        text = data.decode("utf-8-sig")
    except OSError as error:
        raise LibraryError(f"{file}: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise LibraryError(f"{file}: byte {error.start + 1} is no UTF-8; save the text as UTF-8") from error
    yield from text.splitlines()


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
        from recommender.precedents.store.looked_at import look_at

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
            click.confirm(output.told("library.take_out_every", field=field, case=case), abort=True, err=True)
        version, changed = taking_out(library, case, field, who=who, why=why)
    click.echo(
        output.told(
            "library.taken_out_versions", case=case, field=field, changed=changed, revision=version.revision
        )
    )
    output.warn("Backups, exports and copies made before still hold the text; look after them too.")
