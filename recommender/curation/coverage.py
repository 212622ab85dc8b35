"""What a library of cases covers and what it lacks: pure functions over lists of cases.

The report counts what is there (arch, Kennedy class, options, outcomes, recorded fields) and says which
situation is missing most, weighed by how often it reaches a laboratory. It judges no design: that an option
is never used with a class may be a gap or good sense, and the reader decides.
"""

import csv
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from recommender.curation.recorded import Chance
from recommender.curation.seen import Looked, Seen, look
from recommender.curation.usage import PER_DECISION
from recommender.domain import vocabulary as v
from recommender.domain.case import Case
from recommender.domain.statement import Choice, count, quantity, several
from recommender.wording.words import words_in


@dataclass(frozen=True, slots=True)
class Figures:
    """What a library is weighed against (``shared/curation/coverage.yaml``).

    ``class_frequency``: share (0-1, summing to 1) of each Kennedy class in a laboratory's work; ``source``
    names the series. ``modification_bands``: per class the numbers of modification spaces told apart, the
    last of them standing for that many and more.
    """

    class_frequency: Mapping[str, float]
    source: str
    arch_share: Mapping[str, float]
    modification_bands: Mapping[str, tuple[int, ...]]
    thin_below: int
    seldom_below: float
    assumed: str = ""


@dataclass(frozen=True, slots=True)
class Cell:
    """One kind of arch: ``held`` cases against the number ``expected`` of a library of this size."""

    arch: str
    kennedy: str
    modifications: int
    open_ended: bool
    share: float
    held: int
    expected: float

    @property
    def label(self) -> str:
        """In words, e.g. ``mandible, Class II, 2 or more modifications``."""
        code = "coverage.arch_open" if self.open_ended else "coverage.arch"
        more = count(self.modifications) if self.modifications else None
        return words_in().told(
            code if more else "coverage.arch_alone", arch=self.arch, kennedy=self.kennedy, more=more
        )


@dataclass(frozen=True, slots=True)
class Absent:
    """An option that no case of this arch and class uses; ``weight`` (0-1) is how common such arches are."""

    arch: str
    kennedy: str
    decision: str
    option: str
    weight: float


@dataclass(frozen=True, slots=True)
class Suggestion:
    """The single case that would help most: the kind of arch, and the options least precedented there."""

    cell: Cell
    options: Mapping[str, str]
    with_outcome: bool
    text: str


@dataclass(frozen=True, slots=True)
class Coverage:
    """What a library holds. Counts are cases, but ``events`` counts events; ``options`` maps decision to
    option to the number of cases that use it."""

    cases: int
    by_arch: Mapping[str, int]
    by_class: Mapping[str, int]
    by_label: Mapping[str, int]
    by_status: Mapping[str, int]
    options: Mapping[str, Mapping[str, int]]
    unused: tuple[tuple[str, str], ...]
    thin: tuple[tuple[str, str], ...]
    followed: int
    clean: int
    adverse: int
    refused: int
    events: Mapping[str, int]
    fields: Mapping[str, Chance]
    never_recorded: tuple[str, ...]
    seldom_recorded: tuple[str, ...]
    cells: tuple[Cell, ...]
    absent: tuple[Absent, ...]
    most_helpful: Suggestion | None
    source: str
    assumed: str = ""

    def document(self) -> dict[str, Any]:
        """As plain values for JSON."""
        return {
            "cases": self.cases,
            "by_arch": dict(self.by_arch),
            "by_class": dict(self.by_class),
            "by_label": dict(self.by_label),
            "by_status": dict(self.by_status),
            "options": {decision: dict(counts) for decision, counts in self.options.items()},
            "unused": [list(pair) for pair in self.unused],
            "thin": [list(pair) for pair in self.thin],
            "outcomes": {
                "followed": self.followed,
                "clean": self.clean,
                "adverse": self.adverse,
                "refused": self.refused,
                "events": dict(self.events),
            },
            "never_recorded": list(self.never_recorded),
            "seldom_recorded": list(self.seldom_recorded),
            "cells": [
                {"label": c.label, "held": c.held, "expected": c.expected, "share": c.share}
                for c in self.cells
            ],
            "absent": [
                {
                    "arch": a.arch,
                    "class": a.kennedy,
                    "decision": a.decision,
                    "option": a.option,
                    "weight": a.weight,
                }
                for a in self.absent
            ],
            "most_helpful": self.most_helpful.text if self.most_helpful else None,
            "source": self.source,
            "assumed": self.assumed,
        }


def figures() -> Figures:
    """The figures in use, class frequencies scaled to sum to 1. ``KeyError`` if a row is not there."""
    from recommender.knowledge.in_force import knowledge
    from recommender.resources import shared

    data = knowledge().figures.coverage
    with shared("tables", "epidemiology.csv").open(encoding="utf-8", newline="") as table:
        rows = {row["id"]: row for row in csv.DictReader(table)}
    raw = {name: float(rows[row]["value_typical"]) for name, row in data.class_frequency.items()}
    total = sum(raw.values())
    return Figures(
        {name: value / total for name, value in raw.items()},
        "; ".join(sorted({rows[row]["source"] for row in data.class_frequency.values()})),
        {str(k): float(x) for k, x in data.arch_share.model_dump().items()},
        {str(k): tuple(x) for k, x in data.modification_bands.items()},
        data.thin_below,
        data.seldom_below,
        data.assumed,
    )


def coverage(cases: Iterable[Case], weigh: Figures | None = None) -> Coverage:
    """What these cases cover and lack; the order of the cases changes nothing."""
    return covered(look(cases), weigh)


def covered(looked: Looked, weigh: Figures | None = None) -> Coverage:
    """The same of a library that was looked through already."""
    held = sorted(looked.cases, key=lambda case: case.id)
    weigh = weigh or figures()
    placed = [case for case in held if case.number]
    used = Counter(
        (decision, option) for case in held for decision, one in case.uses.items() for option in one
    )
    options = {
        decision: {option: used[decision, option] for option in known}
        for decision, known in PER_DECISION.items()
    }
    pairs = [(decision, option, count) for decision in options for option, count in options[decision].items()]
    with_outcome = [case for case in held if case.followed]
    fields = looked.fields
    cells = tuple(_cells([(case.arch, case.number, case.modifications) for case in placed], weigh))
    return Coverage(
        cases=len(held),
        by_arch=_counted((case.arch for case in held), get_args(v.Arch)),
        by_class=_counted((case.number for case in placed), tuple(weigh.class_frequency)),
        by_label=dict(sorted(Counter(case.label for case in held).items())),
        by_status=_counted((case.status for case in held), get_args(v.ReviewStatus)),
        options=options,
        unused=tuple((decision, option) for decision, option, count in pairs if not count),
        thin=tuple((decision, option) for decision, option, count in pairs if 0 < count < weigh.thin_below),
        followed=len(with_outcome),
        clean=sum(not case.adverse for case in with_outcome),
        adverse=sum(case.adverse for case in with_outcome),
        refused=sum(case.refused for case in held),
        events=_counted((event for case in held for event in case.events), get_args(v.EventKind)),
        fields=fields,
        never_recorded=tuple(name for name, chance in fields.items() if not chance.recorded),
        seldom_recorded=tuple(
            name
            for name, chance in fields.items()
            if chance.recorded > 0 and chance.share < weigh.seldom_below
        ),
        cells=cells,
        absent=tuple(_absent(placed, weigh)),
        most_helpful=_most_helpful(cells, placed),
        source=weigh.source,
        assumed=weigh.assumed,
    )


def _counted(found: Iterable[str], known: Sequence[str]) -> dict[str, int]:
    """Counts of the known words first, in their order and with their zeros, then of any others."""
    counts = Counter(found)
    return {word: counts.pop(word, 0) for word in known} | dict(sorted(counts.items()))


def _band(kennedy: str, modifications: int, weigh: Figures) -> int:
    return max(band for band in weigh.modification_bands[kennedy] if band <= modifications)


def _cells(placed: Sequence[tuple[str, str, int]], weigh: Figures) -> Iterator[Cell]:
    """Every kind of arch, the most wanted first (expected less held)."""
    counts = Counter((arch, number, _band(number, spaces, weigh)) for arch, number, spaces in placed)
    cells = []
    for arch, half in weigh.arch_share.items():
        for number, frequency in weigh.class_frequency.items():
            bands = weigh.modification_bands[number]
            for band in bands:
                share = half * frequency / len(bands)
                cells.append(
                    Cell(
                        arch, number, band, len(bands) > 1 and band == bands[-1], share,
                        counts[(arch, number, band)], share * len(placed),
                    )
                )  # fmt: skip
    yield from sorted(cells, key=lambda c: (-(c.expected - c.held), c.arch, c.kennedy, c.modifications))


def _absent(placed: Sequence[Seen], weigh: Figures) -> Iterator[Absent]:
    """Retainers, connectors, replacements that no case of an arch and class uses, commonest arches first."""
    seen = {
        (case.arch, case.number, decision, option)
        for case in placed
        for decision, options in case.uses.items()
        for option in options
    }
    found = [
        Absent(arch, number, decision, option, half * frequency)
        for arch, half in weigh.arch_share.items()
        for number, frequency in weigh.class_frequency.items()
        for decision in ("retainer", f"connector.{arch}", "replacement")
        for option in PER_DECISION[decision]
        if (arch, number, decision, option) not in seen
    ]
    yield from sorted(found, key=lambda a: (-a.weight, a.arch, a.kennedy, a.decision, a.option))


def _most_helpful(cells: Sequence[Cell], placed: Sequence[Seen]) -> Suggestion | None:
    """The kind of arch where one more case adds most, ``share / (1 + held)``: each further one adds less."""
    if not cells:
        return None
    cell = min(cells, key=lambda c: (-c.share / (1 + c.held), c.arch, c.kennedy, c.modifications))
    alike = [case for case in placed if (case.arch, case.number) == (cell.arch, cell.kennedy)]
    wanted: dict[str, str] = {}
    for decision in ("retainer", f"connector.{cell.arch}", "replacement"):
        # known elsewhere in this arch, but with the fewest precedents in this class
        here = Counter(option for case in alike for option in case.uses_of(decision))
        arch = Counter(
            option for case in placed if case.arch == cell.arch for option in case.uses_of(decision)
        )
        known = [option for option in PER_DECISION[decision] if option not in ("none", "leave_open")]
        wanted[decision.split(".")[0]] = min((here[option], -arch[option], option) for option in known)[2]
    outcome = sum(case.followed for case in alike) * 2 < len(alike) or not alike
    text = words_in().told(
        "coverage.most_helpful_followed" if outcome else "coverage.most_helpful",
        arch=cell.label,
        held=cell.held,
        expected=quantity(cell.expected),
        options=several((Choice(decision, option) for decision, option in wanted.items()), "and"),
    )
    return Suggestion(cell, wanted, outcome, text)
