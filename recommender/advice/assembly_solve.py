"""The best choice of parts, exactly: a small mixed-integer programme with the rules between parts as rows.

One binary variable for each retainer on each tooth, each connector, and each rule that may have to give way.
The objective is the framework's score less what each rule that gives way costs; ``must`` rules cost more than
any score, so they give way only when no choice of parts keeps them. HiGHS proves the optimum (gap 0).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import highspy

from recommender.advice.assembly_parts import Part, Parts, figures, price_of_waiting
from recommender.advice.model import OptionResult
from recommender.domain.dentition import position, side_facing, side_of
from recommender.domain.options import Option


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the case asks of a framework as a whole.

    ``support`` are the teeth that have to carry a rest, ``ends`` the standing front and premolar teeth of each
    side on which a plate may end, ``rooms`` the recorded room of an embrasure by its two teeth.
    """

    least_retainers: int
    most_retainers: int
    support: tuple[int, ...]
    rooms: dict[frozenset[int], float]


@dataclass(frozen=True, slots=True)
class Selection:
    """One solved choice. ``unmet`` are the rules that gave way, with the teeth concerned where there are any."""

    retainers: dict[int, Part]
    connector: Option
    connector_result: OptionResult
    unmet: frozenset[str]
    score: float


class _Programme:
    """The programme of one case, built once; cuts are added between solves."""

    def __init__(self, parts: Parts, wanted: Wanted) -> None:
        self.parts = parts
        self.wanted = wanted
        self.h = highspy.Highs()
        self.h.setOptionValue("output_flag", False)
        self.h.setOptionValue("mip_rel_gap", 0.0)
        self.h.setOptionValue("mip_abs_gap", 1e-9)
        self.x: dict[tuple[int, str], highspy.highs.highs_var] = {}
        self.y: dict[str, highspy.highs.highs_var] = {}
        self.slack: dict[str, list[highspy.highs.highs_var]] = {}
        self._variables()
        self._rules()

    def _variables(self) -> None:
        weights = figures()["weights"]
        considered = [tooth for tooth, options in self.parts.retainers.items() if not options[0].further]
        for tooth, options in self.parts.retainers.items():
            for part in options:
                self.x[tooth, part.option.id] = self.h.addBinary(obj=worth(part, len(considered), weights))
            row = [self.x[tooth, part.option.id] for part in options]
            if options[0].further:
                self.h.addConstr(_sum(row) <= 1)
            else:
                self.h.addConstr(_sum(row) == 1)
        for option, result in self.parts.connectors:
            self.y[option.id] = self.h.addBinary(
                obj=weights["connector"] * (result.score - price_of_waiting(result))
            )
        self.h.addConstr(_sum(list(self.y.values())) == 1)

    def _gives_way(self, rule: str, cost: float) -> highspy.highs.highs_var:
        variable = self.h.addBinary(obj=-cost)
        self.slack.setdefault(rule, []).append(variable)
        return variable

    def _rules(self) -> None:
        must, want = float(figures()["must"]), float(figures()["want"])
        everyone = [part for options in self.parts.retainers.values() for part in options]
        retentive = [part for part in everyone if part.retentive]
        for side in ("right", "left"):
            here = [self._x(part) for part in retentive if side_of(part.tooth) == side]
            self.h.addConstr(_sum([*here, self._gives_way("both_sides", must)]) >= 1)
        holds = _sum([self._x(part) for part in retentive])
        for _ in range(self.wanted.least_retainers):
            # One slack for each retainer short, so that three of four is better than two.
            self._gives_way("enough_retainers", must / 50)
        self.h.addConstr(holds + _sum(self.slack.get("enough_retainers", [])) >= self.wanted.least_retainers)
        spare = [self._gives_way("no_more_retainers", want) for _ in range(len(self.parts.retainers))]
        self.h.addConstr(holds - _sum(spare) <= self.wanted.most_retainers)
        for part in retentive:
            if part.beside_extension and not part.releasing:
                self.h.addConstr(self._x(part) <= self._gives_way("releasing", must / 100))
        for tooth in self.wanted.support:
            rests = [self._x(part) for part in self.parts.retainers.get(tooth, ()) if part.rested]
            self.h.addConstr(_sum([*rests, self._gives_way("base_supported", must / 10)]) >= 1)
        self._rests(everyone, must / 10)
        self._embrasures(everyone, must)
        self._connector(everyone, must / 10)
        self._balance(retentive, want)

    def _rests(self, everyone: Sequence[Part], cost: float) -> None:
        seats = {seat.tooth for seat in self.parts.seats}
        rests = [self._x(part) for part in everyone if part.rested and part.tooth not in seats]
        least = int(figures()["rests_least"]) - len(seats)
        if least > 0:
            self.h.addConstr(
                _sum([*rests, *[self._gives_way("three_rests", cost) for _ in range(least)]]) >= least
            )

    def _embrasures(self, everyone: Sequence[Part], cost: float) -> None:
        for part in everyone:
            if part.partner is None:
                continue
            other = self._matching(part)
            if other is None:
                self.h.addConstr(self._x(part) <= 0)
            else:
                self.h.addConstr(self._x(part) == self._x(other))
        least = float(figures()["shared_embrasure_room_mm"])
        crossing = [(part, side) for part in everyone for side in part.crosses]
        for index, (first, side) in enumerate(crossing):
            for second, other_side in crossing[index + 1 :]:
                if first.tooth == second.tooth or first.partner == second.tooth:
                    continue
                pair = frozenset((first.tooth, second.tooth))
                room = self.wanted.rooms.get(pair)
                faces = (
                    side_facing(first.tooth, second.tooth) == side
                    and side_facing(second.tooth, first.tooth) == other_side
                )
                if room is not None and room < least and faces:
                    self.h.addConstr(
                        self._x(first) + self._x(second) - self._gives_way("embrasure_room", cost) <= 1
                    )

    def _matching(self, part: Part) -> Part | None:
        """The other half of an embrasure clasp."""
        for other in self.parts.retainers.get(part.partner or 0, ()):
            if other.option.id == part.option.id and other.partner == part.tooth:
                return other
        return None

    def _connector(self, everyone: Sequence[Part], cost: float) -> None:
        for option, _ in self.parts.connectors:
            y = self.y[option.id]
            if "one_sided" in option.parts:
                for side in ("right", "left"):
                    other = [
                        self._x(p) for p in everyone if side_of(p.tooth) != side and p.option.id != "none"
                    ]
                    here = [
                        self._x(p) for p in everyone if side_of(p.tooth) == side and p.option.id != "none"
                    ]
                    if side == "right" and here and other:
                        # A one-sided connector reaches one side only: whichever side carries nothing.
                        chosen = self.h.addBinary()
                        size = len(everyone)
                        self.h.addConstr(_sum(other) <= size * (1 - y + chosen))
                        self.h.addConstr(_sum(here) <= size * (2 - y - chosen))
            if "needs_rests_at_ends" in option.parts:
                seats = {seat.tooth for seat in self.parts.seats}
                for side in ("right", "left"):
                    if any(side_of(tooth) == side for tooth in seats):
                        continue
                    ends = [
                        self._x(p)
                        for p in everyone
                        if side_of(p.tooth) == side and position(p.tooth) <= 5 and p.rested
                    ]
                    self.h.addConstr(_sum([*ends, self._gives_way("plate_ends", cost / 10)]) >= y)

    def _balance(self, retentive: Sequence[Part], cost: float) -> None:
        if any(part.force_n is None for part in retentive):
            return
        share = float(figures()["force_balance_least"])
        pull = {
            side: [(part.force_n or 0.0, self._x(part)) for part in retentive if side_of(part.tooth) == side]
            for side in ("right", "left")
        }
        most = sum(force for forces in pull.values() for force, _ in forces)
        for weak, strong in (("right", "left"), ("left", "right")):
            gives = self._gives_way("balance", cost)
            weaker = _sum([force * x for force, x in pull[weak]])
            stronger = _sum([share * force * x for force, x in pull[strong]])
            self.h.addConstr(weaker - stronger + most * gives >= 0)

    def _x(self, part: Part) -> highspy.highs.highs_var:
        return self.x[part.tooth, part.option.id]

    def solve(self) -> Selection | None:
        self.h.maximize()
        if self.h.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        value = self.h.getSolution().col_value
        retainers = {
            tooth: part
            for tooth, options in self.parts.retainers.items()
            for part in options
            if value[self._x(part).index] > 0.5
        }
        option, result = next(
            (option, result)
            for option, result in self.parts.connectors
            if value[self.y[option.id].index] > 0.5
        )
        unmet = frozenset(
            rule for rule, variables in self.slack.items() if any(value[v.index] > 0.5 for v in variables)
        )
        return Selection(retainers, option, result, unmet, self.h.getInfo().objective_function_value)

    def forbid_like(self, chosen: Selection, connector_may_differ: bool) -> None:
        """The next choice must really differ: another connector, or other kinds on enough retained teeth."""
        same = [
            self.x[tooth, part.option.id]
            for tooth, picked in chosen.retainers.items()
            if picked.retentive
            for part in self.parts.retainers[tooth]
            if part.kind == picked.kind
        ]
        held = sum(1 for part in chosen.retainers.values() if part.retentive)
        allowed = held - max(1, ceil(float(figures()["different_share"]) * held))
        if not held:
            self.h.addConstr(self.y[chosen.connector.id] <= 0)
        elif connector_may_differ:
            self.h.addConstr(_sum(same) <= allowed + held * (1 - self.y[chosen.connector.id]))
        else:
            self.h.addConstr(_sum(same) <= allowed)


def worth(part: Part, considered: int, weights: dict[str, float]) -> float:
    """What a retainer adds to the objective: its share of the mean, or the price of a further tooth."""
    if not part.further:
        return float(weights["retainer"]) * part.value / max(1, considered)
    price = figures()["further_tooth"]
    return -float(price["cost"]) - float(price["shortfall"]) * (100.0 - part.value)


def _sum(terms: Sequence[object]) -> highspy.highs.highs_linear_expression:
    return highspy.Highs.qsum(list(terms))


def best(parts: Parts, wanted: Wanted, count: int) -> list[Selection]:
    """The best ``count`` selections that really differ from one another, best first; fewer if there are no more."""
    if not parts.connectors or any(not options for options in parts.retainers.values()):
        return []
    programme = _Programme(parts, wanted)
    found: list[Selection] = []
    connector_may_differ = True
    while len(found) < count:
        selection = programme.solve()
        if selection is None:
            break
        found.append(selection)
        if len(found) > 1 and selection.connector.id != found[0].connector.id:
            # One alternative may differ by its connector alone; the next has to differ by what holds it in.
            connector_may_differ = False
            for earlier in found[:-1]:
                programme.forbid_like(earlier, False)
        programme.forbid_like(selection, connector_may_differ)
    return found
