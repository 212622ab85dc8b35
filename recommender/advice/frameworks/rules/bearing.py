"""What bears a framework: rests under every base, their number and spread, the indirect retainer beyond the axis."""

from collections.abc import Mapping, Sequence

from recommender.advice.frameworks.parts import Choice, Stock
from recommender.advice.frameworks.rules.base import BetweenParts, Breach, Finding, Programme
from recommender.advice.frameworks.whole import Whole
from recommender.advice.model import Seat
from recommender.domain.dentition import position, side_of
from recommender.domain.options import Option
from recommender.domain.statement import Statement, Word, count, quantity, say, tooth
from recommender.mechanics.arch import place_teeth
from recommender.mechanics.levers import Line


class BaseSupported(BetweenParts):
    id = "base_supported"

    def rows(self, p: Programme) -> None:
        seats = {seat.tooth for seat in p.stock.seats}
        for border in p.stock.support:
            if border not in seats:
                rests = [(1.0, p.x(part)) for part in p.stock.retainers.get(border, ()) if part.rested]
                p.at_least([*rests, (1.0, p.gives_way(self))], 1)

    def breaches(self, choice: Choice) -> list[Breach]:
        resting = choice.resting
        return [
            Breach((border,), say("no_rest_at", tooth=tooth(border), why=_barred(choice.stock, border)))
            for border in choice.stock.support
            if border not in resting
        ]

    def tell(self, whole: Whole) -> Finding:
        lacking = [t for t in whole.stock.support if whole.rests.get(t, "none") == "none"]
        roots = {p.tooth for p in whole.retainers.values() if "on_root_or_implant" in p.option.parts}
        said = tuple(
            say("no_rest_at", tooth=tooth(t), why=_barred(whole.stock, t)) for t in lacking if t not in roots
        )
        return Finding("failed" if said else "passed", said)


def _barred(stock: Stock, border: int) -> Statement:
    """Why no rest stands on a tooth."""
    site = stock.teeth.get(border)
    if any(part.rested for part in stock.retainers.get(border, ())):
        return say("given_up_for_other_rules")
    if site is None or not site.stands:
        return say("only_a_root_left")
    if site.barred:
        return site.barred[0].statement
    return say("no_site_with_room")


class ThreeRests(BetweenParts):
    id = "three_rests"
    reads = ("least",)

    def rows(self, p: Programme) -> None:
        seats = {seat.tooth for seat in p.stock.seats}
        least = int(self.entry.figures["least"]) - len(seats)
        rests = [(1.0, p.x(part)) for part in p.everyone if part.rested and part.tooth not in seats]
        if least > 0:
            p.at_least([*rests, *((1.0, p.gives_way(self)) for _ in range(least))], least)

    def breaches(self, choice: Choice) -> list[Breach]:
        short = int(self.entry.figures["least"]) - len(choice.resting)
        return [Breach((), _counted(choice, len(choice.resting)))] * max(0, short)

    def tell(self, whole: Whole) -> Finding:
        carried = len({t for t, rest in whole.rests.items() if rest != "none"} | _roots(whole.choice))
        enough = carried >= int(self.entry.figures["least"])
        return Finding("passed" if enough else "failed", (_counted(whole.choice, carried),))


def _roots(choice: Choice) -> set[int]:
    return {p.tooth for p in choice.retainers.values() if "on_root_or_implant" in p.option.parts}


def _counted(choice: Choice, carried: int) -> Statement:
    stock = choice.stock
    able = len({p.tooth for p in stock.available if p.rested} | {seat.tooth for seat in stock.seats})
    return say("teeth_carry_rests", carried=count(carried), able=count(able))


class LeftAlone(BetweenParts):
    """A tooth beside no space that holds nothing, is no seat against lifting and no end of a plate carries no rest."""

    id = "left_alone"
    reads = ("foremost_position",)

    def rows(self, p: Programme) -> None:
        for part in p.everyone:
            if self._needless(p.stock, part.tooth) and part.rested and not part.retentive:
                at_end = plate_end(p.stock, part.tooth)
                plates = [o.id for o, _ in p.stock.connectors if at_end and self._ends(o)]
                p.at_most(
                    [(1.0, p.x(part)), (-1.0, p.gives_way(self)), *((-1.0, p.y(one)) for one in plates)], 0
                )

    @staticmethod
    def _ends(connector: Option) -> bool:
        return "needs_rests_at_ends" in connector.parts

    @staticmethod
    def _needless(stock: Stock, number: int) -> bool:
        return number not in stock.support and number not in {seat.tooth for seat in stock.seats}

    def breaches(self, choice: Choice) -> list[Breach]:
        plate = self._ends(choice.connector)
        return [
            Breach((p.tooth,), say("needless_rest", tooth=tooth(p.tooth)))
            for p in choice.retainers.values()
            if p.rested
            and not p.retentive
            and self._needless(choice.stock, p.tooth)
            and not (plate and plate_end(choice.stock, p.tooth))
        ]


def plate_end(stock: Stock, number: int) -> bool:
    """Whether a tooth may carry the end of a plate on the teeth, by its place from the midline."""
    rules = stock.figures.rules
    foremost = rules["left_alone"].figures["foremost_position"]
    return foremost <= position(number) <= rules["plate_ends"].figures["rearmost_position"]


class RestsSpread(BetweenParts):
    """The rests have to enclose an area: fewer than three, or three in a row, make a line."""

    id = "rests_spread"
    reads = ("area_least_cm2",)

    def tell(self, whole: Whole) -> Finding:
        geometry = place_teeth(whole.stock.arch)
        carried = {t for t, rest in whole.rests.items() if rest != "none"} | _roots(whole.choice)
        area = _hull_area(sorted({geometry[number].line_middle for number in carried})) / 100.0
        enough = area > self.entry.figures["area_least_cm2"]
        return Finding("passed" if enough else "failed", (say("rests_span", area=quantity(area, "cm2", 1)),))


def _hull_area(points: Sequence[tuple[float, float]]) -> float:
    if len(points) < 3:
        return 0.0
    from shapely import MultiPoint

    return float(MultiPoint(list(points)).convex_hull.area)


def lever_of(stock: Stock, rests: Mapping[int, str], seat: Seat) -> float | None:
    """The lever arm (mm, mean arch) of a seat to the axis through a framework's own rearmost rests.

    The rests beside the extensions, or beside a long front space; ``None`` where one of them is missing.
    """
    if stock.axis is None:
        return None
    geometry = place_teeth(stock.arch)
    in_front = stock.number == "IV"
    ends = []
    for end in stock.axis:
        rested = [
            t
            for t, rest in rests.items()
            if rest != "none"
            and side_of(t) == side_of(end)
            and t != seat.tooth
            and (position(t) >= position(end) if in_front else position(t) <= position(end))
        ]
        if not rested:
            return None
        nearest = min(rested, key=lambda t: abs(position(t) - position(end)))
        ends.append(geometry.seat(nearest, rests[nearest]))
    if ends[0] == ends[1]:
        # One tooth alone carries both ends: there is no line to measure from.
        return None
    lever = Line(ends[0], ends[1]).lever_mm(geometry.seat(seat.tooth, seat.rest))
    return -lever if in_front else lever


class Indirect(BetweenParts):
    id = "indirect"

    def tell(self, whole: Whole) -> Finding:
        if whole.stock.axis is None:
            return Finding("passed", (say("indirect_not_needed"),))
        levers = [(seat, lever_of(whole.stock, whole.rests, seat)) for seat in whole.seats]
        beyond = [(seat, lever) for seat, lever in levers if lever is not None and lever > 0]
        if beyond:
            return Finding(
                "passed",
                tuple(
                    say(
                        "seat_and_lever",
                        tooth=tooth(s.tooth),
                        rest=Word("rest", s.rest),
                        lever=quantity(lever, "mm", 0),
                    )
                    for s, lever in beyond
                ),
            )
        if "indirect_retention" in whole.choice.connector.parts:
            return Finding("passed", (say("plate_gives_it"),))
        return Finding("failed", (say("seats_not_beyond_axis" if whole.seats else "no_seat_beyond_axis"),))


BEARING = (BaseSupported, ThreeRests, LeftAlone, RestsSpread, Indirect)
