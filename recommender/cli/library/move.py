"""``library import`` and ``library export``."""

import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import (
    HELP,
    database,
    progress,
    reason,
    source,
    told,
    who_option,
    why_option,
)

if TYPE_CHECKING:
    from recommender.domain.case import Case
    from recommender.precedents.store.importing.merging import Change, Decision
    from recommender.precedents.store.importing.reports import Report, Summary, Terms
    from recommender.precedents.store.importing.rows import Row
    from recommender.precedents.store.library import Library

_FORMATS = ("yaml", "json", "zip-yaml", "zip-json", "jsonl", "csv", "xlsx", "turtle", "json-ld")
_BY_SUFFIX = {
    ".zip": "zip-yaml", ".jsonl": "jsonl", ".csv": "csv", ".xlsx": "xlsx", ".ttl": "turtle", ".jsonld": "json-ld",
    "": "yaml",
}  # fmt: skip


@click.command("import", context_settings=HELP)
@click.argument("path", type=click.Path(path_type=Path, exists=True))
@library_option()
@who_option()
@why_option()
@click.option("--apply", type=click.Choice(["all", "valid"]), default=None,
              help="Everything or nothing, or the valid rows. Left out: a dry run, which writes nothing.")  # fmt: skip
@click.option("--keep-status", is_flag=True,
              help="Take over approval as the source states it, where no reviewer here has decided.")  # fmt: skip
@click.option("--changed", type=click.Choice(["keep", "take", "ask"]), default="ask", show_default=True,
              help="A field that the file and the library both changed since the last import: keep the library's, take "
              "the file's, or ask (without a terminal such a case is held back and named).")  # fmt: skip
@click.option("--take", "named", multiple=True, type=click.Choice(["outcome", "dentist_answer", "review"]),
              help="Let the file overwrite this too; an import otherwise only adds to it.")  # fmt: skip
@click.option("--skip-near", is_flag=True, help="Leave out cases that nearly repeat another.")
@click.option("--map", "mapped", multiple=True, metavar="HEADING=FIELD",
              help="Tables: what a column means, e.g. 'Jaw=arch'; remembered for these headings.")  # fmt: skip
@click.option("--ignore", multiple=True, metavar="HEADING", help="Tables: a column to leave out; remembered.")
@click.option("--every-row", is_flag=True, help="Report every row, not only those that need attention.")
@output.json_option()
def import_cases(
    path: Path,
    where: str | None,
    who: str,
    why: str,
    apply: str | None,
    keep_status: bool,
    changed: "Decision",
    named: tuple[str, ...],
    skip_near: bool,
    mapped: tuple[str, ...],
    ignore: tuple[str, ...],
    every_row: bool,
    as_json: bool,
) -> None:
    """Bring in the cases of PATH: a folder, .zip, .yaml, .json, .jsonl, .csv or .xlsx.

    Without --apply this is a dry run: a report for each row (new, changed, identical, near-duplicate of …,
    invalid with line, column and why), and nothing is written. Cases come in as drafts unless --keep-status
    is given. An import of the valid rows that was stopped goes on where it had come to when the same command
    is given again.

    A case that the library has already is merged by field: the file, what it said at its last import, and what the
    library says now. Where the file is silent the library's word stays; follow-up and review are never taken back.
    Every changed case is named with its fields, old and new. A case of the same id with another arch or dentition
    is a collision: it is refused, with both shown.

    \b
    Example: rpd-casebook library import past-work.xlsx --library cases.db --who KM --map "Jaw=arch"
             rpd-casebook library import past-work.zip --library cases.db --who KM --apply all
    """
    mapping = _mapping(mapped, ignore)
    # a dry run only reads, but a mapping that is given is remembered
    writing = apply is not None or bool(mapping)
    with told(), database(where, write=writing) as library:
        from recommender.precedents.store.importing.reports import Terms

        said = reason(why) or f"from {path.name}"
        asking = _ask if changed == "ask" and apply is not None and sys.stdin.isatty() else None
        terms = Terms(who, said, keep_status=keep_status, skip_near=skip_near, changed=changed, ask=asking,
                      named=frozenset(named))  # fmt: skip
        rows, length = _rows(library, path, mapping, who)
        with progress(str(path), length) as step:
            each = _Reporter(step, every_row, as_json, trial=apply is None)
            summary = _carry_out(library, path, rows, terms, each, apply, mapping)
    if each.drafted:
        output.warn(
            f"{each.drafted} cases are stated as approved or retired; they come in as drafts (see --keep-status)"
        )
    _finish(summary, apply, as_json)


def _mapping(mapped: Iterable[str], ignored: Iterable[str]) -> dict[str, str]:
    from recommender.precedents.store.importing.sheets import LEAVE_OUT

    found = dict.fromkeys(ignored, LEAVE_OUT)
    for text in mapped:
        heading, sign, field = text.rpartition("=")
        if not sign or not heading or not field:
            raise click.UsageError(f"--map {text}: write HEADING=FIELD, e.g. 'Jaw=arch'")
        found[heading.strip()] = field.strip()
    return found


def _rows(
    library: "Library", path: Path, mapping: dict[str, str], who: str
) -> tuple[Iterator["Row"], int | None]:
    from recommender.precedents.store.importing import rows as incoming
    from recommender.precedents.store.importing import sheets
    from recommender.precedents.store.importing.mappings import mapping_for, remember

    if path.suffix.lower() not in sheets.SUFFIXES or path.is_dir():
        return incoming.rows(path), incoming.count(path)
    names = sheets.headings(path)
    known = mapping_for(library, names)
    columns = sheets.understand(path, names, known | mapping)
    if mapping:
        remember(library, names, known | mapping, who=who)
    return sheets.rows(path, columns), None


class _Reporter:
    """Prints rows as they come, on standard output."""

    def __init__(self, step: Any, every_row: bool, as_json: bool, *, trial: bool) -> None:
        self.step, self.every_row, self.as_json, self.trial = step, every_row, as_json, trial
        self.done = self.drafted = 0

    def __call__(self, report: "Report") -> None:
        self.done += 1
        if self.done % 50 == 0:
            self.step(self.done)
        from recommender.precedents.store.importing.ready import STATED_AS

        telling = [note for note in report.notes if not note.startswith(STATED_AS)]
        self.drafted += len(telling) < len(report.notes)
        plain = ("new", "identical") if self.trial else ("new", "identical", "changed", "kept")
        quiet = report.verdict in plain and not telling
        if quiet and not self.every_row:
            return
        if self.as_json:
            output.emit(_row_document(report))
            return
        near = f" of {report.of} ({report.overlap:.0%} the same)" if report.of and report.overlap else ""
        name = f"{report.case_id}: " if report.case_id else ""
        click.echo(f"{report.place}: {name}{report.verdict.replace('_', '-')}{near}")
        for line in (*report.notes, *report.problems):
            click.echo(f"    {line}")
        for change in report.changes:
            click.echo(f"    {_told(change)}")


_FATES = {"taken": "the file's is taken", "kept": "the library's stays", "open": "to be decided"}


def _told(change: "Change") -> str:
    from recommender.domain.errors import shown

    before = "not recorded" if change.before is None else shown(change.before)
    return f"{change.field}: library {before}, file {shown(change.after)}: {_FATES[change.fate]}"


def _ask(report: "Report") -> "Decision":
    """Asks whose word stands in a case that the file and the library both changed."""
    click.echo(f"{report.place}: {report.case_id}: the file and the library both changed this case", err=True)
    for change in report.changes:
        click.echo(f"    {_told(change)}", err=True)
    answer: Decision = click.prompt(
        "keep the library's, take the file's, or ask later", type=click.Choice(["keep", "take", "ask"]),
        default="ask", err=True,
    )  # fmt: skip
    return answer


def _row_document(report: "Report") -> dict[str, object]:
    return {
        "format": 1,
        "row": report.place,
        "case": report.case_id,
        "verdict": report.verdict,
        "near": None if report.of is None else {"case": report.of, "overlap": report.overlap},
        "notes": list(report.notes),
        "changes": [
            {"field": one.field, "library": one.before, "file": one.after, "fate": one.fate}
            for one in report.changes
        ],
        "error": [problem.document() for problem in report.problems],
    }


def _carry_out(
    library: "Library", path: Path, rows: Iterator["Row"], terms: "Terms", each: Any, apply: str | None,
    mapping: dict[str, str],
) -> "Summary":  # fmt: skip
    from recommender.precedents.store.importing.batch import dry_run, import_all, import_valid
    from recommender.precedents.store.importing.reports import ImportRefused
    from recommender.precedents.store.importing.rows import digest

    if apply is None:
        return dry_run(library, rows, terms, each)
    if apply == "valid":
        stamp = digest(path, terms.stamp, repr(sorted(mapping.items())))
        return import_valid(library, rows, terms, each, digest=stamp, name=path.name)
    try:
        return import_all(library, rows, terms, each)
    except ImportRefused as refused:
        output.warn(str(refused))
        return refused.summary


def _finish(summary: "Summary", apply: str | None, as_json: bool) -> None:
    counts = {verdict.replace("_", "-"): number for verdict, number in summary.counts.items() if number}
    if as_json:
        output.emit({"format": 1, "rows": summary.rows, "counts": summary.counts, "written": summary.written,
                     "passed_over": summary.passed_over, "dry_run": apply is None})  # fmt: skip
    else:
        told_counts = ", ".join(f"{number} {verdict}" for verdict, number in counts.items()) or "no rows"
        passed = f", {summary.passed_over} done before" if summary.passed_over else ""
        click.echo(f"{summary.rows} rows: {told_counts}{passed}; {summary.written} written")
        if apply is None:
            output.warn("A dry run: nothing was written. Add --apply all or --apply valid to import.")
    if summary.refused:
        sys.exit(output.INVALID)


@click.command("export", context_settings=HELP)
@click.argument("path", type=click.Path(path_type=Path))
@library_option()
@click.option(
    "--as", "form", type=click.Choice(_FORMATS), default=None, help="Left out: by the ending of PATH."
)
@click.option("--status", type=click.Choice(["draft", "approved", "retired"]), default=None,
              help="Only cases in this state.")  # fmt: skip
def export_cases(path: Path, where: str | None, form: str | None, status: str | None) -> None:
    """Write the cases to PATH; reading them back gives the same cases.

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
        library = source(where)
        with progress(str(path), None) as step:
            number = _write(chosen, lambda: _cases(library, status), path, step)
    click.echo(f"{path}: {number} cases")


def _cases(library: Any, status: str | None) -> Iterator["Case"]:
    from recommender.precedents.source import latest_cases
    from recommender.precedents.store.documents import status as status_of

    return (case for case in latest_cases(library) if status is None or status_of(case) == status)


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
