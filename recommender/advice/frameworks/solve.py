"""The best choice of parts, exactly: a small mixed-integer programme whose rows the rules between parts write.

One binary variable for each part, each connector, and each breach that is let pass. The objective is the
framework's score less what each breach costs; musts cost more than any score, so they give way only when no
choice of parts keeps them. HiGHS proves the optimum (gap 0). Choices that score alike are told apart by fixed
lots (``tie_break``), so that the same input always gives the same answer.
"""

from collections.abc import Container, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from itertools import accumulate
from math import ceil
from zlib import crc32

import highspy

from recommender.advice.frameworks.parts import Choice, Part, Stock
from recommender.advice.frameworks.rules.base import BetweenParts, Row, Var
from recommender.domain.dentition import position

_SETTINGS: dict[str, bool | int | float] = {
    "output_flag": False, "threads": 1, "mip_rel_gap": 0.0, "mip_abs_gap": 1e-9,
    # solved at the root or a few nodes below it: looking for lucky guesses costs more than it saves
    "mip_heuristic_effort": 0.0, "mip_detect_symmetry": False,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Selection:
    """One solved choice; ``objective`` is what the solver made of it, ``broken`` the summed price of the musts
    that it breaks.
    """

    choice: Choice
    objective: float
    broken: float


class Solver:
    """The programme of one case; ``again`` gives a copy to be cut. Implements ``rules.base.Programme``."""

    def __init__(self, stock: Stock, rules: Sequence[BetweenParts]) -> None:
        self.stock = stock
        self.rules = rules
        self.everyone = stock.available
        self._gain: list[float] = []
        self._most: list[float] = []
        self._rows: list[tuple[dict[Var, float], float, float]] = []
        self._x: dict[tuple[int, str, str, int], Var] = {}
        self._y: dict[str, Var] = {}
        self._choices()
        for rule in rules:
            rule.rows(self)

    def again(self) -> "Solver":
        """The same programme, to be cut further."""
        other = copy(self)
        other._rows = [*self._rows]
        return other

    def given(self, more: Mapping[Var, float], without: Container[Var]) -> "Solver":
        """The same programme where some choices add more or less to the score, and others cannot be made."""
        other = self.again()
        other._gain = [gain + more.get(Var(place), 0.0) for place, gain in enumerate(self._gain)]
        other._most = [0.0 if Var(place) in without else most for place, most in enumerate(self._most)]
        return other

    def _choices(self) -> None:
        stock, tie = self.stock, self.stock.figures.tie_break
        for options in stock.retainers.values():
            for part in options:
                name = f"{position(part.tooth)}.{part.option.id}.{part.result.approach}"
                self._x[part.key] = self._variable(worth(stock, part) - tie * (lot(name) + part.result.rank))
            row = [(1.0, self._x[part.key]) for part in options]
            self.at_most(row, 1)
            if not options[0].further:
                self.at_least(row, 1)
        for option, result in stock.connectors:
            gain = connector_worth(stock, result.score, result.status == "needs_preparation")
            self._y[option.id] = self._variable(gain - tie * (lot(option.id) + result.rank))
        every = [(1.0, y) for y in self._y.values()]
        self.at_most(every, 1)
        self.at_least(every, 1)

    def _variable(self, gain: float, most: float = 1.0) -> Var:
        self._gain.append(gain)
        self._most.append(most)
        return Var(len(self._gain) - 1)

    def x(self, part: Part) -> Var:
        return self._x[part.key]

    def y(self, connector: str) -> Var:
        return self._y[connector]

    def free(self) -> Var:
        return self._variable(0.0)

    def gives_way(self, rule: BetweenParts) -> Var:
        if rule.entry.kind in ("must", "want"):
            return self._variable(-rule.price(self.stock))
        return self._variable(0.0, 0.0)

    def at_least(self, row: Row, bound: float) -> None:
        self._rows.append((_summed(row), bound, highspy.kHighsInf))

    def at_most(self, row: Row, bound: float) -> None:
        self._rows.append((_summed(row), -highspy.kHighsInf, bound))

    def solve(self) -> Selection | None:
        """The best choice; ``None`` where no set of parts keeps what is never broken."""
        h = highspy.Highs()
        for name, setting in _SETTINGS.items():
            h.setOptionValue(name, setting)
        h.passModel(self._programme())
        h.run()
        if h.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        value = h.getSolution().col_value
        retainers = {part.tooth: part for part in self.everyone if value[self.x(part)] > 0.5}
        option, result = next(pair for pair in self.stock.connectors if value[self._y[pair[0].id]] > 0.5)
        choice = Choice(self.stock, dict(sorted(retainers.items())), option, result)
        return Selection(choice, h.getInfo().objective_function_value, broken(choice, self.rules))

    def _programme(self) -> highspy.HighsLp:
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self._gain), len(self._rows)
        lp.sense_ = highspy.ObjSense.kMaximize
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = self._gain, [0.0] * len(self._gain), self._most
        lp.integrality_ = [highspy.HighsVarType.kInteger] * len(self._gain)
        lp.row_lower_ = [low for _, low, _ in self._rows]
        lp.row_upper_ = [high for _, _, high in self._rows]
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = [0, *accumulate(len(row) for row, _, _ in self._rows)]
        lp.a_matrix_.index_ = [var for row, _, _ in self._rows for var in row]
        lp.a_matrix_.value_ = [factor for row, _, _ in self._rows for factor in row.values()]
        return lp

    def forbid_like(self, chosen: Choice, share: float, connector_may_differ: bool) -> None:
        """The next choice must really differ: another connector, or other kinds on this share of retained teeth."""
        same = [
            (1.0, self.x(part))
            for tooth, picked in chosen.retainers.items()
            if picked.retentive
            for part in self.stock.retainers[tooth]
            if part.kind == picked.kind
        ]
        held = sum(1 for part in chosen.retainers.values() if part.retentive)
        allowed = held - max(1, ceil(share * held))
        if not held:
            self.at_most([(1.0, self._y[chosen.connector.id])], 0)
        elif connector_may_differ:
            self.at_most([*same, (float(held), self._y[chosen.connector.id])], allowed + held)
        else:
            self.at_most(same, allowed)


def _summed(row: Row) -> dict[Var, float]:
    """A row with each variable once."""
    found: dict[Var, float] = {}
    for factor, var in row:
        found[var] = found.get(var, 0.0) + factor
    return found


def worth(stock: Stock, part: Part) -> float:
    """What a retainer adds to a framework's score: its share of the mean, or the price of a further tooth.

    An embrasure clasp is one clasp: where both halves stand on further teeth, each pays half, and the half that
    joins a tooth considered pays nothing, for what two teeth cost is in the score of the assembly.
    """
    if not part.further:
        return stock.point * part.value
    joined = stock.retainers.get(part.partner or 0)
    if joined and not joined[0].further:
        return 0.0
    price = stock.figures.further_tooth
    whole = -stock.point * (price.cost + price.shortfall * (100.0 - part.value))
    return whole / 2 if part.partner is not None else whole


def connector_worth(stock: Stock, score: float, waits: bool) -> float:
    """What a connector adds to a framework's score."""
    return stock.figures.weights.connector * (score - (stock.figures.after_preparation if waits else 0.0))


def broken(choice: Choice, rules: Sequence[BetweenParts]) -> float:
    """The summed price of the musts that a choice breaks."""
    return sum(len(rule.breaches(choice)) * rule.entry.price for rule in rules if rule.entry.kind == "must")


def lot(name: str) -> float:
    """A fixed number in 0-1 for a name, the same on every machine."""
    return crc32(name.encode()) / 2**32


def best(
    stock: Stock,
    rules: Sequence[BetweenParts],
    count: int,
    found: Sequence[Selection] = (),
    programme: Solver | None = None,
) -> list[Selection]:
    """The best ``count`` selections that really differ from one another, best first; fewer if there are no more.

    An alternative breaks no must that the first keeps. Where none differs by enough, less has to do. ``found``
    are those that are there already; ``programme`` is that of the stock, where it was built before.
    """
    if not _has_choices(stock):
        return []
    kept = list(found)
    whole = programme or Solver(stock, rules)
    for step in stock.figures.differences:
        while len(kept) < count:
            by_connector = step.connectors or len({one.choice.connector.id for one in kept}) < 2
            solver = whole.again()
            for earlier in kept:
                solver.forbid_like(earlier.choice, step.share, by_connector)
            selection = solver.solve()
            if selection is None or (kept and selection.broken > kept[0].broken):
                break
            kept.append(selection)
    return kept


def _has_choices(stock: Stock) -> bool:
    """Whether there is a connector, and a part for every tooth considered."""
    return bool(stock.connectors and stock.retainers) and all(stock.retainers.values())


def varied(stock: Stock, rules: Sequence[BetweenParts], count: int) -> list[Selection]:
    """The best selection, and runner-ups that a person can see are different.

    Another connector, less metal in view, less preparation, in the order of ``runner_ups``, where there is one
    that breaks no more musts and gives up no more points than ``most_given_up``; the rest as ``best`` finds
    them.
    """
    if not _has_choices(stock):
        return []
    whole = Solver(stock, rules)
    found = best(stock, rules, min(count, 1), (), whole)
    for way in stock.figures.runner_ups.ways:
        if not found or len(found) >= count:
            break
        solver = whole.again()
        for earlier in found:
            solver.forbid_like(earlier.choice, 0.0, True)
        if not _turned(solver, found[0].choice, way, stock):
            continue
        selection = solver.solve()
        most = stock.figures.runner_ups.most_given_up
        if (
            selection
            and selection.broken <= found[0].broken
            and found[0].objective - selection.objective <= most
        ):
            found.append(selection)
    return best(stock, rules, count, found, whole) if found else []


def _turned(solver: Solver, first: Choice, way: str, stock: Stock) -> bool:
    """Asks for one kind of difference from the first choice; ``False`` where there is nothing to better."""
    parts = list(first.retainers.values())
    if way == "connector":
        solver.at_most([(1.0, solver.y(first.connector.id))], 0)
        return len(stock.connectors) > 1
    if way == "less_in_view":
        shown = [part.shown for part in parts]
        total = sum(share for share in shown if share is not None)
        least = stock.figures.runner_ups.view_differs_by
        if None in shown or total < least:
            return False
        solver.at_most([(_share(part), solver.x(part)) for part in solver.everyone], total - least)
        return True
    total = float(sum(part.work for part in parts))
    solver.at_most([(float(part.work), solver.x(part)) for part in solver.everyone], total - 1)
    return total > 0


def _share(part: Part) -> float:
    """The share of a part's arm that shows; a whole arm where that was not computed."""
    return 1.0 if part.shown is None else part.shown
