"""``library export``."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, progress, source, told

if TYPE_CHECKING:
    from recommender.domain.case import Case

_FORMATS = ("yaml", "json", "zip-yaml", "zip-json", "jsonl", "csv", "xlsx", "turtle", "json-ld")
_BY_SUFFIX = {
    ".zip": "zip-yaml", ".jsonl": "jsonl", ".csv": "csv", ".xlsx": "xlsx", ".ttl": "turtle", ".jsonld": "json-ld",
    "": "yaml",
}  # fmt: skip


@click.command("export", context_settings=HELP)
@click.argument("path", type=click.Path(path_type=Path))
@library_option()
@click.option(
    "--as", "form", type=click.Choice(_FORMATS), default=None, help="Left out: by the ending of PATH."
)
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
        raise click.UsageError(f"{path}: say with --as in which format ({', '.join(_FORMATS)})")
    with told():
        left_out: dict[str, str] = {}
        read = _reader(where, status, left_out if sound else None)
        with progress(str(path), None) as step:
            number = _write(chosen, read, path, step)
        for case_id, why in left_out.items():
            output.warn(f"left out: {case_id}: {why}")
    click.echo(f"{path}: {number} cases")


def _reader(
    where: str | None, status: str | None, left_out: dict[str, str] | None
) -> Callable[[], Iterator["Case"]]:
    """What reads the cases, each time it is called. Raises ``DamagedLibrary`` where an export would not be what was
    saved, unless what is damaged may be ``left_out``."""
    from recommender.precedents.source import latest_cases
    from recommender.precedents.store.checking import find, sound
    from recommender.precedents.store.database_source import DatabaseSource
    from recommender.precedents.store.documents import status as status_of

    library = source(where)

    def every() -> Iterator["Case"]:
        if left_out is not None and isinstance(library, DatabaseSource):
            return (version.case for version in sound(library.library, left_out))
        return latest_cases(library)

    if left_out is None and isinstance(library, DatabaseSource):
        damage = find(library.library, full=False)
        if damage:
            raise damage.error(library.library.where, "nothing was written")
    return lambda: (case for case in every() if status is None or status_of(case) == status)


def _write(form: str, read: Any, path: Path, step: Any) -> int:
    from recommender.precedents.store.exporting import export, linked_data

    if form in ("yaml", "json"):
        return export.to_folder(read(), path, form, step)
    if form in ("zip-yaml", "zip-json"):
        return export.to_zip(read(), path, form.removeprefix("zip-"), step)
    if form == "jsonl":
        return export.to_lines(read(), path, step)
    if form in ("csv", "xlsx"):
        return (export.to_csv if form == "csv" else export.to_xlsx)(read, path, step)
    return linked_data.write(read(), path, form, step)
