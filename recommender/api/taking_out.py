"""Cases taken out of a library in any form: the one way of the command line and of the screens."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from recommender.domain.case import Case
    from recommender.precedents.source import CaseSource

FORMS = ("yaml", "json", "zip-yaml", "zip-json", "jsonl", "csv", "xlsx", "turtle", "json-ld")


def reader(
    library: "CaseSource", status: str | None = None, left_out: dict[str, str] | None = None
) -> Callable[[], Iterator["Case"]]:
    """What reads the latest version of every case in that state, each time it is called.

    Raises ``DamagedLibrary`` where that would not be what was saved; with ``left_out`` what is damaged goes there
    instead, by id, with its reason.
    """
    from recommender.precedents.source import latest_cases
    from recommender.precedents.store.checking import find, sound
    from recommender.precedents.store.database_source import DatabaseSource
    from recommender.precedents.store.documents import status as status_of

    def every() -> Iterator["Case"]:
        if left_out is not None and isinstance(library, DatabaseSource):
            return (version.case for version in sound(library.library, left_out))
        return latest_cases(library)

    if left_out is None and isinstance(library, DatabaseSource):
        damage = find(library.library, full=False)
        if damage:
            raise damage.error(library.library.where, "nothing was written")
    return lambda: (case for case in every() if status is None or status_of(case) == status)


def write(form: str, read: Callable[[], Iterator["Case"]], path: Path, step: Callable[[int], None]) -> int:
    """Writes the cases to ``path`` in one of ``FORMS`` and gives their number; ``step`` hears how many are done.

    Raises ``LibraryError`` where the file cannot be written.
    """
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
