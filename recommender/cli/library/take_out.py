"""``library export``."""

from pathlib import Path

import click

from recommender.api.taking_out import FORMS, reader, write
from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, progress, source, told

_BY_SUFFIX = {
    ".zip": "zip-yaml", ".jsonl": "jsonl", ".csv": "csv", ".xlsx": "xlsx", ".ttl": "turtle", ".jsonld": "json-ld",
    "": "yaml",
}  # fmt: skip


@click.command("export", context_settings=HELP)
@click.argument("path", type=click.Path(path_type=Path))
@library_option()
@click.option("--as", "form", type=click.Choice(FORMS), default=None, help="Left out: by the ending of PATH.")
@click.option("--status", type=click.Choice(["draft", "approved", "retired"]), default=None,
              help="Only cases in this state.")  # fmt: skip
@click.option("--sound", is_flag=True, help="Of a damaged library: what is sound. Says what is left out.")
def export_cases(path: Path, where: str | None, form: str | None, status: str | None, sound: bool) -> None:
    """Write the cases to PATH; reading them back gives the same cases. A damaged library is refused by name.

    A spreadsheet cell that would be taken for a formula gets an apostrophe in front; import takes it off
    again.

    \b
    Example: rpd-casebook library export cases.xlsx --library cases.db
             rpd-casebook library export teaching/ --as yaml --status approved
    """
    chosen = form or _BY_SUFFIX.get(path.suffix.lower())
    if chosen is None:
        raise click.UsageError(f"{path}: say with --as in which format ({', '.join(FORMS)})")
    with told():
        left_out: dict[str, str] = {}
        read = reader(source(where), status, left_out if sound else None)
        with progress(str(path), None) as step:
            number = write(chosen, read, path, step)
        for case_id, why in left_out.items():
            output.warn(f"left out: {case_id}: {why}")
    click.echo(output.told("library.cases_g", path=path, number=number))
