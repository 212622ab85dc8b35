"""The adopted profiles of a library in a database, kept in it: every adoption with who and when, the last one counts.

In a library of a team the database lets a steward alone adopt or take back, and everybody who asks for advice reads.
"""

from functools import lru_cache

from pydantic import ValidationError

from recommender.domain.errors import CaseError, Problem
from recommender.knowledge.house import Profile
from recommender.precedents.store import profiles
from recommender.precedents.store.library import Library


class Rows:
    """The adopted profiles of an open library."""

    def __init__(self, library: Library) -> None:
        self.library = library

    def current(self) -> Profile | None:
        """The profile that counts."""
        row = profiles.last(self.library)
        return _profile(row.document, self.library.where) if row is not None and row.document else None

    def kept(self) -> list[tuple[str, Profile, bool]]:
        """Number, profile, and whether it counts; the latest first, each content once."""
        rows = profiles.every(self.library)
        newest = {row.document: row for row in reversed(rows) if row.document}
        return [
            (_number(row.seq), _profile(row.document, self.library.where), row is rows[0])
            for row in sorted(newest.values(), key=lambda row: -row.seq)
        ]

    def adopt(self, profile: Profile, who: str) -> str:
        """Makes a profile count; returns its number. ``LibraryError`` where that may not be or cannot be."""
        profiles.add(self.library, profile.model_dump_json(exclude_defaults=True), who)
        row = profiles.last(self.library)
        assert row is not None
        return _number(row.seq)

    def adopt_again(self, number: str, who: str) -> None:
        """Makes an earlier one count, as a further adoption. ``KeyError`` where there is none of that number."""
        rows = {_number(row.seq): row.document for row in profiles.every(self.library) if row.document}
        profiles.add(self.library, rows[number], who)

    def take_back(self, who: str) -> None:
        """From now on none counts."""
        profiles.add(self.library, "", who)


def _number(seq: int) -> str:
    return f"{seq:04d}"


@lru_cache(maxsize=16)
def _profile(document: str, place: str) -> Profile:
    try:
        return Profile.model_validate_json(document)
    except ValidationError as error:
        raise CaseError(
            [
                Problem(
                    place,
                    "profile",
                    f"cannot be read ({error.error_count()} faults)",
                    "a profile of this version",
                )
            ],
            "profile",
        ) from error
