"""Precedents in every world: likeness, their weight ``w`` and what they say, when the case is complete.

The likeness of a stored row is a sum over features, in whole numbers; features that no drawn field touches are summed
once, the others by the codes that occur. Rows that cannot be among the nearest in any world are left out first,
which changes nothing. A library too large to look through whole is represented by the rows nearest to the case as it
is recorded (``MOST_ROWS``): from there on the figures are close, not exact.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

import numpy as np
import numpy.typing as npt

from recommender.advice.confidence.columns import NONE, WorldScope
from recommender.advice.model import Decision
from recommender.precedents.search.tables import GAP, ONE

if TYPE_CHECKING:
    from recommender.advice.decision import Engine
    from recommender.facts.derive import CaseFacts
    from recommender.precedents.library import PrecedentLibrary
    from recommender.precedents.search.segments import Shelf

MOST_ROWS = 4000
_MOST_CODE = 1 << 62
Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]
Whole = npt.NDArray[Any]


@dataclass(frozen=True, slots=True)
class Votes:
    """The precedents of a decision in each world.

    ``likeness`` and ``rows`` have one line for each kind of world (``worlds`` says which world is of which), the
    nearest ``k`` in no order; ``rows`` point into ``spoken``, the numbers of what they chose, and ``worths``. Kinds
    are looked up when a world of theirs is asked about (``known``).
    """

    worlds: Places
    likeness: Floats
    total: Floats
    rows: Places
    spoken: Places
    worths: Floats
    lambda_: float
    kappa: float
    fields: frozenset[str]
    known: npt.NDArray[np.bool_]
    look: Callable[[Places], tuple[Floats, Places]]

    def look_up(self, at: Places | None) -> None:
        """Find the nearest of the kinds that these worlds are of."""
        asked = np.zeros(len(self.known), dtype=bool)
        asked[self.worlds if at is None else self.worlds[at]] = True
        new = np.flatnonzero(asked & ~self.known)
        if len(new):
            self.likeness[new], self.rows[new] = self.look(new)
            self.total[new] = self.likeness[new].sum(axis=1)
            self.known[new] = True

    def _of(self, at: Places | None) -> Places:
        return self.worlds if at is None else self.worlds[at]

    def weight(self, at: Places | None) -> Floats:
        """``w`` in each of these worlds."""
        found: Floats = (self.total / (self.total + self.kappa))[self._of(at)]
        return found

    def opinions(self, credits: Floats, at: Places | None) -> Floats:
        """``P`` of some options in each of these worlds, a line each; ``credits`` (``options, choices``) is what each
        choice of the library's is worth for them."""
        rows, likeness, total, place = self.rows, self.likeness, self.total, self.worlds
        if at is not None:
            kinds, place = np.unique(self.worlds[at], return_inverse=True)
            rows, likeness, total = rows[kinds], likeness[kinds], total[kinds]
        choices = credits.shape[1]
        told = self.spoken[rows] + choices * np.arange(len(rows))[:, None]
        said = np.bincount(
            told.ravel(), weights=(likeness * self.worths[rows]).ravel(), minlength=len(rows) * choices
        )
        points = credits @ said.reshape(len(rows), choices).T
        found: Floats = (50.0 + 50.0 * points / (self.lambda_ + total))[:, place]
        return found


@dataclass(frozen=True, slots=True)
class _Rows:
    """All present rows of a shelf in tie order. ``chosen`` are numbers of ``choices``."""

    codes: npt.NDArray[np.uint8]
    flags: npt.NDArray[np.uint8]
    prints: npt.NDArray[np.uint64]
    cases: npt.NDArray[np.bytes_]
    choices: tuple[str, ...]
    chosen: Places
    worths: Floats


@dataclass(frozen=True, slots=True)
class _Asked:
    """A decision's question: rows that may speak (``keep``), and the places in it of those that can be among the
    nearest in some world (``near``).

    ``fixed`` is what these cost in every world; ``varying`` holds, for each feature that varies, what each of its codes
    costs them and which code each kind of world has (in the narrower whole numbers where these hold every sum).
    ``assembly`` are the features that hang on the assembly a rest is for.
    """

    rows: _Rows
    keep: Places
    stored: npt.NDArray[np.uint8]
    weights: npt.NDArray[np.int64]
    fixed: Whole
    varying: tuple[tuple[Whole, Places], ...]
    near: Places
    assembly: tuple[int, ...]
    kinds: Places
    worlds: Places
    recorded: npt.NDArray[np.int64]
    fields: frozenset[str]
    known: list[Whole] = field(default_factory=list)

    def costs(self) -> Whole:
        """``(kinds of worlds, near rows)``, worked out once."""
        if not self.known:
            cost = np.repeat(self.fixed[None, :], len(self.kinds), axis=0)
            for costs, codes in self.varying:
                cost += costs[codes]
            self.known.append(cost)
        return self.known[0]


_KEPT: "WeakKeyDictionary[PrecedentLibrary, dict[str, _Rows | None]]" = WeakKeyDictionary()


class WorldNeighbours:
    """The precedents of one case's decisions in every world; what rests share is worked out once."""

    def __init__(self, engine: "Engine", facts: "CaseFacts", count: int) -> None:
        self.engine = engine
        self.facts = facts
        self.count = count
        self._asked: dict[Decision, _Asked] = {}
        self._known: dict[tuple[Decision, str | None], Votes | None] = {}
        self._credits: dict[tuple[str, str], Floats] = {}

    def retrieve(
        self, decision: Decision, scope: WorldScope, given: str | None, at: Places | None = None
    ) -> Votes | None:
        """The precedents of a decision, in the worlds ``at`` at least; ``None`` where there are none."""
        key = (decision, given)
        if key not in self._known:
            library = self.engine.library
            silent = library is None or not library.count(decision.kind)
            self._known[key] = None if silent else self._retrieve(decision, scope, given)
        votes = self._known[key]
        if votes is not None:
            votes.look_up(at)
        return votes

    def credits(self, decision: Decision, option: str) -> Floats:
        """What each choice of the library's is worth for an option."""
        key = (decision.kind, option)
        if key not in self._credits:
            credit = self.engine.credit(decision.kind)
            self._credits[key] = np.array(
                [credit(option, name) for name in self._asked[decision].rows.choices]
            )
        return self._credits[key]

    def _retrieve(self, decision: Decision, scope: WorldScope, given: str | None) -> Votes | None:
        asked = self._asked.get(decision)
        if asked is None:
            asked = self._asked[decision] = self._ask(decision, scope)
        figures = self.engine.knowledge.scoring_of(decision.kind)
        recorded = asked.recorded
        library = self.engine.library
        assert library is not None
        shelf = library.shelves[decision.kind]
        besides: npt.NDArray[np.int64] | None = None
        for index in asked.assembly:
            code = shelf.features.weighted[index].feature.encode(given)
            if code != GAP:
                weight = int(asked.weights[index])
                row = shelf.tables.rows[index][code][asked.stored[:, index]].astype(np.int64) * weight
                besides = row if besides is None else besides + row
                recorded = recorded + weight
        near = asked.near
        k = min(figures.neighbours, len(near))
        if k == 0:
            return None
        extra = None if besides is None else besides[near]
        total = int(asked.weights.sum())

        def look(kinds: Places) -> tuple[Floats, Places]:
            cost = asked.costs()[kinds].astype(np.int64)
            if extra is not None:
                cost += extra
            if k < len(near):
                order = cost * len(near) + np.arange(len(near))
                best = np.argpartition(order, k - 1, axis=1)[:, :k]
                cost = np.take_along_axis(cost, best, axis=1)
            else:
                best = np.broadcast_to(np.arange(len(near)), cost.shape)
            if not total:
                return np.zeros(cost.shape), best
            return (recorded[kinds, None] * ONE - cost) / (total * ONE), best

        spoken = asked.keep[near]
        kinds = len(asked.kinds)
        return Votes(
            asked.worlds, np.zeros((kinds, k)), np.zeros(kinds), np.zeros((kinds, k), dtype=np.intp),
            asked.rows.chosen[spoken], asked.rows.worths[spoken], figures.lambda_, figures.kappa, asked.fields,
            np.zeros(kinds, dtype=bool), look,
        )  # fmt: skip

    def _ask(self, decision: Decision, scope: WorldScope) -> _Asked:
        library = self.engine.library
        assert library is not None
        shelf = library.shelves[decision.kind]
        arch = self.facts.case.arch
        rows = _rows(library, decision.kind) or self._near(shelf, decision)
        keep = self._admitted(shelf, rows)
        stored = rows.codes[keep]
        weights = self.engine.whole_weights(decision.kind, shelf, arch)
        fixed = np.zeros(len(keep), dtype=np.int64)
        known = 0
        varying: list[tuple[int, list[int], Places]] = []
        fields: frozenset[str] = NONE
        for index, item in enumerate(shelf.features.weighted):
            weight, feature = int(weights[index]), item.feature
            if not weight or feature.name == "rest.assembly":
                continue
            column = scope.column(feature.fact)
            codes = [feature.encode(feature.read(form)) for form in column.forms]
            if column.codes is None or len(set(codes)) == 1:
                if codes[0] != GAP:
                    table = shelf.tables.rows[index]
                    fixed += table[codes[0]][stored[:, index]].astype(np.int64) * weight
                    known += weight
            else:
                varying.append((index, codes, column.codes))
                fields |= column.fields
        kinds, worlds = _kinds([(len(codes), at) for _, codes, at in varying], self.count)
        recorded = np.full(len(kinds), known, dtype=np.int64)
        priced: list[tuple[npt.NDArray[np.int64], Places]] = []
        least, most = fixed.copy(), fixed.copy()
        for index, codes, at in varying:
            weight, table = int(weights[index]), shelf.tables.rows[index]
            present = np.array([code != GAP for code in codes])
            costs = np.zeros((len(codes), len(keep)), dtype=np.int64)
            for place, code in enumerate(codes):
                if code != GAP:
                    costs[place] = table[code][stored[:, index]].astype(np.int64) * weight
            here = at[kinds]
            priced.append((costs, here))
            recorded += present[here] * weight
            least += costs.min(axis=0)
            most += costs.max(axis=0)
        assembly = tuple(
            index
            for index, item in enumerate(shelf.features.weighted)
            if item.feature.name == "rest.assembly" and weights[index]
        )
        for index in assembly:
            most += int(shelf.tables.rows[index].max()) * int(weights[index])
        k = min(self.engine.knowledge.scoring_of(decision.kind).neighbours, len(keep))
        near = np.flatnonzero(least <= np.partition(most, k - 1)[k - 1]) if k else np.arange(0)
        wide = np.int32 if int(weights.sum()) * ONE < np.iinfo(np.int32).max else np.int64
        costly = tuple((costs[:, near].astype(wide), here) for costs, here in priced)
        return _Asked(
            rows, keep, stored, weights, fixed[near].astype(wide), costly, near, assembly, kinds, worlds, recorded,
            fields,
        )  # fmt: skip

    def _near(self, shelf: "Shelf", decision: Decision) -> _Rows:
        """The rows of a large shelf that lie nearest to the case as it is recorded."""
        library = self.engine.library
        assert library is not None
        situation = self.engine.situation(self.facts, decision, None)
        chosen: dict[int, list[int]] = {}
        for part, row in library.rows_near(situation, MOST_ROWS // 10, self.engine.filters):
            chosen.setdefault(shelf.parts.index(part), []).append(row)
        return _gathered(shelf, chosen)

    def _admitted(self, shelf: "Shelf", rows: _Rows) -> Places:
        """The rows that may speak to this case."""
        assert self.engine.library is not None
        held = self.engine.library.row_filter(
            shelf,
            self.facts.case.id,
            self.facts.case.arch,
            self.engine.content(self.facts),
            self.engine.filters,
        )
        good = (rows.flags & np.uint8(held.need)) == held.need
        for case in held.without:
            good &= rows.cases != np.bytes_(case.encode())
        for first, second in held.prints:
            good &= ~((rows.prints[:, 0] == np.uint64(first)) & (rows.prints[:, 1] == np.uint64(second)))
        return np.flatnonzero(good)


def _kinds(varying: Sequence[tuple[int, Places]], count: int) -> tuple[Places, Places]:
    """One world of each combination of codes, and which combination each world has."""
    if not varying:
        return np.zeros(1, dtype=np.intp), np.zeros(count, dtype=np.intp)
    whole = np.zeros(count, dtype=np.int64)
    most = 1
    for size, codes in varying:
        if most > _MOST_CODE // size:
            _, whole = np.unique(whole, return_inverse=True)
            most = count
        whole, most = whole * size + codes, most * size
    _, first, inverse = np.unique(whole, return_index=True, return_inverse=True)
    return first, inverse


def _rows(library: "PrecedentLibrary", kind: str) -> _Rows | None:
    """The rows of a shelf, gathered once; ``None`` where there are too many to look through."""
    kept = _KEPT.setdefault(library, {})
    if kind not in kept:
        shelf = library.shelves[kind]
        whole = sum(len(part.columns) for part in shelf.parts)
        kept[kind] = _gathered(shelf, None) if whole <= MOST_ROWS else None
    return kept[kind]


def _gathered(shelf: "Shelf", wanted: "dict[int, list[int]] | None") -> _Rows:
    codes, flags, prints, cases, sites, fared = [], [], [], [], [], []
    for number, part in enumerate(shelf.parts):
        columns = part.columns
        rows = (
            np.arange(len(columns)) if wanted is None else np.array(sorted(wanted.get(number, ())), dtype=int)
        )
        codes.append(columns.codes[rows])
        flags.append(columns.flags[rows])
        prints.append(columns.prints[rows])
        cases.append(columns.case_ids[rows])
        sites.append(columns.sites[rows])
        fared += [part.fared(row) for row in rows.tolist()]
    names, where = np.concatenate(cases), np.concatenate(sites)
    order = np.lexsort((where, names))
    outcomes = [fared[i] for i in order.tolist()]
    choices = tuple(sorted({choice or "" for choice, _ in outcomes}))
    number_of = {choice: number for number, choice in enumerate(choices)}
    return _Rows(
        np.concatenate(codes)[order],
        np.concatenate(flags)[order],
        np.concatenate(prints)[order],
        names[order],
        choices,
        np.array([number_of[choice or ""] for choice, _ in outcomes], dtype=np.intp),
        np.array([worth for _, worth in outcomes]),
    )
