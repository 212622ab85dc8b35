"""The best choice of parts, exactly: a small mixed-integer programme with the rules between parts as rows.

One binary variable for each retainer on each tooth, each connector, and each rule that may have to give way.
The objective is the framework's score less what each rule that gives way costs; ``musts`` cost more than any
score, so they give way only when no choice of parts keeps them. HiGHS proves the optimum (gap 0). Choices that
score alike are told apart by fixed lots (``tie_break``), so that the same input always gives the same answer.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from zlib import crc32

import highspy

from recommender.advice.frameworks.candidates import Part, Parts, figures, price_of_waiting
from recommender.advice.model import OptionResult
from recommender.domain.dentition import position, side_facing, side_of
from recommender.domain.options import Option

_SIDES = ("right", "left")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the case asks of a framework as a whole.

    ``support`` are the teeth that have to carry a rest, ``rooms`` the recorded room of an embrasure by its two
    teeth, ``ends`` the teeth beside extensions that should hold.
    """

    least_retainers: int
    most_retainers: int
    support: tuple[int, ...]
    rooms: dict[frozenset[int], float]
    ends: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Selection:
    """One solved choice. ``unmet`` counts the breaches of each rule that gave way; ``score`` is the objective."""

    retainers: dict[int, Part]
    connector: Option
    connector_result: OptionResult
    unmet: dict[str, int]
    score: float


class _Programme:
    """The programme of one case, built once; cuts are added between solves."""

    def __init__(self, parts: Parts, wanted: Wanted) -> None:
        self.parts = parts
        self.wanted = wanted
        self.everyone = [part for options in parts.retainers.values() for part in options]
        self.retentive = [part for part in self.everyone if part.retentive]
        self.h = highspy.Highs()
        self.h.setOptionValue("output_flag", False)
        self.h.setOptionValue("threads", 1)
        self.h.setOptionValue("mip_rel_gap", 0.0)
        self.h.setOptionValue("mip_abs_gap", 1e-9)
        self.x: dict[tuple[int, str, int], highspy.highs.highs_var] = {}
        self.y: dict[str, highspy.highs.highs_var] = {}
        self.slack: dict[str, list[highspy.highs.highs_var]] = {}
        self._variables()
        self._sides_and_numbers()
        self._support()
        self._embrasures()
        self._connector()
        self._balance()
        self._likeness()
        self._rotated()

    def _variables(self) -> None:
        weights, tie = figures()["weights"], float(figures()["tie_break"])
        for tooth, options in self.parts.retainers.items():
            considered = sum(1 for rows in self.parts.retainers.values() if not rows[0].further)
            for part in options:
                gain = worth(part, considered, weights) - tie * lot(f"{position(tooth)}.{part.option.id}")
                if part.advised_against:
                    gain -= float(figures()["musts"]["accepted"])
                self.x[part.key] = self.h.addBinary(obj=gain)
            row = _sum([self.x[part.key] for part in options])
            self.h.addConstr(row <= 1 if options[0].further else row == 1)
        for option, result in self.parts.connectors:
            gain = weights["connector"] * (result.score - price_of_waiting(result)) - tie * lot(option.id)
            self.y[option.id] = self.h.addBinary(obj=gain)
        self.h.addConstr(_sum(list(self.y.values())) == 1)

    def _gives_way(self, rule: str) -> highspy.highs.highs_var:
        prices = figures()["musts"] | figures()["wants"]
        variable = self.h.addBinary(obj=-float(prices[rule]))
        self.slack.setdefault(rule, []).append(variable)
        return variable

    def _sides_and_numbers(self) -> None:
        for side in _SIDES:
            here = [self._x(part) for part in self.retentive if side_of(part.tooth) == side]
            self.h.addConstr(_sum([*here, self._gives_way("both_sides")]) >= 1)
        holds = [self._x(part) for part in self.retentive]
        short = [self._gives_way("enough_retainers") for _ in range(self.wanted.least_retainers)]
        self.h.addConstr(_sum([*holds, *short]) >= self.wanted.least_retainers)
        over = max(0, len({part.tooth for part in self.retentive}) - self.wanted.most_retainers)
        spare = [self._gives_way("no_more_retainers") for _ in range(over)]
        self.h.addConstr(_sum([*holds, *[-1 * x for x in spare]]) <= self.wanted.most_retainers)
        for part in self.retentive:
            if part.beside_extension and not part.releasing:
                self.h.addConstr(self._x(part) - self._gives_way("releasing") <= 0)
        for tooth in self.wanted.ends:
            here = [self._x(part) for part in self.parts.retainers.get(tooth, ()) if part.retentive]
            self.h.addConstr(_sum([*here, self._gives_way("held_beside_extension")]) >= 1)
        # No tooth is gripped twice: an arm may lie on the tooth beside the one that carries it.
        for tooth in {part.grips for part in self.retentive if part.grips != part.tooth}:
            gripping = [self._x(part) for part in self.retentive if part.grips == tooth]
            self.h.addConstr(_sum(gripping) <= 1)

    def _support(self) -> None:
        seats = {seat.tooth for seat in self.parts.seats}
        for tooth in self.wanted.support:
            if tooth not in seats:
                rests = [self._x(part) for part in self.parts.retainers.get(tooth, ()) if part.rested]
                self.h.addConstr(_sum([*rests, self._gives_way("base_supported")]) >= 1)
        for part in self.everyone:
            needless = part.rested and not part.retentive and part.tooth not in seats
            if needless and part.tooth not in self.wanted.support:
                self.h.addConstr(self._x(part) - self._gives_way("left_alone") <= 0)
        rests = [self._x(part) for part in self.everyone if part.rested and part.tooth not in seats]
        least = int(figures()["rests_least"]) - len(seats)
        if least > 0:
            short = [self._gives_way("three_rests") for _ in range(least)]
            self.h.addConstr(_sum([*rests, *short]) >= least)

    def _embrasures(self) -> None:
        for part in self.everyone:
            if part.partner is None:
                continue
            other = self._matching(part)
            if other is None:
                self.h.addConstr(self._x(part) <= 0)
            elif part.tooth < other.tooth:
                self.h.addConstr(self._x(part) - self._x(other) == 0)
        least = float(figures()["shared_embrasure_room_mm"])
        for pair in sorted(self.parts.touching, key=sorted):
            first, second = sorted(pair)
            room = self.wanted.rooms.get(pair)
            if room is not None and room < least:
                here = self._meeting(first, second)
                there = self._meeting(second, first)
                if here and there:
                    row = _sum([*here, *there, -1 * self._gives_way("embrasure_room")])
                    self.h.addConstr(row <= 1)
            self._spread(first, second)

    def _meeting(self, tooth: int, other: int) -> list[highspy.highs.highs_var]:
        """Assemblies of a tooth whose metal passes toward the other; a shared embrasure clasp is judged by itself."""
        toward = side_facing(tooth, other)
        return [
            self._x(part)
            for part in self.parts.retainers[tooth]
            if toward in part.crosses and part.partner != other
        ]

    def _spread(self, first: int, second: int) -> None:
        """Both neighbours hold only against a price, save as the halves of one embrasure clasp."""
        here, there = (
            [self._x(p) for p in self.parts.retainers[tooth] if p.retentive and p.partner != other]
            for tooth, other in ((first, second), (second, first))
        )
        halves = [self._x(p) for p in self.parts.retainers[first] if p.retentive and p.partner == second]
        if (here or halves) and there:
            self.h.addConstr(_sum([*here, *there, *halves, -1 * self._gives_way("spread")]) <= 1)

    def _matching(self, part: Part) -> Part | None:
        """The other half of an embrasure clasp."""
        for other in self.parts.retainers.get(part.partner or 0, ()):
            if other.option.id == part.option.id and other.partner == part.tooth:
                return other
        return None

    def _connector(self) -> None:
        seats = {seat.tooth for seat in self.parts.seats}
        for option, result in self.parts.connectors:
            y = self.y[option.id]
            if result.status == "advised_against":
                self.h.addConstr(y - self._gives_way("accepted") <= 0)
            if "one_sided" in option.parts:
                sides = [
                    [self._x(p) for p in self.everyone if side_of(p.tooth) == side and p.option.id != "none"]
                    for side in _SIDES
                ]
                # A one-sided connector reaches one side only: whichever side carries nothing.
                chosen = self.h.addBinary()
                size = len(self.everyone)
                self.h.addConstr(_sum([*sides[1], size * y, -size * chosen]) <= size)
                self.h.addConstr(_sum([*sides[0], size * y, size * chosen]) <= 2 * size)
                for side in _SIDES:
                    if any(side_of(tooth) == side for tooth in seats):
                        self.h.addConstr(chosen >= y if side == "left" else chosen + y <= 1)
            if "needs_rests_at_ends" in option.parts:
                self._ends(y, seats)

    def _ends(self, y: highspy.highs.highs_var, seats: set[int]) -> None:
        for side in _SIDES:
            if any(side_of(tooth) == side and position(tooth) <= 5 for tooth in seats):
                continue
            ends = [
                self._x(p)
                for p in self.everyone
                if side_of(p.tooth) == side and position(p.tooth) <= 5 and p.rested
            ]
            self.h.addConstr(_sum([*ends, self._gives_way("plate_ends"), -1 * y]) >= 0)

    def _balance(self) -> None:
        """The weaker side holds its share; not judged where a chosen retainer has no computed force."""
        share = float(figures()["force_balance_least"])
        unknown = [self._x(part) for part in self.retentive if part.force_n is None]
        pull = {
            side: [
                (part.force_n, self._x(part))
                for part in self.retentive
                if part.force_n is not None and side_of(part.tooth) == side
            ]
            for side in _SIDES
        }
        most = sum(force for forces in pull.values() for force, _ in forces)
        if not pull["right"] and not pull["left"]:
            return
        gives = self._gives_way("balance")
        for weak, strong in (_SIDES, _SIDES[::-1]):
            weaker = [force * x for force, x in pull[weak]]
            stronger = [-share * force * x for force, x in pull[strong]]
            free = [most * x for x in (gives, *unknown)]
            self.h.addConstr(_sum([*weaker, *stronger, *free]) >= 0)

    def _likeness(self) -> None:
        for pair in self.parts.matching:
            first, second = (self.parts.retainers[tooth] for tooth in pair)
            if first[0].further or second[0].further:
                continue
            gives = self._gives_way("alike")
            for kind in sorted({part.kind for part in first}):
                here = [self._x(part) for part in first if part.kind == kind]
                there = [self._x(part) for part in second if part.kind != kind]
                if there:
                    self.h.addConstr(_sum([*here, *there, -1 * gives]) <= 1)

    def _rotated(self) -> None:
        """Rigid retainers stand at one end, and each has an ordinary one on its side at the other end."""
        rotated = [part for part in self.retentive if part.rotated_end]
        if not rotated:
            return
        front = self.h.addBinary()
        for part in rotated:
            row = self._x(part) - front if part.rotated_end == "front" else self._x(part) + front
            self.h.addConstr(row <= (0 if part.rotated_end == "front" else 1))
            locks = [self._x(other) for other in self.retentive if locks_path(part, other)]
            self.h.addConstr(_sum([self._x(part), *[-1 * x for x in locks]]) <= 0)

    def _x(self, part: Part) -> highspy.highs.highs_var:
        return self.x[part.key]

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
        given = {rule: sum(value[v.index] > 0.5 for v in found) for rule, found in self.slack.items()}
        unmet = {rule: count for rule, count in given.items() if count}
        return Selection(retainers, option, result, unmet, self.h.getInfo().objective_function_value)

    def forbid_like(self, chosen: Selection, share: float, connector_may_differ: bool) -> None:
        """The next choice must really differ: another connector, or other kinds on this share of retained teeth."""
        same = [
            self.x[part.key]
            for tooth, picked in chosen.retainers.items()
            if picked.retentive
            for part in self.parts.retainers[tooth]
            if part.kind == picked.kind
        ]
        held = sum(1 for part in chosen.retainers.values() if part.retentive)
        allowed = held - max(1, ceil(share * held))
        if not held:
            self.h.addConstr(self.y[chosen.connector.id] <= 0)
        elif connector_may_differ:
            self.h.addConstr(_sum([*same, held * self.y[chosen.connector.id]]) <= allowed + held)
        else:
            self.h.addConstr(_sum(same) <= allowed)


def locks_path(rigid: Part, other: Part) -> bool:
    """Whether an ordinary retainer stands at the other end of the same side and keeps a rotated one in place."""
    if other.rotated_end or side_of(other.tooth) != side_of(rigid.tooth):
        return False
    further_back = position(other.tooth) > position(rigid.tooth)
    return further_back if rigid.rotated_end == "front" else position(other.tooth) < position(rigid.tooth)


def worth(part: Part, considered: int, weights: dict[str, float]) -> float:
    """What a retainer adds to the objective: its share of the mean, or the price of a further tooth."""
    if not part.further:
        return float(weights["retainer"]) * part.value / max(1, considered)
    price = figures()["further_tooth"]
    return -float(price["cost"]) - float(price["shortfall"]) * (100.0 - part.value)


def lot(name: str) -> float:
    """A fixed number in 0-1 for a name, the same on every machine."""
    return crc32(name.encode()) / 2**32


def _sum(terms: Sequence[object]) -> highspy.highs.highs_linear_expression:
    return highspy.Highs.qsum(list(terms))


def breach(selection: Selection) -> float:
    """The summed cost of the musts that a choice breaks."""
    musts = figures()["musts"]
    against = sum(part.advised_against for part in selection.retainers.values())
    return float(
        sum(musts[rule] * count for rule, count in selection.unmet.items() if rule in musts)
        + musts["accepted"] * against
    )


def best(parts: Parts, wanted: Wanted, count: int) -> list[Selection]:
    """The best ``count`` selections that really differ from one another, best first; fewer if there are no more.

    An alternative breaks no must that the first keeps. Where none differs by enough, less has to do: one
    retained tooth with another kind of retainer, then another connector alone.
    """
    if not parts.connectors or any(not options for options in parts.retainers.values()):
        return []
    found: list[Selection] = []
    for step in figures()["differences"]:
        while len(found) < count:
            by_connector = step["connectors"] or len({selection.connector.id for selection in found}) < 2
            programme = _Programme(parts, wanted)
            for earlier in found:
                programme.forbid_like(earlier, float(step["share"]), by_connector)
            selection = programme.solve()
            if selection is None or (found and breach(selection) > breach(found[0])):
                break
            found.append(selection)
    return found
