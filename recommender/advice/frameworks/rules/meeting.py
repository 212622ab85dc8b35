"""Where parts meet: the connector's reach, the ends of a plate, embrasures that two parts share."""

from recommender.advice.frameworks.parts import SIDES, Choice, Part
from recommender.advice.frameworks.rules.base import BetweenParts, Breach, Finding, Programme
from recommender.advice.frameworks.whole import Whole
from recommender.domain.dentition import position, side_facing, side_of
from recommender.domain.statement import Word, say, teeth, tooth


class ConnectorReaches(BetweenParts):
    """A one-sided connector reaches one side only: whichever side carries nothing is left out."""

    id = "connector_reaches"

    def rows(self, p: Programme) -> None:
        seats = {side_of(seat.tooth) for seat in p.stock.seats}
        for option, _ in p.stock.connectors:
            if "one_sided" not in option.parts:
                continue
            y, left = p.y(option.id), p.free()
            sides = {
                side: [
                    (1.0, p.x(q)) for q in p.everyone if side_of(q.tooth) == side and q.option.id != "none"
                ]
                for side in SIDES
            }
            size = float(len(p.everyone))
            p.at_most([*sides["left"], (size, y), (-size, left)], size)
            p.at_most([*sides["right"], (size, y), (size, left)], 2 * size)
            if "left" in seats:
                p.at_least([(1.0, left), (-1.0, y)], 0)
            if "right" in seats:
                p.at_most([(1.0, left), (1.0, y)], 1)

    def breaches(self, choice: Choice) -> list[Breach]:
        if "one_sided" not in choice.connector.parts:
            return []
        used = {side_of(p.tooth) for p in choice.retainers.values() if p.option.id != "none"}
        used |= {side_of(seat.tooth) for seat in choice.stock.seats}
        return [Breach((), say("stays_on_one_side"))] if len(used) > 1 else []


class PlateEnds(BetweenParts):
    """A rest as far forward as the figure says, on each side."""

    id = "plate_ends"
    reads = ("rearmost_position",)

    def _at_end(self, number: int, side: str) -> bool:
        return side_of(number) == side and position(number) <= self.entry.figures["rearmost_position"]

    def rows(self, p: Programme) -> None:
        seats = {seat.tooth for seat in p.stock.seats}
        for option, _ in p.stock.connectors:
            if "needs_rests_at_ends" not in option.parts:
                continue
            for side in SIDES:
                if any(self._at_end(number, side) for number in seats):
                    continue
                ends = [(1.0, p.x(q)) for q in p.everyone if q.rested and self._at_end(q.tooth, side)]
                p.at_least([*ends, (1.0, p.gives_way(self)), (-1.0, p.y(option.id))], 0)

    def breaches(self, choice: Choice) -> list[Breach]:
        if "needs_rests_at_ends" not in choice.connector.parts:
            return []
        return [
            Breach((), say("no_rest_in_front", side=Word("side", side)))
            for side in SIDES
            if not any(self._at_end(number, side) for number in choice.resting)
        ]

    def tell(self, whole: Whole) -> Finding:
        if "needs_rests_at_ends" not in whole.choice.connector.parts:
            return Finding("passed", (say("no_plate_on_teeth"),))
        rested = [t for t, rest in whole.rests.items() if rest != "none"]
        lacking = [side for side in SIDES if not any(self._at_end(t, side) for t in rested)]
        said = tuple(say("no_rest_in_front", side=Word("side", side)) for side in lacking)
        return Finding("failed" if said else "passed", said)


class EmbrasureRoom(BetweenParts):
    """Two assemblies that meet over one embrasure need room for both; a shared clasp is looked at as it is built."""

    id = "embrasure_room"

    def rows(self, p: Programme) -> None:
        for pair in sorted(p.stock.touching, key=sorted):
            first, second = sorted(pair)
            if not self._tight(p.stock.rooms.get(pair), p.stock.figures.room.shared_embrasure_mm):
                continue
            here, there = (
                [(1.0, p.x(q)) for q in p.stock.retainers[one] if _meets(q, other)]
                for one, other in ((first, second), (second, first))
            )
            if here and there:
                p.at_most([*here, *there, (-1.0, p.gives_way(self))], 1)

    @staticmethod
    def _tight(room: float | None, least: float) -> bool:
        return room is not None and room < least

    def breaches(self, choice: Choice) -> list[Breach]:
        least = choice.stock.figures.room.shared_embrasure_mm
        found = []
        for pair in sorted(choice.stock.touching, key=sorted):
            first, second = sorted(pair)
            one, two = choice.retainers.get(first), choice.retainers.get(second)
            if (
                one
                and two
                and _meets(one, second)
                and _meets(two, first)
                and self._tight(choice.stock.rooms.get(pair), least)
            ):
                found.append(
                    Breach((first, second), say("embrasure_too_tight", teeth=teeth((first, second))))
                )
        return found

    def tell(self, whole: Whole) -> Finding:
        found = tuple(breach.said for breach in self.breaches(whole.choice) if breach.said)
        if found:
            return Finding("failed", found)
        unknown, made = [], []
        for pair in sorted(whole.stock.touching, key=sorted):
            first, second = sorted(pair)
            one, two = whole.retainers.get(first), whole.retainers.get(second)
            if not (
                one
                and two
                and side_facing(first, second) in one.crosses
                and side_facing(second, first) in two.crosses
            ):
                continue
            if whole.stock.rooms.get(pair) is None:
                unknown.append(say("embrasure_room_not_recorded", teeth=teeth((first, second))))
            elif one.build.cuts or two.build.cuts:
                made.append(say("embrasure_room_made", teeth=teeth((first, second))))
        if unknown:
            return Finding("not_checked", tuple(unknown))
        return Finding("passed_with_preparation", tuple(made)) if made else Finding("passed")


def _meets(part: Part, other: int) -> bool:
    return side_facing(part.tooth, other) in part.crosses and part.partner != other


class EmbrasurePartner(BetweenParts):
    id = "embrasure_partner"

    def rows(self, p: Programme) -> None:
        for part in p.everyone:
            if part.partner is None:
                continue
            other = _half(part, p.stock.retainers.get(part.partner, ()))
            if other is None:
                p.at_most([(1.0, p.x(part))], 0)
            elif part.tooth < other.tooth:
                p.at_most([(1.0, p.x(part)), (-1.0, p.x(other))], 0)
                p.at_least([(1.0, p.x(part)), (-1.0, p.x(other))], 0)

    def breaches(self, choice: Choice) -> list[Breach]:
        found = []
        for part in choice.retainers.values():
            if part.partner is not None:
                other = choice.retainers.get(part.partner)
                if _half(part, (other,) if other else ()) is None:
                    found.append(Breach((part.tooth,), say("half_stands_alone", tooth=tooth(part.tooth))))
        return found


def _half(part: Part, there: tuple[Part, ...]) -> Part | None:
    """The other half of an embrasure clasp among the parts of its partner."""
    return next((o for o in there if o.option.id == part.option.id and o.partner == part.tooth), None)


MEETING = (ConnectorReaches, PlateEnds, EmbrasureRoom, EmbrasurePartner)
