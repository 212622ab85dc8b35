"""Every case of a library looked at: texts that may identify somebody, and choices that the rules speak against.

Cases share nothing, so that several processes look at them; they are handed documents and hand back statements.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from recommender.curation import contradictions
from recommender.domain.case import Case
from recommender.domain.statement import Statement
from recommender.precedents.processes import batched, shared_out
from recommender.precedents.store import documents
from recommender.precedents.store.database_source import DatabaseSource
from recommender.precedents.store.errors import DamagedCase
from recommender.precedents.store.gate import looked_at
from recommender.precedents.store.records import Version
from recommender.privacy.gate import Hit, hits

_CHUNK, _WORTH = 20, 200  # cases a time; cases from which on several processes are worth their start


@dataclass(frozen=True, slots=True)
class Look:
    """What was found of one case: hits of the gate, and what its design does against the rules."""

    case_id: str
    hits: tuple[Hit, ...]
    against: tuple[Statement, ...]


def look_at_cases(cases: Iterable[Case], *, rules: bool) -> Iterator[Look]:
    """A look at each of these cases."""
    for case in cases:
        reviewed = case.review is not None and case.review.reason
        held = rules and documents.status(case) == "approved" and not reviewed
        yield Look(case.id, tuple(hits(case)), tuple(contradictions.statements(case)) if held else ())


def look_at_library(
    source: DatabaseSource, *, rules: bool, jobs: int, told: Callable[[int], None] = lambda _done: None
) -> Iterator[Look]:
    """A look at the latest version of every sound case, less the hits that somebody has looked at already; ``told``
    hears how many were looked at. What is damaged is left out and stands in ``source.left_out``."""
    done = 0
    several = jobs if source.count() >= _WORTH else 1
    if rules and several > 1:
        contradictions.made_ready()  # once, before there are several processes
    for looks, damaged in shared_out(
        partial(_look, rules), batched(source.latest_versions(), _CHUNK), several
    ):
        source.left_out.update(damaged)
        marked = [one.case_id for one in looks if one.hits]
        with source.library.reading() as connection:
            seen = looked_at(connection, marked)
        for one in looks:
            known = seen.get(one.case_id, ())
            yield Look(one.case_id, tuple(hit for hit in one.hits if hit.mark not in known), one.against)
        done += len(looks)
        told(done)


def _look(rules: bool, versions: Sequence[Version]) -> tuple[list[Look], dict[str, str]]:
    cases, damaged = [], {}
    for version in versions:
        try:
            cases.append(version.case)
        except DamagedCase as error:
            damaged[version.case_id] = str(error)
    return list(look_at_cases(cases, rules=rules)), damaged
