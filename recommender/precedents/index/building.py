"""The precedents of a source of cases: from an index that is kept, from a compiled form, or worked out."""

from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

from recommender.domain.case import Case
from recommender.precedents.index import compiled, saved, serving
from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.search.tables import Likeness, load
from recommender.precedents.situations import all_situations
from recommender.precedents.source import CaseSource, DemoSource


def library_of(
    source: CaseSource, likeness: Likeness | None = None, kept: Path | None = None
) -> PrecedentLibrary:
    """The library of all that a source holds: the one kept in folder ``kept`` if it fits, else one in memory.

    A database uses the index that is kept of it (``serving``). Nothing is written; ``keep`` and
    ``serving.keep_up`` do that.
    """
    known = likeness or load()
    if isinstance(source, serving.Indexed):
        return serving.serve(source, known).library
    if kept is not None:
        with suppress(saved.UnfitIndexError):
            return saved.load(kept, source.version(), known)
    ready = compiled.read(source.folder, known.version) if isinstance(source, DemoSource) else None
    if ready is None:
        ready = list(all_situations(source.cases(), known))
    return PrecedentLibrary.build(ready, known)


def keep(
    source: CaseSource,
    folder: Path,
    likeness: Likeness | None = None,
    progress: Callable[[int], None] = lambda _: None,
) -> PrecedentLibrary:
    """Bring the kept library in ``folder`` up to date with a source, building it anew where it does not fit.

    ``progress`` is called with how many cases have been read so far.
    """
    known = likeness or load()
    version = source.version()
    with suppress(saved.UnfitIndexError):
        return saved.load(folder, version, known)

    def counted() -> Iterator[Case]:
        for number, case in enumerate(source.cases(), start=1):
            yield case
            progress(number)

    library = PrecedentLibrary.build(all_situations(counted(), known), known)
    saved.save(library, folder, version)
    return library
