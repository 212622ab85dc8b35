"""Leave-one-out over a library: each case advised without itself and its near-duplicates, its own choices looked up.

Every decision that the design made counts, rests and teeth on which it has nothing included; a rest is looked up
among those ranked for the design's own assembly. The figures are the published ones, never a house profile that these
very cases taught. The same call runs on one core, on several, or on a cluster whose scheduler joblib has been given
(``joblib.parallel_config(backend="dask")``); of a database only ids go out, and each worker reads its cases itself.
"""

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial

import orjson

from recommender.advice.analysis import CaseAnalysis, NoAdviceError
from recommender.advice.decision import DecisionAnalysis
from recommender.advice.model import STATUS_ORDER, Decision
from recommender.advice.recommend import Recommender
from recommender.collector import waits
from recommender.curation.near_pairs import Marks, near_pairs
from recommender.domain.case import Case
from recommender.domain.designs import Design
from recommender.precedents.processes import batched, shared_out
from recommender.precedents.situations import choices_of
from recommender.precedents.source import CaseSource
from recommender.precedents.store.database_source import DatabaseSource
from recommender.precedents.store.documents import as_data
from recommender.precedents.store.importing.near_duplicates import LEAST_OVERLAP

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Row:
    """Where one case's own choice stands, with precedents (``rank``) and by rules alone.

    ``leader`` comes first with precedents; ``lead`` is by how many points of score it comes before the runner-up of
    the same status (``None`` where there is none). ``status`` of the own choice. ``arch`` tells connectors apart.
    """

    case_id: str
    kind: str
    tooth: int
    choice: str
    rank: int
    rules_rank: int
    leader: str = ""
    lead: float | None = None
    status: str = "open"
    arch: str = ""


MOST = 2_000
"""Of more cases, so many are advised, evenly chosen, unless every one is asked for (common practice, no source)."""


def evaluate_some(
    where: str | None,
    jobs: int = 1,
    batch: int = 8,
    progress: Progress = lambda _done, _of: None,
    most: int | None = MOST,
) -> tuple[list[Row], int]:
    """Rows of at most ``most`` cases, every n-th in the order of id (``None``: of all), and how many count.

    Each is held against the whole library, without itself and its near-duplicates, whether those are advised or not.
    """
    _RECOMMENDERS.pop(where, None)  # the library may have changed since it was asked last
    known, cases = _known(where)
    chosen = (
        known
        if most is None or len(known) <= most
        else [known[at * len(known) // most] for at in range(most)]
    )
    twins = _twins(near_pairs(known, LEAST_OVERLAP))
    ids = [one.case_id for one in chosen]
    work = [
        (
            part if cases is None else [cases[one] for one in part],
            {one: twins[one] for one in part if one in twins},
        )
        for part in batched(ids, batch)
    ]
    rows: list[Row] = []
    for done, found in enumerate(_shared(where, work, jobs), start=1):
        rows += found
        progress(min(done * batch, len(ids)), len(ids))
    return rows, len(known)


def _known(where: str | None) -> tuple[list[Marks], dict[str, Case] | None]:
    """Every case that counts, as marks; the cases themselves too where they lie in no database."""
    from recommender.precedents.store.opening import open_library

    source = open_library(where)
    if not isinstance(source, DatabaseSource):
        cases = {case.id: case for case in approved(source.cases())}
        return [Marks.of(as_data(case)) for case in cases.values()], cases
    found = []
    for version in source.serving():
        data = orjson.loads(version.document) if version.intact else {}
        review, design = data.get("review") or {}, data.get("design")
        if review.get("status") == "approved" and data.get("missing") and design is not None:
            found.append(Marks.of(data))
    source.close()  # each process opens its own
    return found, None


_Work = tuple[Sequence[Case] | Sequence[str], Mapping[str, frozenset[str]]]


def _shared(where: str | None, parts: Sequence[_Work], jobs: int) -> Iterator[list[Row]]:
    """Through joblib where a cluster or another backend was named to it, else by processes that end with this one."""
    from joblib import Parallel, delayed, parallel
    from joblib._parallel_backends import LokyBackend

    work = partial(_batch, where)
    backend, _ = parallel.get_active_backend()
    if jobs == 1 or isinstance(backend, LokyBackend):
        several = (os.cpu_count() or 1) if jobs < 0 else jobs
        if several > 1:
            _recommender(where, several)  # once, before there are several processes
        yield from shared_out(work, parts, several)
    else:
        yield from Parallel(n_jobs=jobs, return_as="generator")(delayed(work)(part) for part in parts)


def _batch(where: str | None, part: _Work) -> list[Row]:
    return evaluate_batch(where, *part)


def approved(cases: Iterable[Case]) -> list[Case]:
    """The cases that count: approved, with a design and something to replace."""
    return [
        case
        for case in cases
        if case.design is not None and case.missing and case.review and case.review.status == "approved"
    ]


def _twins(pairs: Iterable[tuple[str, str, float]]) -> dict[str, frozenset[str]]:
    """The near-duplicates of each case that has some."""
    found: dict[str, set[str]] = {}
    for first, second, _ in pairs:
        found.setdefault(first, set()).add(second)
        found.setdefault(second, set()).add(first)
    return {case_id: frozenset(others) for case_id, others in found.items()}


_RECOMMENDERS: dict[str | None, Recommender] = {}
_SOURCES: dict[tuple[str | None, int], CaseSource] = {}


def evaluate_batch(
    where: str | None,
    cases: Sequence[Case] | Sequence[str],
    twins: Mapping[str, frozenset[str]] | None = None,
) -> list[Row]:
    """The rows of some cases (or of those of these ids). Each worker opens the library once."""
    from recommender.precedents.store.opening import open_library

    held = _recommender(where)
    here = (where, os.getpid())  # no connection is shared with the process that this one came from
    if here not in _SOURCES:
        _SOURCES[here] = open_library(where)
    source = _SOURCES[here]
    rows: list[Row] = []
    with waits():
        for case in _read(source, cases):
            without = (twins or {}).get(case.id, frozenset())
            held.engine.filters = replace(held.engine.filters, exclude_cases=without)
            with suppress(NoAdviceError):
                rows += compare(case, held.work(as_it_came(case)))
    return rows


def _recommender(where: str | None, jobs: int = 1) -> Recommender:
    from recommender.precedents.index.building import library_of
    from recommender.precedents.index.serving import Indexed, serve
    from recommender.precedents.store.opening import open_library

    if where not in _RECOMMENDERS:
        source = open_library(where)
        library = serve(source, jobs=jobs).library if isinstance(source, Indexed) else library_of(source)
        _RECOMMENDERS[where] = Recommender(library)
        if isinstance(source, DatabaseSource):
            source.close()
    return _RECOMMENDERS[where]


def _read(source: CaseSource, cases: Sequence[Case] | Sequence[str]) -> Iterator[Case]:
    yield from (one for one in cases if isinstance(one, Case))
    ids = [one for one in cases if isinstance(one, str)]
    if ids and isinstance(source, DatabaseSource):
        yield from source.some(ids)


def as_it_came(case: Case) -> Case:
    """The case without its design and what followed."""
    return case.model_copy(
        update={"design": None, "prescription": None, "outcome": None, "dentist_answer": None}
    )


def compare(case: Case, analysis: CaseAnalysis) -> list[Row]:
    """Each choice of the case's own design in the ranking with precedents and in that by rules alone."""
    if case.design is None:
        return []
    known = set(analysis.decisions())
    rows = []
    for kind, site, _, choice, assembly in choices_of(case, analysis.facts):
        decision = Decision(kind, site)
        if decision not in known or (kind == "rest" and assembly is None):
            continue
        examined = analysis.examine(decision) if assembly is None else analysis.examine_rest(site, assembly)
        if choice in examined.chosen:
            rows.append(_row(case, decision, choice, examined))
    return rows


def _row(case: Case, decision: Decision, choice: str, examined: DecisionAnalysis) -> Row:
    order, scores, chosen = examined.order(), examined.scores(), examined.chosen
    by_rules = sorted(chosen, key=lambda o: (STATUS_ORDER.index(chosen[o].status), -chosen[o].rules.value, o))
    status = {name: judged.status for name, judged in chosen.items()}
    rival = len(order) > 1 and status[order[1]] == status[order[0]]
    return Row(
        case.id, decision.kind, decision.tooth, choice, order.index(choice) + 1, by_rules.index(choice) + 1,
        order[0], scores[order[0]] - scores[order[1]] if rival else None, status[choice], case.arch,
    )  # fmt: skip


def choices(design: Design) -> list[tuple[Decision, str]]:
    """The decisions that a design made."""
    made = [(Decision("retainer", item.tooth), str(item.assembly)) for item in design.retainers or ()]
    made += [
        (Decision("replacement", tooth), str(option)) for tooth, option in (design.replacements or {}).items()
    ]
    if design.connector is not None:
        made.append((Decision("connector"), str(design.connector)))
    return made
