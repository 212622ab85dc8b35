"""Looking through a database with several processes: they are handed documents, and hand back a few plain words."""

from collections.abc import Callable
from functools import partial

from recommender.curation.seen import Looked, look_at_chunk
from recommender.precedents.processes import batched, shared_out
from recommender.precedents.store import documents
from recommender.precedents.store.database_source import DatabaseSource
from recommender.precedents.store.errors import DamagedCase
from recommender.precedents.store.records import Version

_CHUNK, _WORTH = 100, 1_000


def look_at_stored(
    source: DatabaseSource, jobs: int, told: Callable[[int], None], *, drafts: bool = True
) -> Looked:
    """What the cases that serve are, as ``seen.look`` (without ``drafts``: the approved ones); ``told`` hears how many
    were read. What is damaged is left out and stands in ``source.left_out``."""
    found = Looked()
    seen = 0
    several = jobs if source.count() >= _WORTH else 1
    for number, looked, damaged in shared_out(
        partial(_look, drafts), batched(source.serving(), _CHUNK), several
    ):
        found.add(looked)
        source.left_out.update(damaged)
        seen += number
        told(seen)
    return found


def _look(drafts: bool, versions: list[Version]) -> tuple[int, Looked, dict[str, str]]:
    cases, damaged = [], {}
    for version in versions:
        try:
            case = version.case
        except DamagedCase as error:
            damaged[version.case_id] = str(error)
            continue
        if drafts or documents.status(case) == "approved":
            cases.append(case)
    return len(versions), look_at_chunk(cases), damaged
