"""One profile fitted: how much precedents count, what likeness heeds, and line by line how the house departs.

The utility of an option is ``b·(R + precedents + lines)`` in points of the score, so that ``b`` says how firmly the
house follows the score, and a line's points are its coefficient over ``b``. Lines are added one at a time, each the
one that the score test (Rao) finds most telling, and all coefficients are fitted again with a ridge toward "as
published".
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from recommender.curation.house.logit import Choices, fit
from recommender.curation.house.table import Flags, Floats, Places, Table
from recommender.curation.house.votes import Alike, votes
from recommender.knowledge.figures.curation import HouseFigures
from recommender.knowledge.model import Knowledge

_FIRM = 0.3  # where b starts: a lead of three points chosen in seven of ten pairs
_BOUNDS = (0.05, 5.0)  # of either part of it
ROOM = 45.0  # of the 50 points by which a habit can move its criterion either way
STEP = 10.0  # raw weight by which a departure from a criterion's weight is measured
LEAST = 0.1  # raw weight that a criterion keeps however far the house departs from it


@dataclass(frozen=True, slots=True)
class Line:
    """A departure: of a criterion's weight (``criterion``), or a habit: ``options`` (places) where all ``conditions``
    (places) hold."""

    criterion: int = -1
    options: tuple[int, ...] = ()
    conditions: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Heard:
    """How precedents are heard: ``k`` and a multiplier a group of features."""

    k: int
    multipliers: Mapping[str, float]


Told = tuple[float, float, tuple[float, ...]]
"""Firmness, weight of precedents beside the published one, and points of each line."""


@dataclass(frozen=True)
class Fitted:
    """A fitted profile in numbers: ``b``, the weight of precedents beside the published one, lines and their points."""

    heard: Heard
    firm: float
    precedents: float
    lines: tuple[Line, ...] = ()
    points: tuple[float, ...] = ()
    path: dict[int, Told] = field(default_factory=dict)


class Fitting:
    """One table made ready to be fitted on some of its decisions."""

    def __init__(self, table: Table, base: Knowledge, figures: HouseFigures) -> None:
        self.table = table
        self.figures = figures
        self.lambda_ = base.scoring.lambda_
        self.kappa = base.scoring.kappa
        self.most = self.kappa / figures.kappa.least
        self.published = table.published
        self.weights = [base.criteria.base[table.kind][name] for name in table.criteria]
        raw = table.raw.sum(axis=1)
        self.raw = float(raw.mean())
        self.by_criterion = table.scores * (STEP / raw[table.decision])[:, None]
        self.sets = tuple(_option_sets(table, base, figures.family))
        self.member = np.array(
            [[option in held for held in self.sets] for option in table.option], dtype=np.float64
        )
        self.truth = table.truth.astype(np.float64)
        self.supported = self._supported()

    def _supported(self) -> Flags:
        """Which options (sets) and conditions could tell in enough cases: shape ``(sets, conditions)``."""
        table = self.table
        size = np.diff(table.start)
        there = np.add.reduceat(self.member, table.start[:-1], axis=0)
        tells = (there > 0) & (there < size[:, None]) & (table.chosen >= 0)[:, None]
        holds = table.truth[table.start[:-1]]
        cases = np.unique(table.case, return_index=True)[1]
        found = np.zeros((len(self.sets), holds.shape[1]), dtype=np.int64)
        for place in range(len(self.sets)):
            both = tells[:, place, None] & holds
            found[place] = np.maximum.reduceat(both, cases, axis=0).sum(axis=0)
        told: Flags = found >= self.figures.least_cases
        told[:, 1:] &= found[:, 1:] < found[:, :1]  # what holds always is said without a condition
        return told

    # ---- precedents and likeness

    def utility_of_precedents(self, near: Alike, multipliers: Mapping[str, float], k: int) -> Floats:
        """``Q``: what precedents add to the score at the published κ, at each row of ``near``."""
        heard = votes(self.table, near, multipliers, k, self.lambda_)
        found: Floats = heard.total[near.decision] * 50.0 * heard.said / self.kappa
        return found

    def hear(self, found: Alike, at: Places) -> Heard:
        """``k`` and multipliers that explain these decisions best, held to the published ones."""
        groups = [name for name in found.groups if name in self.figures.groups]
        rows, choices = self.rows(at)
        near = found.only(at[self.table.teaches[at]], self.table.option[rows], choices.decision)
        published = self.published[rows]

        def loss(k: int, given: Mapping[str, float]) -> float:
            x = self.columns(published, self.utility_of_precedents(near, given, k))
            b = self._base(x, choices)
            odd = float(sum(np.log2(max(m, 0.125)) ** 2 for m in given.values()))
            return float(choices.losses(x @ b).sum()) + self.figures.ridge_likeness * odd + self._held(b)

        best_k = min(self.figures.neighbours, key=lambda k: loss(k, {}))
        now: dict[str, float] = {}
        least = loss(best_k, now)
        for name in groups:
            for factor in self.figures.multipliers:
                if factor != 1.0:
                    tried = {**now, name: factor}
                    reached = loss(best_k, tried)
                    if reached < least - 1e-6:
                        least, now = reached, tried
        return Heard(best_k, {name: factor for name, factor in now.items() if factor != 1.0})

    def columns(self, published: Floats, said: Floats) -> Floats:
        """The two columns whose coefficients, none below zero, say how firmly the house follows the score and how
        much precedents count in it: the rules alone, and the rules with as much of precedents as κ may ever give
        them."""
        return np.column_stack((published, published + self.most * said))

    def _base(self, x: Floats, choices: Choices) -> Floats:
        """Both coefficients without any line."""
        first = self._toward(2)
        return fit(x, choices, first, first, self._ridge(2), *self._bounds())

    def _toward(self, size: int) -> Floats:
        """As published: precedents at the published κ, no line."""
        found = np.zeros(size)
        found[:2] = _FIRM * (1 - 1 / self.most), _FIRM / self.most
        return found

    def _ridge(self, size: int) -> Floats:
        found = np.full(size, self.figures.ridge)
        found[:2] = 0.0, self.figures.ridge_precedents
        return found

    def _held(self, b: Floats) -> float:
        return self.figures.ridge_precedents * float(b[1] - _FIRM / self.most) ** 2 / 2

    def _bounds(self, lines: Sequence[Line] = (), firm: float = _FIRM) -> tuple[Floats, Floats]:
        """Limits of the coefficients: a criterion may count twice as much as published, or hardly at all; a habit may
        move a score by what the house's own criterion may count. ``firm`` is that of the fit before."""
        most = firm * ROOM * self.figures.most_counts / self.raw
        high = [_BOUNDS[1]] * 2 + [most if line.options else firm * self._reach(line) for line in lines]
        low = [_BOUNDS[0]] * 2 + [-limit for limit in high[2:]]
        return np.array(low), np.array(high)

    def _reach(self, line: Line) -> float:
        return max(self.weights[line.criterion] - LEAST, 0.0) / STEP

    def told(self, b: Floats) -> Told:
        """Firmness, weight of precedents beside the published one, and points of each line."""
        firm = float(b[0] + b[1])
        return firm, float(self.most * b[1]) / firm, tuple((b[2:] / firm).tolist())

    def rows(self, at: Places) -> tuple[Places, Choices]:
        """The rows of these decisions that can teach: something could be chosen, and what was chosen could."""
        table = self.table
        at = at[table.teaches[at]]
        sizes = np.diff(table.start)[at]
        start = np.concatenate(([0], np.cumsum(sizes)))
        rows = np.repeat(table.start[at] - start[:-1], sizes) + np.arange(start[-1])
        return rows, Choices.of(start, table.chosen[at] - table.start[at] + start[:-1])

    # ---- lines

    def column(self, line: Line) -> Floats:
        """A line at every row: 1 where a habit holds; a criterion's score where its weight moves."""
        if line.criterion >= 0:
            return np.asarray(self.by_criterion[:, line.criterion])
        where = self.table.truth[:, list(line.conditions)].all(axis=1)
        found: Floats = (np.isin(self.table.option, line.options) & where).astype(np.float64)
        return found

    def lines(self, heard: Heard, said: Floats, at: Places, sizes: Sequence[int]) -> Fitted:
        """The path of profiles with ever more lines, fitted on these decisions; ``path`` holds each of ``sizes``."""
        rows, choices = self.rows(at)
        x = self.columns(self.published[rows], said[rows])
        b = self._base(x, choices)
        chosen: list[Line] = []
        path: dict[int, Told] = {0: self.told(b)}
        member, truth, criteria = self.member[rows], self.truth[rows], self.by_criterion[rows]
        for size in range(1, max(sizes) + 1):
            firm = float(b[0] + b[1])
            line = self._next(choices, choices.chances(x @ b), member, truth, criteria, chosen, firm)
            if line is None:
                break
            chosen.append(line)
            x = np.column_stack((x, self.column(line)[rows]))
            size_now = x.shape[1]
            held = self._toward(size_now), self._ridge(size_now), *self._bounds(chosen, firm)
            b = fit(x, choices, np.append(b, 0.0), *held)
            path[size] = self.told(b)
        last, precedents, points = path[max(path)]
        return Fitted(heard, last, precedents, tuple(chosen), points, path)

    def _next(
        self,
        choices: Choices,
        chance: Floats,
        member: Floats,
        truth: Floats,
        criteria: Floats,
        chosen: Sequence[Line],
        firm: float,
    ) -> Line | None:
        """The line whose score statistic ``G²/(H + ridge)`` is greatest, within what a criterion's weight may move."""
        if not len(choices.chosen):
            return None
        ridge = self.figures.ridge
        missing = -chance
        missing[choices.chosen] += 1.0
        open_ = chance * (1.0 - chance)
        slope = (member * missing[:, None]).T @ truth
        spread = (member * open_[:, None]).T @ truth
        worth = np.where(self.supported, slope**2 / (spread + ridge), 0.0)
        worth[:, 0] *= 1.02  # the plainer line where two say the same
        for line in chosen:
            if line.options:
                place = self.sets.index(line.options)
                if len(line.conditions) == 1:
                    worth[place, line.conditions[0]] = 0.0
        best = np.unravel_index(int(np.argmax(worth)), worth.shape)
        found, most = Line(options=self.sets[best[0]], conditions=(int(best[1]),)), float(worth[best])
        mean = np.add.reduceat(criteria * chance[:, None], choices.start, axis=0)
        apart = criteria - mean[choices.decision]
        pull, hold = apart.T @ missing, (apart**2).T @ chance + ridge
        reach = firm * np.array([self._reach(Line(criterion=at)) for at in range(len(self.weights))])
        step = np.clip(pull / hold, -reach, reach)
        of_criteria = 2 * pull * step - hold * step**2
        for line in chosen:
            if line.criterion >= 0:
                of_criteria[line.criterion] = 0.0
        if of_criteria.max() > most:
            found, most = Line(criterion=int(of_criteria.argmax())), float(of_criteria.max())
        # a line made narrower by one more condition
        wider = [line for line in chosen if len(line.conditions) == 1 and line.conditions[0]]
        places, wheres = (
            [self.sets.index(line.options) for line in wider],
            [line.conditions[0] for line in wider],
        )
        there = member[:, places] * truth[:, wheres]
        pulls, holds = (there * missing[:, None]).T @ truth, (there * open_[:, None]).T @ truth
        for at, (line, place, where) in enumerate(zip(wider, places, wheres, strict=True)):
            narrow = np.where(self.supported[place], pulls[at] ** 2 / (holds[at] + ridge), 0.0)
            narrow[[0, where]] = 0.0
            for other in chosen:
                if other.options == line.options and len(other.conditions) == 2 and where in other.conditions:
                    narrow[list(other.conditions)] = 0.0
            if narrow.max() > 1.05 * most:
                both = tuple(sorted((where, int(narrow.argmax()))))
                found, most = Line(options=line.options, conditions=both), float(narrow.max())
        return found if most > _LEAST else None


_LEAST = 4.0  # a line worth less log-likelihood than two (half of this) is noise in any library


def _option_sets(table: Table, base: Knowledge, most: int) -> Iterator[tuple[int, ...]]:
    """Each option alone, then each family of a few."""
    present = set(table.option.tolist())
    for option in sorted(present):
        yield (option,)
    known = base.catalogue.options[table.kind]
    seen = set()
    for family in base.catalogue.families.values():
        held = tuple(place for place in sorted(present) if family.id in known[table.options[place]].families)
        if 1 < len(held) <= most and held not in seen:
            seen.add(held)
            yield held
