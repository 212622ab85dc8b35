"""Where precedents come from: a library by its address, opened once and kept until it changes."""

from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from recommender.advice.recommend import Recommender
    from recommender.domain.case import Case
    from recommender.precedents.index.serving import Served
    from recommender.precedents.library import PrecedentLibrary
    from recommender.precedents.source import CaseSource
    from recommender.precedents.store.library import Library

CONFIGURED = "configured"


def address(library: str | Path | None) -> str:
    """The address that is meant.

    ``None`` and ``"none"``: no precedents; ``"demo"``: the packaged demo library, which is invented;
    ``"configured"``: the library of ``RPD_CASEBOOK_LIBRARY`` or the configuration file, else the demo; anything else
    a database URL or a folder of cases.
    """
    from recommender.precedents.store.opening import configured

    if library is None:
        return "none"
    return configured() or "demo" if library == CONFIGURED else str(library)


def open_source(library: str | Path | None = CONFIGURED) -> "CaseSource":
    """The cases of a library, for reading. Raises ``LibraryError`` or ``CaseError``."""
    from recommender.precedents.store.opening import open_library

    return open_library(address(library))


def served(source: "CaseSource") -> "PrecedentLibrary | Served":
    """The precedents of a source; what is served from an index that is kept beside it says how it came by them.

    Where figures were adopted by which stored cases speak otherwise, every case is worked out anew: no index fits them.
    """
    from recommender.advice.precedents import derived, differ
    from recommender.knowledge.in_force import knowledge
    from recommender.knowledge.packaged import adopted_folder
    from recommender.precedents.index.building import library_of
    from recommender.precedents.index.serving import Indexed, serve

    if adopted_folder() is not None and differ(None, knowledge()):
        return derived(source.cases(), knowledge())
    return serve(source) if isinstance(source, Indexed) else library_of(source)


def precedents_of(source: "CaseSource") -> "PrecedentLibrary":
    """The precedents of a source, however they are served."""
    from recommender.precedents.index.serving import Served

    found = served(source)
    return found.library if isinstance(found, Served) else found


def approved_of(source: "CaseSource", most: int) -> "Iterator[Case]":
    """At most so many cases of a source, evenly over them; of these the approved ones."""
    ids = source.ids()
    taken = min(most, len(ids))
    for place in range(taken):
        case = source.get(ids[place * len(ids) // taken])
        if case.review is not None and case.review.status == "approved":
            yield case


def recommender(
    library: str | Path | None = CONFIGURED, *, approved_only: bool = True, profile: str = "adopted"
) -> "Recommender":
    """A recommender over a library, shared by every call until the library or its house profile changes.

    ``profile``: ``adopted`` for the house profile that counts for the library (if any), ``none`` for the published
    figures, else the path of a profile file. Raises ``LibraryError`` for a library that cannot be opened, ``CaseError``
    for a folder with a faulty case file or a faulty profile.
    """
    from recommender.curation.house.keeping import knowledge_of

    where = address(library)
    source = open_source(where)
    base = knowledge_of(kept_in(source, where), profile)
    digest = base.house.digest if base.house else ""
    version = "" if where == "none" else source.version()
    return _recommender(where, version, approved_only, profile, digest)


def kept_in(source: "CaseSource", where: str) -> "str | Library":
    """Where the house profile of a library is kept: the database that is open, else by the address."""
    from recommender.precedents.store.database_source import DatabaseSource

    return source.library if isinstance(source, DatabaseSource) else where


@lru_cache(maxsize=4)
def _recommender(where: str, version: str, approved_only: bool, profile: str, digest: str) -> "Recommender":
    from recommender.advice.recommend import Recommender
    from recommender.curation.house.keeping import knowledge_of

    del version, digest  # parts of the key only: another version is another library
    source = open_source(where)
    base = knowledge_of(kept_in(source, where), profile)
    if where == "none":
        return Recommender(None, base, approved_only=approved_only)
    return Recommender(
        precedents_of(source), base, approved_only=approved_only, records=partial(approved_of, source)
    )
