"""Leave-one-out over a library: each case advised without itself and its near-duplicates, its own choices looked up.

Every decision that the design made counts, rests and teeth on which it has nothing included; a rest is looked up
among those ranked for the design's own assembly. The figures are the published ones, never a house profile that these
very cases taught. Cases are shared out through joblib, so that the same call runs on one core, on several, or on a
cluster whose scheduler joblib has been given (``joblib.parallel_config(backend="dask")``).
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from recommender.advice.analysis import CaseAnalysis, NoAdviceError
from recommender.advice.decision import DecisionAnalysis
from recommender.advice.model import STATUS_ORDER, Decision
from recommender.advice.recommend import Recommender
from recommender.curation.duplicates import near_duplicates
from recommender.domain.case import Case, Design
from recommender.facts.derive import derive
from recommender.precedents.situations import choices_of

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


def evaluate_library(
    where: str | None, jobs: int = 1, batch: int = 8, progress: Progress = lambda _done, _of: None
) -> list[Row]:
    """Rows for every approved case of a library with a design. ``where`` as on the command line."""
    from joblib import Parallel, delayed

    from recommender.precedents.store.opening import open_library

    cases = approved(open_library(where).cases())
    twins = twins_of(cases)
    batches = [cases[start : start + batch] for start in range(0, len(cases), batch)]
    work = (
        delayed(evaluate_batch)(where, chunk, {case.id: twins[case.id] for case in chunk if case.id in twins})
        for chunk in batches
    )
    rows: list[Row] = []
    for done, found in enumerate(Parallel(n_jobs=jobs, return_as="generator")(work), start=1):
        rows += found
        progress(min(done * batch, len(cases)), len(cases))
    return rows


def approved(cases: Iterable[Case]) -> list[Case]:
    """The cases that count: approved, with a design and something to replace."""
    return [
        case
        for case in cases
        if case.design is not None and case.missing and case.review and case.review.status == "approved"
    ]


def twins_of(cases: Sequence[Case]) -> dict[str, frozenset[str]]:
    """The near-duplicates of each case that has some."""
    found: dict[str, set[str]] = {}
    for pair in near_duplicates(cases):
        found.setdefault(pair.first, set()).add(pair.second)
        found.setdefault(pair.second, set()).add(pair.first)
    return {case_id: frozenset(others) for case_id, others in found.items()}


_RECOMMENDERS: dict[str | None, Recommender] = {}


def evaluate_batch(
    where: str | None, cases: Sequence[Case], twins: Mapping[str, frozenset[str]] | None = None
) -> list[Row]:
    """The rows of some cases. Each worker opens the library once."""
    if where not in _RECOMMENDERS:
        from recommender.precedents.index.building import library_of
        from recommender.precedents.store.opening import open_library

        _RECOMMENDERS[where] = Recommender(library_of(open_library(where)))
    held = _RECOMMENDERS[where]
    rows: list[Row] = []
    for case in cases:
        held.engine.filters = replace(held.engine.filters, exclude_cases=(twins or {}).get(case.id, frozenset()))
        try:
            rows += compare(case, held.work(as_it_came(case)))
        except NoAdviceError:
            continue
    return rows


def as_it_came(case: Case) -> Case:
    """The case without its design and what followed."""
    return case.model_copy(update={"design": None, "prescription": None, "outcome": None, "dentist_answer": None})


def compare(case: Case, analysis: CaseAnalysis) -> list[Row]:
    """Each choice of the case's own design in the ranking with precedents and in that by rules alone."""
    if case.design is None:
        return []
    known = set(analysis.decisions())
    rows = []
    for kind, site, _, choice, assembly in choices_of(case, derive(case)):
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
