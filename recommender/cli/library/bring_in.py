"""``library import``."""

import os
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, database, progress, reason, told, who_option, why_option
from recommender.domain.statement import Word

if TYPE_CHECKING:
    from recommender.api.bringing_in import How
    from recommender.precedents.store.importing.merging import Change, Decision
    from recommender.precedents.store.importing.register import Register
    from recommender.precedents.store.importing.rejected import Rejected
    from recommender.precedents.store.importing.reports import Report, Summary, Terms
    from recommender.precedents.store.importing.rows import Row
    from recommender.precedents.store.library import Library


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
@click.option("--numbering", type=click.Choice(["iso", "universal"]), default=None,
              help="Tables: how teeth are numbered. Left out: found from each whole table, or asked for.")  # fmt: skip
@click.option("--sheet", "wanted", multiple=True, metavar="NAME",
              help="Workbooks: read only this worksheet; may be given again. Left out: all that are understood.",
              )  # fmt: skip
@click.option("--map", "mapped", multiple=True, metavar="HEADING=FIELD[,FIELD]",
              help="Tables: what a column means, e.g. 'Jaw=arch'; remembered for these headings.")  # fmt: skip
@click.option("--ignore", multiple=True, metavar="HEADING", help="Tables: a column to leave out; remembered.")
@click.option(
    "--guess", is_flag=True, help="Tables: take over what the trial guessed of the headings; remembered."
)
@click.option("--ignore-rest", is_flag=True, help="Tables: leave out every column that is not understood.")
@click.option(
    "--mapping", "named_mapping", default=None, metavar="NAME", help="Tables: use the mapping saved as NAME."
)
@click.option("--save-mapping", default=None, metavar="NAME", help="Tables: save the mapping in use as NAME.")
@click.option("--rejected", type=click.Path(path_type=Path, dir_okay=False), default=None,
              help="Tables: write the rows that cannot come in to this table, the reason in a column.")  # fmt: skip
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
    rejected: Path | None,
    every_row: bool,
    as_json: bool,
    **table: Any,
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

    A register of your own: the trial guesses what its headings mean, in several languages, and says so; --guess takes
    that over, --map puts it right. Teeth are never read in a numbering that the table does not settle.

    \b
    Example: rpd-casebook library import past-work.xlsx --library cases.db --who KM --map "Jaw=arch"
             rpd-casebook library import past-work.zip --library cases.db --who KM --apply all
    """
    mapping = _mapping(table["mapped"], table["ignore"])
    keeping = bool(mapping) or table["guess"] or table["save_mapping"] is not None
    # a dry run only reads, but a mapping that is given is remembered
    with told(), database(where, write=apply is not None or keeping) as library:
        from recommender.api.bringing_in import keep_mapping
        from recommender.precedents.store.importing.reports import Terms

        said = reason(why) or output.told("library.from", name=path.name)
        asking = _ask if changed == "ask" and apply is not None and sys.stdin.isatty() else None
        terms = Terms(who, said, keep_status=keep_status, skip_near=skip_near, changed=changed, ask=asking,
                      named=frozenset(named))  # fmt: skip
        register = _register(library, path, mapping, table, trial=apply is None)
        if register is not None and keeping:
            keep_mapping(library, register, who, table["save_mapping"])
        rows, length = _rows(path, register, keep_status=keep_status)
        keeper = _keeper(rejected, register)
        with progress(str(path), length) as step:
            each = _Reporter(step, every_row, as_json, trial=apply is None)
            stamp = terms.stamp if register is None else f"{terms.stamp} {register.stamp}"
            summary = _carry_out(library, path, rows, terms, each, apply, stamp, keeper)
        if keeper is not None and rejected is not None:
            number = keeper.write(rejected)
            click.echo(output.told("library.rows_cannot_come", rejected=rejected, number=number), err=True)
    if each.drafted:
        output.warn(
            output.told("library.drafted" if terms.keep_status else "library.drafted_all", cases=each.drafted)
        )
    _finish(summary, apply, as_json)


def _mapping(mapped: Iterable[str], ignored: Iterable[str]) -> dict[str, str]:
    from recommender.precedents.store.importing.sheets import LEAVE_OUT

    found = dict.fromkeys(ignored, LEAVE_OUT)
    for text in mapped:
        heading, sign, field = text.rpartition("=")
        if not sign or not heading.strip() or not field.strip():
            raise click.UsageError(f"--map {text}: write HEADING=FIELD, e.g. 'Jaw=arch'")
        before = found.get(heading.strip())
        fields = [field.strip()] if before in (None, LEAVE_OUT) else [str(before), field.strip()]
        found[heading.strip()] = ",".join(fields)
    return found


def _register(
    library: "Library", path: Path, mapping: dict[str, str], table: dict[str, Any], *, trial: bool
) -> "Register | None":
    """The tables of the source, with what is guessed and what is not read told; ``None`` for other sources."""
    from recommender.api.bringing_in import is_table, open_register

    if not is_table(path):
        given = [name for name in ("numbering", "wanted", "named_mapping", "save_mapping") if table[name]]
        if given or mapping:
            raise click.UsageError(
                f"{path}: columns, worksheets and numbering are told of tables only (.csv, .xlsx)"
            )
        return None
    found = open_register(
        library, path, mapping, saved_as=table["named_mapping"], wanted=table["wanted"], numbering=table["numbering"],
        guessing=trial or table["guess"], rest=table["ignore_rest"],
    )  # fmt: skip
    for line in found.not_read:
        output.warn(line)
    for part in found.parts:
        if part.system != "iso":
            output.warn(f"{part.table.name}: teeth counted 1 to 32")
    if found.guessed and not table["guess"]:
        for heading, field in found.guessed.items():
            click.echo(
                output.told(
                    "library.guessed" if field != "-" else "library.guessed_out",
                    heading=repr(heading),
                    field=field,
                ),
                err=True,
            )
        output.warn("Look at what was guessed; --guess takes it over, --map 'HEADING=FIELD' puts it right.")
    return found


def _rows(
    path: Path, register: "Register | None", *, keep_status: bool
) -> tuple[Iterator["Row"], int | None]:
    from recommender.precedents.store.importing import rows as incoming
    from recommender.precedents.store.importing.reading import ready_rows

    if register is None:
        return ready_rows(path, keep_status=keep_status, jobs=os.cpu_count() or 1), incoming.count(path)
    return register.rows(), None


def _keeper(rejected: Path | None, register: "Register | None") -> "Rejected | None":
    from recommender.precedents.store.importing.rejected import Rejected, check_name

    if rejected is None:
        return None
    if register is None:
        raise click.UsageError(
            "--rejected: only rows of a table can be written out again; mend the files themselves"
        )
    check_name(rejected)
    return Rejected(register)


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
        near = (
            (" " + output.told("library.same_a", of=report.of, overlap=f"{report.overlap:.0%}"))
            if report.of and report.overlap
            else ""
        )
        name = f"{report.case_id}: " if report.case_id else ""
        click.echo(f"{report.place}: {name}{report.verdict.replace('_', '-')}{near}")
        for line in (*report.notes, *report.problems):
            click.echo(f"    {line}")
        for change in report.changes:
            click.echo(f"    {_told(change)}")


def _told(change: "Change") -> str:
    from recommender.domain.errors import shown

    code = "library.change" if change.before is not None else "library.change_new"
    fate = Word("import_fate", change.fate)
    return output.told(
        code, field=change.field, before=shown(change.before), after=shown(change.after), fate=fate
    )


def _ask(report: "Report") -> "Decision":
    """Asks whose word stands in a case that the file and the library both changed."""
    click.echo(output.told("library.file_library_both", place=report.place, case_id=report.case_id), err=True)
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
    library: "Library", path: Path, rows: Iterator["Row"], terms: "Terms", each: Any, apply: str | None, stamp: str,
    keeper: "Rejected | None",
) -> "Summary":  # fmt: skip
    from recommender.api.bringing_in import bring_in
    from recommender.precedents.store.importing.reports import ImportRefused
    from recommender.precedents.store.importing.rows import digest

    how: How = "all" if apply == "all" else "valid" if apply == "valid" else "try"
    try:
        return bring_in(library, path, rows, terms, each, how, digest=digest(path, stamp), rejected=keeper)
    except ImportRefused as refused:
        output.warn(str(refused))
        return refused.summary


def _finish(summary: "Summary", apply: str | None, as_json: bool) -> None:
    counts = {verdict.replace("_", "-"): number for verdict, number in summary.counts.items() if number}
    if as_json:
        output.emit({"format": 1, "rows": summary.rows, "counts": summary.counts, "written": summary.written,
                     "passed_over": summary.passed_over, "dry_run": apply is None})  # fmt: skip
    else:
        told_counts = ", ".join(f"{number} {verdict}" for verdict, number in counts.items()) or "0"
        passed = (
            output.told("library.done_before", passed_over=summary.passed_over) if summary.passed_over else ""
        )
        click.echo(
            output.told(
                "library.rows_written",
                rows=summary.rows,
                told_counts=told_counts,
                passed=passed,
                written=summary.written,
            )
        )
        if apply is None:
            output.warn("A dry run: nothing was written. Add --apply all or --apply valid to import.")
    if summary.refused:
        sys.exit(output.INVALID)
