"""The situations of many cases, on several processor cores where there are that many cases."""

from collections.abc import Callable, Iterator, Sequence
from functools import cache

from recommender.domain.case import Case
from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.model import Situation
from recommender.precedents.search.rows import Block, Packer
from recommender.precedents.search.tables import Likeness, load
from recommender.precedents.situations import all_situations

_CHUNK = 100


def derived_library(
    cases: Iterator[Case],
    likeness: Likeness | None = None,
    jobs: int = 1,
    progress: Callable[[int], None] = lambda _: None,
) -> PrecedentLibrary:
    """The library of these cases, in compact form. ``progress`` is called with how many have been read.

    ``jobs`` processes share the work (only with the project's own likeness, which each of them reads itself).
    """
    known = likeness or load()
    if jobs == 1 or likeness is not None:
        return PrecedentLibrary.packed(all_situations(_counted(cases, progress), known), known)
    from recommender.precedents.processes import batched, shared_out

    packers = {kind: Packer(features) for kind, features in known.kinds.items()}
    done = 0
    for count, blocks in shared_out(blocks_of, batched(cases, _CHUNK), jobs):
        for kind, block in blocks.items():
            packers[kind].extend(block)
        done += count
        progress(done)
    return PrecedentLibrary.of_packers(packers, known)


def situations_of(cases: Iterator[Case], likeness: Likeness, jobs: int = 1) -> Iterator[Situation]:
    """The situations of these cases; ``jobs`` processes share the work (only with the project's own likeness)."""
    if jobs == 1:
        yield from all_situations(cases, likeness)
        return
    from recommender.precedents.processes import batched, shared_out

    for found in shared_out(_situations, batched(cases, _CHUNK // 4), jobs):
        yield from found


def _situations(cases: Sequence[Case]) -> list[Situation]:
    return list(all_situations(cases, _likeness()))


def blocks_of(cases: Sequence[Case]) -> tuple[int, dict[str, Block]]:
    """How many cases these are, and their situations packed, by kind."""
    likeness = _likeness()
    packers = {kind: Packer(features) for kind, features in likeness.kinds.items()}
    for situation in all_situations(cases, likeness):
        packers[situation.kind].add(situation)
    return len(cases), {kind: packer.block() for kind, packer in packers.items()}


@cache
def _likeness() -> Likeness:
    return load()


def _counted(cases: Iterator[Case], progress: Callable[[int], None]) -> Iterator[Case]:
    number = 0
    for number, case in enumerate(cases, start=1):
        yield case
        if number % _CHUNK == 0:
            progress(number)
    progress(number)
