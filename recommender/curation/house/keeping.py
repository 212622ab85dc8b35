"""The profiles that were adopted for a library, and which of them counts.

A library in a database keeps them itself (``in_library``); for a folder of cases and for the packaged demo, which are
only ever read, they stand in a folder of the one who works here (``in_folder``).
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from recommender.curation.house.in_folder import ENVIRONMENT, Folder, parsed, text_of, write
from recommender.domain.errors import CaseError, Problem
from recommender.knowledge.house import Profile, ProfileError, in_house
from recommender.knowledge.in_force import knowledge
from recommender.knowledge.model import Knowledge
from recommender.precedents.store.opening import is_database

if TYPE_CHECKING:
    from recommender.curation.house.in_library import Rows
    from recommender.precedents.store.library import Library

__all__ = [
    "ADOPTED", "ENVIRONMENT", "NONE", "Kept", "adopt", "adopt_again", "adopted", "kept", "knowledge_of", "read",
    "take_back", "text_of", "write",
]  # fmt: skip
ADOPTED = "adopted"
NONE = "none"
SOMEBODY = "educator"  # who adopted it, where one person works and does not say
_PUT_IN: dict[str, tuple[Knowledge, Knowledge]] = {}


@dataclass(frozen=True, slots=True)
class Kept:
    """A profile that was adopted once: its number, and whether it is the one that counts."""

    number: str
    profile: Profile
    counts: bool


@contextmanager
def _place(library: "str | Library", *, write: bool = False) -> "Iterator[Folder | Rows]":
    """Where the profiles of a library are kept; ``library`` is its address, or the database opened already."""
    if isinstance(library, str) and (library in (NONE, "demo") or not is_database(library)):
        yield Folder(library)
        return
    from recommender.curation.house.in_library import Rows
    from recommender.precedents.store.databases import open_database

    if isinstance(library, str):
        with open_database(library, write=write) as opened:
            yield Rows(opened)
    else:
        yield Rows(library)


def read(path: Path) -> Profile:
    """A profile file. ``CaseError`` tells everything that is wrong, also what the knowledge in force does not know."""
    found = parsed(path)
    try:
        _put_in(found)
    except ProfileError as error:
        raise CaseError(
            [Problem(str(path), "", str(error), "what the knowledge in force knows")], path.name
        ) from error
    return found


def kept(library: "str | Library") -> list[Kept]:
    """Every profile ever adopted for a library, the latest first."""
    with _place(library) as place:
        return [Kept(*one) for one in place.kept()]


def adopted(library: "str | Library") -> Profile | None:
    """The profile that counts for a library, or ``None``. ``CaseError`` or ``LibraryError`` where it was damaged."""
    with _place(library) as place:
        return place.current()


def adopt(library: "str | Library", profile: Profile, who: str = SOMEBODY) -> Kept:
    """Makes a profile count for a library. ``LibraryError`` where whoever is at work may not, or its note may identify
    somebody; ``OSError`` where it cannot be written. Nothing changes then."""
    from recommender.precedents.store.gate import checked_reason

    checked_reason(profile.note)
    with _place(library, write=True) as place:
        return Kept(place.adopt(profile, who), profile, True)


def adopt_again(library: "str | Library", number: str, who: str = SOMEBODY) -> Kept:
    """Makes an earlier profile count again. ``KeyError`` where there is none of that number."""
    with _place(library, write=True) as place:
        place.adopt_again(number, who)
        return next(Kept(*one) for one in place.kept() if one[2])


def take_back(library: "str | Library", who: str = SOMEBODY) -> bool:
    """From now on no profile counts for the library; ``False`` where none did."""
    with _place(library, write=True) as place:
        if place.current() is None:
            return False
        place.take_back(who)
        return True


def knowledge_of(library: "str | Library", profile: str = ADOPTED) -> Knowledge:
    """The knowledge in force with a profile put in: ``adopted`` that of the library, ``none`` none, else a file's."""
    if profile == NONE or (profile == ADOPTED and library == NONE):
        return knowledge()
    found = adopted(library) if profile == ADOPTED else read(Path(profile))
    try:
        return knowledge() if found is None else _put_in(found)
    except ProfileError as error:
        raise CaseError(
            [
                Problem(
                    "profile",
                    "",
                    str(error),
                    "what the knowledge in force knows; --profile none goes without it",
                )
            ],
            "profile",
        ) from error


def _put_in(profile: Profile) -> Knowledge:
    """The knowledge in force with a profile, put together once for each."""
    base = knowledge()
    held = _PUT_IN.get(profile.digest)
    if held is None or held[0] is not base:
        held = _PUT_IN[profile.digest] = base, in_house(base, profile)
    return held[1]
