"""Past work brought into a library: the one way of the command line and of the screens."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from recommender.precedents.store.importing.register import Register
    from recommender.precedents.store.importing.rejected import Rejected
    from recommender.precedents.store.importing.reports import Report, Summary, Terms
    from recommender.precedents.store.importing.rows import Row
    from recommender.precedents.store.library import Library

How = Literal["try", "all", "valid"]


def is_table(path: Path) -> bool:
    """Whether a file is read as a table, with headings that mean something."""
    from recommender.precedents.store.importing.tables import SUFFIXES

    return path.suffix.lower() in SUFFIXES and not path.is_dir()


def open_register(
    library: "Library",
    path: Path,
    mapping: Mapping[str, str],
    *,
    saved_as: str | None = None,
    wanted: Sequence[str] = (),
    numbering: str | None = None,
    guessing: bool = False,
    rest: bool = False,
) -> "Register":
    """A table as it is read: by ``mapping``, else by the mapping ``saved_as`` a name, else as these headings were read
    last; for the rest as ``register.open_register``, whose errors it raises, and ``NoSuchMapping``."""
    from recommender.precedents.store.importing import mappings, register

    saved = mappings.named_mapping(library, saved_as) if saved_as else {}

    def remembered(names: Sequence[str]) -> dict[str, str]:
        return {**mappings.mapping_for(library, names), **saved}

    return register.open_register(
        path, mapping, wanted=wanted, numbering=numbering, guessing=guessing, rest=rest, remembered=remembered
    )


def keep_mapping(library: "Library", register: "Register", who: str, name: str | None = None) -> None:
    """Remembers what the columns of a register mean for tables with these headings, and under a name if one is given.

    Raises ``UnfitText`` for a name or heading that may identify somebody, ``NoSuchMapping`` for a name too long.
    """
    from recommender.precedents.store.importing.columns import REASON
    from recommender.precedents.store.importing.mappings import remember, save_named

    whole: dict[str, str] = {}
    for part in register.parts:
        meant = {
            one.name: one.meaning
            for one in part.columns.columns
            if one.name and one.name not in (one.meaning, REASON)
        }
        remember(library, part.columns.names, meant, who=who)
        whole |= meant
    if name is not None:
        save_named(library, name, whole)


def bring_in(
    library: "Library",
    path: Path,
    rows: Iterable["Row"],
    terms: "Terms",
    each: Callable[["Report"], None],
    how: How,
    *,
    digest: str,
    rejected: "Rejected | None" = None,
) -> "Summary":
    """A trial, everything or nothing, or the valid rows; ``each`` hears of every row, ``rejected`` keeps those that
    cannot come in. ``digest`` tells this source under these terms, for going on after a stop.

    Raises ``ImportRefused`` where everything was wanted and something cannot come in.
    """
    from recommender.precedents.store.importing.batch import dry_run, import_all, import_valid

    watched: Iterator[Row] = iter(rows) if rejected is None else rejected.watched(rows)

    def hear(report: "Report") -> None:
        each(report)
        if rejected is not None:
            rejected.take(report)

    if how == "try":
        return dry_run(library, watched, terms, hear)
    if how == "all":
        return import_all(library, watched, terms, hear)
    return import_valid(library, watched, terms, hear, digest=digest, name=path.name)
