"""Leave-one-out over a library: each case advised without itself, its own choices looked up in the ranking.

Cases are shared out through joblib, so that the same call runs on one core, on several, or on a cluster whose
scheduler joblib has been given (``joblib.parallel_config(backend="dask")``).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.model import Decision
from recommender.advice.recommend import Recommender
from recommender.domain.case import Case, Design


@dataclass(frozen=True, slots=True)
class Row:
    """Where one case's own choice stands: with precedents and rules, and with rules alone."""

    case_id: str
    kind: str
    tooth: int
    choice: str
    rank: int
    rules_rank: int


def evaluate_library(where: str | None, jobs: int = 1, batch: int = 8) -> list[Row]:
    """Rows for every approved case of a library with a design. ``where`` as on the command line."""
    from joblib import Parallel, delayed

    from recommender.precedents.store.opening import open_library

    cases = [
        case
        for case in open_library(where).cases()
        if case.design is not None and case.missing and case.review and case.review.status == "approved"
    ]
    batches = [cases[start : start + batch] for start in range(0, len(cases), batch)]
    found = Parallel(n_jobs=jobs)(delayed(evaluate_batch)(where, chunk) for chunk in batches)
    return [row for rows in found for row in rows]


_RECOMMENDERS: dict[str | None, tuple[Recommender, Recommender]] = {}


def evaluate_batch(where: str | None, cases: Sequence[Case]) -> list[Row]:
    """The rows of some cases. Each worker opens the library once."""
    if where not in _RECOMMENDERS:
        from recommender.precedents.index.building import library_of
        from recommender.precedents.store.opening import open_library

        _RECOMMENDERS[where] = (Recommender(library_of(open_library(where))), Recommender(None))
    with_precedents, rules_alone = _RECOMMENDERS[where]
    rows: list[Row] = []
    for case in cases:
        asked = case.model_copy(
            update={"design": None, "prescription": None, "outcome": None, "dentist_answer": None}
        )
        rows += compare(case, with_precedents.work(asked), rules_alone.work(asked))
    return rows


def compare(case: Case, analysis: CaseAnalysis, plain: CaseAnalysis) -> list[Row]:
    """Each choice of the case's own design against both rankings."""
    if case.design is None:
        return []
    rows = []
    for decision, choice in choices(case.design):
        if decision not in analysis.decisions():
            continue
        first, second = analysis.decide(decision).option(choice), plain.decide(decision).option(choice)
        rows.append(Row(case.id, decision.kind, decision.tooth, choice, first.rank, second.rank))
    return rows


def choices(design: Design) -> list[tuple[Decision, str]]:
    """The decisions that a design made."""
    made = [(Decision("retainer", item.tooth), str(item.assembly)) for item in design.retainers or ()]
    made += [
        (Decision("replacement", tooth), str(option)) for tooth, option in (design.replacements or {}).items()
    ]
    if design.connector is not None:
        made.append((Decision("connector"), str(design.connector)))
    return made


def summary(rows: Sequence[Row]) -> Mapping[str, Mapping[str, int]]:
    """By decision kind: how many, and how often the own choice is first or among three, with and without precedents."""
    found: dict[str, dict[str, int]] = {}
    for row in rows:
        line = found.setdefault(
            row.kind, {"of": 0, "first": 0, "three": 0, "rules_first": 0, "rules_three": 0}
        )
        line["of"] += 1
        line["first"] += row.rank == 1
        line["three"] += row.rank <= 3
        line["rules_first"] += row.rules_rank == 1
        line["rules_three"] += row.rules_rank <= 3
    return found
