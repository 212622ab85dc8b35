"""A table to bring in: its worksheets, what its columns mean, and how its teeth are numbered."""

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.precedents.store.importing.register import Register

_NUMBERING = {"": "as the whole table shows", "iso": "two-digit (ISO 3950)", "universal": "1 to 32"}


def register(path: Path) -> "Register | None":
    """A table with what its columns mean and how its teeth are numbered; ``None`` while that is not clear."""
    from recommender.api.bringing_in import open_register
    from recommender.precedents.store.errors import LibraryError
    from recommender.precedents.store.importing import sheets
    from recommender.precedents.store.importing.mappings import mapping_for, named_mapping
    from recommender.precedents.store.importing.tables import tables_of

    tables, _ = tables_of(path)
    wanted = [table.sheet for table in tables if table.sheet]
    if len(wanted) > 1:
        wanted = st.multiselect(
            "Worksheets to read", wanted, default=wanted, key=f"library.sheets.{path.name}"
        )
        tables = [table for table in tables if table.sheet in wanted]
    numbering = st.radio(
        "Teeth are numbered", list(_NUMBERING), format_func=_NUMBERING.__getitem__, key="library.numbering",
        horizontal=True,
    )  # fmt: skip
    rows = [sheets.headings(table) for table in tables]
    known: dict[str, str] = {}
    for names in rows:
        known |= mapping_for(data.writing(), names)
    saved_as = _saved()
    known |= named_mapping(data.writing(), saved_as) if saved_as else {}
    chosen = _chosen(
        list(dict.fromkeys(name for names in rows for name in names if name)), known, saved_as or ""
    )
    if lacking := _lacking(rows, chosen):
        st.info(words.told("library.no_column_means", lacking=", ".join(lacking)))
        return None
    try:
        found = open_register(data.writing(), path, chosen, wanted=wanted, numbering=numbering or None)
    except LibraryError as error:
        st.warning(short(str(error), path))
        return None
    for line in found.not_read:
        theme.note(short(line, path))
    if chosen:
        _remember(found)
    return found


def _saved() -> str | None:
    """A mapping that was saved by name, chosen again."""
    from recommender.precedents.store.importing.mappings import saved_names

    names = saved_names(data.writing())
    if not names:
        return None
    return st.selectbox(
        "What columns mean, as saved by name", names, index=None, key="library.saved_mapping",
        placeholder="as these headings were read last, else guessed",
    )  # fmt: skip


def _remember(found: "Register") -> None:
    """What the columns mean kept: for tables with these headings, and under a name for others."""
    from recommender.api.bringing_in import keep_mapping

    with st.form("library.remember", border=False):
        name = st.text_input("Save it under a name as well, for other tables (may be left out)", max_chars=40)
        sent = st.form_submit_button("Remember these columns")
    if sent:
        keep_mapping(data.writing(), found, data.who(), name.strip() or None)
        named = words.told("library.saved", name=name.strip()) if name.strip() else ""
        data.done(f"Remembered for tables with these headings{named}.")
        st.rerun()


def _chosen(names: list[str], known: dict[str, str], saved_as: str) -> dict[str, str]:
    """What columns mean that are not named as fields: as it was saved or remembered, else guessed; a person looks at
    each."""
    from recommender.precedents.store import cells
    from recommender.precedents.store.importing import sheets

    unclear = [name for name in names if name in known or not _understood(name)]
    chosen: dict[str, str] = {}
    if not unclear:
        return chosen
    clear = len(names) - len(unclear)
    st.write(words.told("library.what_columns_mean", clear=clear, names=len(names)))
    choices = [sheets.LEAVE_OUT, *cells.known_paths()]
    for number, name in enumerate(unclear):
        if number % 3 == 0:  # row by row, so that a narrow window keeps the order of the table
            columns = st.columns(3)
        with columns[number % 3]:
            start = known.get(name) or _guessed(name)
            options = choices if start in choices else [*choices, start]
            chosen[name] = st.selectbox(
                f"“{name}”",
                options,
                index=options.index(start),
                format_func=_field,
                key=f"library.map.{sheets.digest_of(names)[:8]}.{saved_as}.{number}",
                accept_new_options=True,
                help="A field of the case format; abutments.14.mobility is of one tooth, abutments.mobility of those "
                "that the row names. Several fields apart by commas.",
            )  # fmt: skip
    return chosen


def _lacking(rows: "list[tuple[str, ...]]", chosen: dict[str, str]) -> list[str]:
    """What every table needs and none of these tables has a column for."""
    from recommender.precedents.store.importing.columns import NEEDED

    meant = {path.strip() for names in rows for name in names for path in chosen.get(name, name).split(",")}
    return [words.field(needed) for needed in NEEDED if needed not in meant]


def _guessed(name: str) -> str:
    from recommender.precedents.store.importing import sheets
    from recommender.precedents.store.importing.columns import Target, guess

    found = guess(name)
    return found.path if isinstance(found, Target) else sheets.LEAVE_OUT


def _understood(name: str) -> bool:
    from recommender.precedents.store import cells
    from recommender.precedents.store.importing.columns import REASON, target

    try:
        target(name)
    except cells.CellError:
        return name == REASON
    return True


def _field(path: str) -> str:
    return words.told("library.leave_out") if path == "-" else f"{path} ({words.field(path)})"


def short(text: str, path: Path) -> str:
    """A message with the file's own name instead of where it was put."""
    return data.on_page(text.replace(str(path), path.name))
