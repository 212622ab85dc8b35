"""What the library hands out, as plain values."""

from dataclasses import dataclass
from datetime import UTC, datetime

import orjson

from recommender.domain.case import Case
from recommender.precedents.store import documents
from recommender.precedents.store.errors import DamagedCase


@dataclass(frozen=True, slots=True)
class Head:
    """The latest version of a case without its document: what a list shows.

    ``serving`` is the approved revision that counts as a precedent; ``None`` where none does.
    """

    id: str
    revision: int
    arch: str
    kennedy: str | None
    status: str
    outcome_known: bool
    age: str | None
    fingerprint: str
    format: int
    title: str | None
    updated_at: str
    serving: int | None = None

    @property
    def waits(self) -> bool:
        """Whether a change of an approved case waits for a reviewer, while the approved revision goes on serving."""
        return self.serving is not None and self.serving != self.revision


@dataclass(frozen=True, slots=True)
class Version:
    """One version of a case: who made it, when and why. ``kind`` is one of ``added imported edited restored
    approved retired drafted outcome redacted``."""

    case_id: str
    revision: int
    kind: str
    who: str
    at: str
    why: str
    document: str
    checksum: str

    @property
    def case(self) -> Case:
        """The case as it was in this version. Raises ``DamagedCase`` where its document is not what was saved."""
        if not self.intact:
            raise DamagedCase(self.case_id, self.revision)
        try:
            return documents.load(self.document)
        except ValueError as error:
            raise DamagedCase(self.case_id, self.revision) from error

    @property
    def intact(self) -> bool:
        """Whether the document still is what was saved under this case."""
        named = f'"id":{orjson.dumps(self.case_id).decode()}' in self.document
        return named and documents.is_sound(self.document, self.checksum)


@dataclass(frozen=True, slots=True)
class Entry:
    """A case ready to be written: its document and its query columns.

    ``clean``: every text of this very document was looked at, and none may identify anybody; where it is not said the
    gate looks.
    """

    document: str
    columns: documents.Columns
    clean: bool = False

    @classmethod
    def of(cls, case: Case) -> "Entry":
        """Without what links the case to a scan. Raises ``UnfitText`` where a text holds control characters."""
        kept = documents.for_library(case)
        data = documents.as_data(kept)
        return cls(documents.dump(kept, data), documents.columns(kept, data))


def now() -> str:
    """The time as it is stored: UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
