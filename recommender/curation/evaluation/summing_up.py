"""What the rows of a leave-one-out say: by decision, by option, by size of lead, beside always the commonest choice."""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from recommender.curation.evaluation.leave_one_out import Row
from recommender.curation.evaluation.shares import Share, share

LEADS: tuple[tuple[float, float], ...] = ((0.0, 1.0), (1.0, 3.0), (3.0, 6.0), (6.0, float("inf")))
"""Sizes of a lead in points of score; the first is a near tie."""


WITHOUT_CLASP = ("none", "rest_only")


@dataclass(frozen=True, slots=True)
class Told:
    """One group of decisions: the own choice first, among three, first by rules alone, and the commonest choice
    right."""

    first: Share
    three: Share
    rules_first: Share
    commonest: Share


@dataclass(frozen=True, slots=True)
class Summary:
    """``by_kind`` with ``all`` for everything; ``by_option`` as (kind, option); ``by_lead`` by the ends of the lead.

    ``without_clasp``: the own choice first on teeth on which the design has no clasp, nothing at all or a rest alone.
    ``out_of_status`` counts own choices of a worse status than the leader: blocked, or in need of work that others do
    not need; no weight can bring those first.
    """

    cases: int
    by_kind: dict[str, Told]
    by_option: dict[tuple[str, str], Share]
    by_lead: dict[tuple[float, float], Share]
    without_clasp: Share
    changed: Share
    out_of_status: int

    def document(self) -> dict[str, Any]:
        """As plain values for JSON."""
        return {
            "cases": self.cases,
            "by_decision": {
                kind: {
                    "of": told.first.of, "first": told.first.held, "three": told.three.held,
                    "rules_first": told.rules_first.held, "commonest": told.commonest.held,
                    "interval": {
                        name: [getattr(told, name).low, getattr(told, name).high]
                        for name in ("first", "three", "rules_first", "commonest")
                    },
                }
                for kind, told in self.by_kind.items()
            },
            "by_option": [
                {"decision": kind, "option": option, **found.document()}
                for (kind, option), found in self.by_option.items()
            ],
            "by_lead": [
                {"from": low, "to": None if high == float("inf") else high, **found.document()}
                for (low, high), found in self.by_lead.items()
            ],
            "teeth_without_a_clasp": self.without_clasp.document(),
            "precedents_changed_the_leader": self.changed.document(),
            "own_choice_of_a_worse_status": self.out_of_status,
        }  # fmt: skip


def summary(rows: Sequence[Row]) -> Summary:
    """Everything that the rows say; the order of the rows changes nothing."""
    rows = sorted(rows, key=lambda row: (row.case_id, row.kind, row.tooth))
    common = commonest(rows)
    kinds = [
        kind
        for kind in ("retainer", "rest", "connector", "replacement")
        if any(row.kind == kind for row in rows)
    ]
    by_kind = {kind: _told([row for row in rows if row.kind == kind], common) for kind in kinds}
    options: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        options.setdefault((row.kind, row.choice), []).append(row)
    led = [row for row in rows if row.lead is not None]
    return Summary(
        len({row.case_id for row in rows}),
        {"all": _told(rows, common), **by_kind},
        {pair: _first(options[pair]) for pair in sorted(options)},
        {
            ends: _first([r for r in led if r.lead is not None and ends[0] <= r.lead < ends[1]])
            for ends in LEADS
        },
        _first([row for row in rows if row.kind == "retainer" and row.choice in WITHOUT_CLASP]),
        _share(rows, lambda row: (row.rank == 1) != (row.rules_rank == 1)),
        sum(row.status in ("advised_against", "excluded") for row in rows),
    )


def commonest(rows: Iterable[Row]) -> dict[tuple[str, str, int], str]:
    """What always the commonest choice would say at each decision: the commonest of the other cases, by kind (and
    arch, for the connector); ties go to the first in the alphabet."""
    rows = list(rows)
    counts: dict[tuple[str, str], Counter[str]] = {}
    own: dict[tuple[str, str, str], Counter[str]] = {}
    for row in rows:
        counts.setdefault(_stratum(row), Counter())[row.choice] += 1
        own.setdefault((row.case_id, *_stratum(row)), Counter())[row.choice] += 1
    ordered = {stratum: sorted(held, key=lambda o: (-held[o], o)) for stratum, held in counts.items()}
    told: dict[tuple[str, str, str], str] = {}
    for (case_id, *stratum), mine in own.items():
        every = counts[stratum[0], stratum[1]]
        # the first that the case did not choose, or one of its own where others chose that as often
        rivals = [*mine, *(o for o in ordered[stratum[0], stratum[1]] if o not in mine)][: len(mine) + 1]
        others = {o: every[o] - mine[o] for o in rivals if every[o] > mine[o]}
        told[case_id, stratum[0], stratum[1]] = min(others, key=lambda o: (-others[o], o)) if others else ""
    return {(row.case_id, row.kind, row.tooth): told[row.case_id, *_stratum(row)] for row in rows}


def _stratum(row: Row) -> tuple[str, str]:
    return row.kind, row.arch if row.kind == "connector" else ""


def _told(rows: Sequence[Row], common: dict[tuple[str, str, int], str]) -> Told:
    return Told(
        _first(rows),
        _share(rows, lambda row: row.rank <= 3),
        _share(rows, lambda row: row.rules_rank == 1),
        _share(rows, lambda row: common[row.case_id, row.kind, row.tooth] == row.choice),
    )


def _first(rows: Sequence[Row]) -> Share:
    return _share(rows, lambda row: row.rank == 1)


def _share(rows: Sequence[Row], held: Callable[[Row], bool]) -> Share:
    return share([held(row) for row in rows], [row.case_id for row in rows])
