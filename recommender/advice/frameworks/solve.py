"""The best choice of parts, exactly: a small mixed-integer programme whose rows the rules between parts write.

One binary variable for each part, each connector, and each breach that is let pass. The objective is the
framework's score less what each breach costs; musts cost more than any score, so they give way only when no
choice of parts keeps them. HiGHS proves the optimum (gap 0). Choices that score alike are told apart by fixed
lots (``tie_break``), so that the same input always gives the same answer.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from zlib import crc32

import highspy

from recommender.advice.frameworks.parts import Choice, Part, Stock
from recommender.advice.frameworks.rules.base import BetweenParts, Row, Var
from recommender.domain.dentition import position


@dataclass(frozen=True, slots=True)
class Selection:
    """One solved choice; ``objective`` is what the solver made of it, ``broken`` the summed price of the musts
    that it breaks.
    """

    choice: Choice
    objective: float
    broken: float


class Solver:
    """The programme of one case, built once; cuts are added between solves. Implements ``rules.base.Programme``."""

    def __init__(self, stock: Stock, rules: Sequence[BetweenParts]) -> None:
        self.stock = stock
        self.rules = rules
        self.everyone = stock.available
        self.h = highspy.Highs()
        self.h.setOptionValue("output_flag", False)
        self.h.setOptionValue("threads", 1)
        self.h.setOptionValue("mip_rel_gap", 0.0)
        self.h.setOptionValue("mip_abs_gap", 1e-9)
        self._x: dict[tuple[int, str, str, int], Var] = {}
        self._y: dict[str, Var] = {}
        self._choices()
        for rule in rules:
            rule.rows(self)

    def _choices(self) -> None:
        stock, tie = self.stock, self.stock.figures.tie_break
        for options in stock.retainers.values():
            for part in options:
                name = f"{position(part.tooth)}.{part.option.id}.{part.result.approach}"
                self._x[part.key] = self.h.addBinary(
                    obj=worth(stock, part) - tie * (lot(name) + part.result.rank)
                )
            row = [(1.0, self._x[part.key]) for part in options]
            self.at_most(row, 1)
            if not options[0].further:
                self.at_least(row, 1)
        for option, result in stock.connectors:
            gain = connector_worth(stock, result.score, result.status == "needs_preparation")
            self._y[option.id] = self.h.addBinary(obj=gain - tie * (lot(option.id) + result.rank))
        every = [(1.0, y) for y in self._y.values()]
        self.at_most(every, 1)
        self.at_least(every, 1)

    def x(self, part: Part) -> Var:
        return self._x[part.key]

    def y(self, connector: str) -> Var:
        return self._y[connector]

    def free(self) -> Var:
        return self.h.addBinary()

    def gives_way(self, rule: BetweenParts) -> Var:
        if rule.entry.kind in ("must", "want"):
            return self.h.addBinary(obj=-rule.price(self.stock))
        return self.h.addVariable(lb=0.0, ub=0.0)

    def at_least(self, row: Row, bound: float) -> None:
        self.h.addConstr(highspy.Highs.qsum([factor * var for factor, var in row]) >= bound)

    def at_most(self, row: Row, bound: float) -> None:
        self.h.addConstr(highspy.Highs.qsum([factor * var for factor, var in row]) <= bound)

    def solve(self) -> Selection | None:
        """The best choice; ``None`` where no set of parts keeps what is never broken."""
        self.h.maximize()
        if self.h.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        value = self.h.getSolution().col_value
        retainers = {part.tooth: part for part in self.everyone if value[self.x(part).index] > 0.5}
        option, result = next(
            pair for pair in self.stock.connectors if value[self._y[pair[0].id].index] > 0.5
        )
        choice = Choice(self.stock, dict(sorted(retainers.items())), option, result)
        return Selection(choice, self.h.getInfo().objective_function_value, broken(choice, self.rules))

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


def worth(stock: Stock, part: Part) -> float:
    """What a retainer adds to a framework's score: its share of the mean, or the price of a further tooth."""
    if not part.further:
        return stock.point * part.value
    price = stock.figures.further_tooth
    return -price.cost - price.shortfall * (100.0 - part.value)


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
    stock: Stock, rules: Sequence[BetweenParts], count: int, found: Sequence[Selection] = ()
) -> list[Selection]:
    """The best ``count`` selections that really differ from one another, best first; fewer if there are no more.

    An alternative breaks no must that the first keeps. Where none differs by enough, less has to do. ``found``
    are those that are there already.
    """
    if (
        not stock.connectors
        or not stock.retainers
        or any(not options for options in stock.retainers.values())
    ):
        return []
    kept = list(found)
    for step in stock.figures.differences:
        while len(kept) < count:
            by_connector = step.connectors or len({one.choice.connector.id for one in kept}) < 2
            solver = Solver(stock, rules)
            for earlier in kept:
                solver.forbid_like(earlier.choice, step.share, by_connector)
            selection = solver.solve()
            if selection is None or (kept and selection.broken > kept[0].broken):
                break
            kept.append(selection)
    return kept


def varied(stock: Stock, rules: Sequence[BetweenParts], count: int) -> list[Selection]:
    """The best selection, and runner-ups that a person can see are different.

    Another connector, less metal in view, less preparation, in the order of ``runner_ups``, where there is one
    that breaks no more musts and gives up no more points than ``most_given_up``; the rest as ``best`` finds
    them.
    """
    found = best(stock, rules, min(count, 1))
    for way in stock.figures.runner_ups.ways:
        if not found or len(found) >= count:
            break
        solver = Solver(stock, rules)
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
    return best(stock, rules, count, found) if found else []


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
