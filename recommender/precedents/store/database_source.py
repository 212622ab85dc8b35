"""A database as a source of cases for retrieval: reading only, in batches."""

from collections.abc import Iterator, Sequence
from pathlib import Path

from recommender.domain.case import Case
from recommender.precedents.store.change_log import Mark, case_count, changed_since, index_folders, mark_of
from recommender.precedents.store.errors import NoSuchCase
from recommender.precedents.store.library import Library

_BATCH = 200


class DatabaseSource:
    """Every case of a library, whatever its review state (which says whether it may count as a precedent).

    A case that was changed after its approval is the one that was approved, until a reviewer decides on the change;
    ``latest`` and ``latest_of`` give the change.
    """

    def __init__(self, library: Library) -> None:
        self.library = library

    def cases(self) -> Iterator[Case]:
        """Every case, in order of id, read in batches."""
        return (version.case for version in self.library.serving())

    def some(self, ids: Sequence[str]) -> Iterator[Case]:
        """Those of these cases that are there, read in batches."""
        for start in range(0, len(ids), _BATCH):
            found = self.library.serving_of(ids[start : start + _BATCH])
            yield from (found[case_id].case for case_id in sorted(found))

    def ids(self) -> list[str]:
        """Every id, in order."""
        return [head.id for head in self.library.heads()]

    def count(self) -> int:
        """How many cases there are."""
        return case_count(self.library)

    def get(self, case_id: str) -> Case:
        """One case; ``KeyError`` if there is none of that id."""
        return self.library.serving_of([case_id])[case_id].case

    def latest(self) -> Iterator[Case]:
        """The latest version of every case, in order of id, read in batches."""
        return (version.case for version in self.library.latest())

    def latest_of(self, case_id: str) -> Case:
        """The latest version of one case; ``KeyError`` if there is none of that id."""
        try:
            return self.library.get(case_id).case
        except NoSuchCase as error:
            raise KeyError(case_id) from error

    def version(self) -> str:
        """A stamp that changes whenever any case does."""
        return f"{self.library.where} {self.library.version()}"

    def mark(self) -> str:
        """How far the library has come, for its index."""
        return mark_of(self.library).dump()

    def changed_since(self, mark: str) -> tuple[str, list[str] | None]:
        """The mark now, and ids of the cases changed since ``mark``; ``None`` if the library is no later state."""
        known = Mark.parse(mark)
        if known is None:
            return self.mark(), None
        now, changed = changed_since(self.library, known)
        return now.dump(), changed

    def index_folders(self) -> tuple[Path, ...]:
        """Where the index of the library may lie."""
        return index_folders(self.library)

    def close(self) -> None:
        """Gives the connections back."""
        self.library.close()
