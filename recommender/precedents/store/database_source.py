"""A database as a source of cases for retrieval: reading only, in batches."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path

from recommender.domain.case import Case
from recommender.precedents.store.change_log import Mark, case_count, changed_since, index_folders, mark_of
from recommender.precedents.store.errors import DamagedCase, DamagedLibrary, NoSuchCase
from recommender.precedents.store.library import Library
from recommender.precedents.store.records import Version

_BATCH = 200


class DatabaseSource:
    """Every case of a library, whatever its review state (which says whether it may count as a precedent).

    A case that was changed after its approval is the one that was approved, until a reviewer decides on the change;
    ``latest`` and ``latest_of`` give the change.
    """

    def __init__(self, library: Library) -> None:
        self.library = library
        self.left_out: dict[str, str] = {}
        """Damaged cases that were passed over so far, with what is wrong with each."""

    def cases(self) -> Iterator[Case]:
        """Every sound case, in order of id, read in batches; what is damaged is passed over and told (``left_out``)."""
        return self._read(self.serving())

    def serving(self) -> Iterator[Version]:
        """What advice is drawn from, as it is kept; what is damaged beyond reading is passed over and told."""
        return self._sound(self.library.serving, serving=True)

    def some(self, ids: Sequence[str]) -> Iterator[Case]:
        """Those of these cases that are there and sound, read in batches."""
        for start in range(0, len(ids), _BATCH):
            found = self.library.serving_of(ids[start : start + _BATCH])
            yield from self._read(found[case_id] for case_id in sorted(found))

    def _sound(self, read: Callable[[], Iterator[Version]], *, serving: bool) -> Iterator[Version]:
        from recommender.precedents.store.checking import sound, uneven

        done: set[str] = set()
        try:
            for case_id in uneven(self.library):
                self.left_out[case_id] = "a version of it is missing"
            for version in read():
                if version.case_id not in self.left_out:
                    done.add(version.case_id)
                    yield version
        except DamagedLibrary:
            # the file as such: what can still be read of it is read case by case
            for version in sound(self.library, self.left_out, serving=serving):
                if version.case_id not in done:
                    yield version

    def _read(self, found: Iterable[Version]) -> Iterator[Case]:
        for version in found:
            try:
                yield version.case
            except DamagedCase as error:
                self.left_out[version.case_id] = str(error)

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
        """The latest version of every sound case, in order of id, read in batches."""
        return self._read(self.latest_versions())

    def latest_versions(self) -> Iterator[Version]:
        """The same as it is kept; what is damaged beyond reading is passed over and told."""
        return self._sound(self.library.latest, serving=False)

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
