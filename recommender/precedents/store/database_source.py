"""A database as a source of cases for retrieval: reading only, in batches."""

from collections.abc import Iterator

from recommender.domain.case import Case
from recommender.precedents.store.errors import NoSuchCase
from recommender.precedents.store.library import Library


class DatabaseSource:
    """Every case of a library, whatever its review state (which says whether it may count as a precedent)."""

    def __init__(self, library: Library) -> None:
        self.library = library

    def cases(self) -> Iterator[Case]:
        """Every case, in order of id, read in batches."""
        return (version.case for version in self.library.latest())

    def ids(self) -> list[str]:
        """Every id, in order."""
        return [head.id for head in self.library.heads()]

    def get(self, case_id: str) -> Case:
        """One case; ``KeyError`` if there is none of that id."""
        try:
            return self.library.get(case_id).case
        except NoSuchCase as error:
            raise KeyError(case_id) from error

    def version(self) -> str:
        """A stamp that changes whenever any case does."""
        return f"{self.library.where} {self.library.version()}"

    def close(self) -> None:
        """Gives the connections back."""
        self.library.close()
