"""An import tried or carried out on the page: every row heard, what needs attention shown, rejected rows as a file."""

import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import Word
from recommender.screens.library import data, table_columns
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.api.bringing_in import How
    from recommender.precedents.store.importing.register import Register
    from recommender.precedents.store.importing.rejected import Rejected
    from recommender.precedents.store.importing.reports import Report, Summary, Terms

_MOST_LINES = 400
_VERDICTS = {
    "new": ("+", "new"),
    "changed": ("≠", "changed"),
    "kept": ("=", "the library's word stands"),
    "identical": ("=", "nothing new"),
    "near_duplicate": ("≈", "nearly repeats another"),
    "undecided": ("?", "to be decided"),
    "collision": ("✕", "another case of this number"),
    "invalid": ("✕", "invalid"),
}


@dataclass(slots=True)
class Tried:
    """What a trial or an import told: for which source and terms, the counts, and the rows that need attention.
    ``rejected``: a file of the rows of a table that cannot come in, as name, content and number of rows."""

    stamp: str
    summary: "Summary"
    done: bool = False
    lines: list[list[object]] = field(default_factory=list)
    left_out: int = 0
    rejected: tuple[str, bytes, int] | None = None


def run(path: Path, register: "Register | None", terms: "Terms", stamp: str, how: "How") -> Tried:
    """Tries it, or brings in everything or the valid rows. Raises ``LibraryError`` as the import does."""
    from recommender.api.bringing_in import bring_in
    from recommender.precedents.store.importing import rows as incoming
    from recommender.precedents.store.importing.rejected import Rejected
    from recommender.precedents.store.importing.reports import Summary

    total = None if register is not None else incoming.count(path)
    bar = st.progress(0.0, "Reading …")
    made = Tried(stamp, Summary(), how != "try")
    seen = 0

    def each(report: "Report") -> None:
        nonlocal seen
        seen += 1
        if seen % 50 == 0:
            share = seen / total if total else 1 - 1 / (1 + seen / 2000)
            bar.progress(
                min(share, 1.0), words.told("library.rows", seen=seen, total=total if total else None)
            )
        if report.verdict not in ("new", "identical") or report.notes:
            if len(made.lines) < _MOST_LINES:
                made.lines.append(_line(report, path))
            else:
                made.left_out += 1

    keeper = None if register is None else Rejected(register)
    rows = incoming.rows(path) if register is None else register.rows()
    try:
        made.summary = bring_in(data.writing(), path, rows, terms, each, how, digest=stamp, rejected=keeper)
    finally:
        bar.empty()
    if keeper is not None and keeper.rows:
        made.rejected = _file_of(keeper, path)
    return made


def _file_of(keeper: "Rejected", path: Path) -> tuple[str, bytes, int]:
    name = f"{path.stem}-rejected{'.xlsx' if path.suffix.lower() == '.xlsx' else '.csv'}"
    with tempfile.TemporaryDirectory(prefix="rpd-casebook-") as folder:
        number = keeper.write(Path(folder) / name)
        return name, (Path(folder) / name).read_bytes(), number


def _line(report: "Report", path: Path) -> list[object]:
    told = [
        *(str(note) for note in report.notes),
        *(table_columns.short(str(problem), path) for problem in report.problems),
        *(
            words.told(
                "screen.field_changed",
                field=words.field(one.field),
                here=words.value_at(one.field, one.before),
                file=words.value_at(one.field, one.after),
                fate=Word("fate", one.fate),
            )
            for one in report.changes
        ),
    ]
    if report.of is not None:
        told.insert(
            0, words.told("library.nearly_repeats_same", of=report.of, overlap=f"{report.overlap or 0:.0%}")
        )
    return [
        table_columns.short(report.place, path),
        report.case_id or "",
        words.marked(_VERDICTS, report.verdict),
        "; ".join(told),
    ]


def report(tried: Tried) -> None:
    counts = ", ".join(
        f"{number} {words.marked(_VERDICTS, verdict)}"
        for verdict, number in tried.summary.counts.items()
        if number
    )
    if tried.done:
        st.markdown(
            words.told(
                "library.brought_rows",
                written=tried.summary.written,
                rows=tried.summary.rows,
                counts=counts or "none",
            )
        )
    else:
        st.markdown(
            words.told("library.trial_rows_nothing", rows=tried.summary.rows, counts=counts or "none")
        )
    if tried.lines:
        theme.table(["row", "case", "", "what to know"], tried.lines, caption="Rows that need attention")
    if tried.left_out:
        st.write(words.told("library.more_rows", left_out=tried.left_out))
    if tried.rejected is not None:
        name, content, number = tried.rejected
        st.download_button(
            words.told("library.download_rows_cannot", number=number, name=name), content, name,
            on_click="ignore", key="library.rejected",
        )  # fmt: skip
        theme.note(
            "They stand as they came, the reason in a column of its own. Mend them there and bring that file in; the "
            "column of reasons may stay."
        )
