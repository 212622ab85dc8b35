"""What holds a framework in: how many retainers, on which sides, how far apart."""

from collections.abc import Iterable
from math import ceil
from typing import ClassVar

from recommender.advice.frameworks.parts import SIDES, Choice, Part, Stock
from recommender.advice.frameworks.rules.base import BetweenParts, Breach, Finding, Programme
from recommender.advice.frameworks.whole import Whole
from recommender.domain.dentition import position, side_of
from recommender.domain.statement import Choice as Option
from recommender.domain.statement import Word, count, say, teeth, tooth


class BothSides(BetweenParts):
    id = "both_sides"

    def rows(self, p: Programme) -> None:
        for side in SIDES:
            here = [(1.0, p.x(part)) for part in p.everyone if part.retentive and side_of(part.tooth) == side]
            p.at_least([*here, (1.0, p.gives_way(self))], 1)

    def breaches(self, choice: Choice) -> list[Breach]:
        held = {side_of(part.tooth) for part in choice.held}
        if held >= set(SIDES):
            return []
        able = {side_of(part.tooth) for part in choice.stock.available if part.retentive}
        return [
            Breach(
                (),
                say(
                    "nothing_holds_though_possible" if side in able else "nothing_can_hold",
                    side=Word("side", side),
                ),
            )
            for side in SIDES
            if side not in held
        ]


class EnoughRetainers(BetweenParts):
    """Counted in teeth; a root or implant that holds counts."""

    id = "enough_retainers"
    reads: ClassVar[tuple[str, ...]] = ("I", "II", "III", "IV")

    def least(self, stock: Stock) -> int:
        """How many teeth should hold."""
        return int(self.entry.figures[stock.number])

    def rows(self, p: Programme) -> None:
        least = self.least(p.stock)
        holds = [(1.0, p.x(part)) for part in p.everyone if part.retentive]
        p.at_least([*holds, *((1.0, p.gives_way(self)) for _ in range(least))], least)

    def breaches(self, choice: Choice) -> list[Breach]:
        least, held = self.least(choice.stock), len(choice.held)
        if held >= least:
            return []
        able = len({part.tooth for part in choice.stock.available if part.retentive})
        said = say("fewer_than_wanted", held=count(held), wanted=count(least), able=count(able))
        return [Breach((), said)] * (least - held)

    def tell(self, whole: Whole) -> Finding:
        found = self.breaches(whole.choice)
        wanted = count(self.least(whole.stock))
        said = (
            found[0].said
            if found
            else say("held_of_wanted", held=count(len(whole.choice.held)), wanted=wanted)
        )
        return Finding("failed" if found else "passed", (said,) if said else ())


class FourCorners(EnoughRetainers):
    """A tooth-borne denture with spaces on both sides holds best at four corners; two across will do."""

    id = "four_corners"
    reads = ("corners",)

    def least(self, stock: Stock) -> int:
        return int(self.entry.figures["corners"]) if stock.number == "III" and stock.both_sides else 0


class NoMoreRetainers(BetweenParts):
    """Counted in teeth; neither a root or implant under the base nor a rigid retainer that is rotated in counts.

    Half of an embrasure clasp may count for less than a tooth (``IV_half``).
    """

    id = "no_more_retainers"
    reads = ("I", "II", "III", "IV", "I_each_modification", "II_each_modification", "IV_half")

    def most(self, stock: Stock) -> int:
        """How many clasped teeth are enough."""
        more = self.entry.figures.get(f"{stock.number}_each_modification", 0) * stock.modifications
        return int(self.entry.figures[stock.number] + more)

    def _weight(self, stock: Stock, part: Part) -> float:
        return self.entry.figures.get(f"{stock.number}_half", 1.0) if part.partner is not None else 1.0

    def _counted(self, stock: Stock, parts: Iterable[Part]) -> int:
        return ceil(sum(self._weight(stock, part) for part in parts if _counts(part)))

    def rows(self, p: Programme) -> None:
        counted = [(self._weight(p.stock, part), p.x(part)) for part in p.everyone if _counts(part)]
        most = self.most(p.stock)
        spare = [
            (-1.0, p.gives_way(self)) for _ in range(max(0, len({pt.tooth for pt in p.everyone}) - most))
        ]
        p.at_most([*counted, *spare], most)

    def breaches(self, choice: Choice) -> list[Breach]:
        counted = self._counted(choice.stock, choice.retainers.values())
        said = say("assemblies_of_most", held=count(counted), most=count(self.most(choice.stock)))
        return [Breach((), said)] * max(0, counted - self.most(choice.stock))

    def tell(self, whole: Whole) -> Finding:
        counted = self._counted(whole.stock, whole.retainers.values())
        said = say("assemblies_of_most", held=count(counted), most=count(self.most(whole.stock)))
        return Finding("failed" if self.breaches(whole.choice) else "passed", (said,))


def _counts(part: Part) -> bool:
    return part.clasps and part.rotated_end is None


class OneArmATooth(BetweenParts):
    """An arm may lie on the tooth beside the one that carries it."""

    id = "one_arm_a_tooth"

    def rows(self, p: Programme) -> None:
        for gripped in {part.grips for part in p.everyone if part.retentive and part.grips != part.tooth}:
            p.at_most(
                [(1.0, p.x(part)) for part in p.everyone if part.retentive and part.grips == gripped], 1
            )

    def breaches(self, choice: Choice) -> list[Breach]:
        gripped = [part.grips for part in choice.held]
        return [
            Breach((found,), say("two_arms_at", tooth=tooth(found)))
            for found in sorted(set(gripped))
            for _ in range(gripped.count(found) - 1)
        ]


class Spread(BetweenParts):
    id = "spread"

    def rows(self, p: Programme) -> None:
        for pair in sorted(p.stock.touching, key=sorted):
            first, second = sorted(pair)
            here, there = ([q for q in p.stock.retainers[t] if q.clasps] for t in (first, second))
            apart = [q for q in there if q.partner != first]
            if here and apart:
                # two halves of one clasp stand together by right; a half beside another clasp does not
                row = [(1.0, p.x(q)) for q in (*here, *apart)]
                p.at_most([*row, (-1.0, p.gives_way(self))], 1)

    def breaches(self, choice: Choice) -> list[Breach]:
        found = []
        for pair in sorted(choice.stock.touching, key=sorted):
            first, second = (choice.retainers.get(t) for t in sorted(pair))
            if first and second and first.clasps and second.clasps and first.partner != second.tooth:
                both = (first.tooth, second.tooth)
                found.append(Breach(both, say("both_hold", teeth=teeth(both))))
        return found


class HeldBesideExtension(BetweenParts):
    """The last tooth of an extension holds, or a root or implant under its base does."""

    id = "held_beside_extension"

    def rows(self, p: Programme) -> None:
        for end in p.stock.ends:
            able = (end, *_under(p.stock, end))
            here = [(1.0, p.x(part)) for t in able for part in p.stock.retainers.get(t, ()) if part.retentive]
            p.at_least([*here, (1.0, p.gives_way(self))], 1)

    def breaches(self, choice: Choice) -> list[Breach]:
        held = {part.tooth for part in choice.held}
        held |= {end for end in choice.stock.ends if held & set(_under(choice.stock, end))}
        if held.issuperset(choice.stock.ends):
            return []
        able = {part.tooth for part in choice.stock.available if part.retentive}
        return [
            Breach((end,), say("end_does_not_hold" if end in able else "end_can_not_hold", tooth=tooth(end)))
            for end in choice.stock.ends
            if end not in held
        ]


class HeldBehind(BetweenParts):
    """Where only the front is restored, both sides hold behind as well."""

    id = "held_behind"
    reads = ("foremost_position",)

    def _wanted(self, stock: Stock) -> list[tuple[int, ...]]:
        """The teeth on each side that could hold behind; a side on which none could is not asked."""
        if stock.number != "IV":
            return []
        least = self.entry.figures["foremost_position"]
        able = {part.tooth for part in stock.available if part.retentive and position(part.tooth) >= least}
        sides = [tuple(sorted(t for t in able if side_of(t) == side)) for side in SIDES]
        return [here for here in sides if here]

    def rows(self, p: Programme) -> None:
        for able in self._wanted(p.stock):
            here = [(1.0, p.x(part)) for t in able for part in p.stock.retainers[t] if part.retentive]
            p.at_least([*here, (1.0, p.gives_way(self))], 1)

    def breaches(self, choice: Choice) -> list[Breach]:
        held = {part.tooth for part in choice.held}
        return [
            Breach(able, say("side_not_held_behind", side=Word("side", side_of(able[0]))))
            for able in self._wanted(choice.stock)
            if not held & set(able)
        ]


def _under(stock: Stock, end: int) -> list[int]:
    """Roots and implants under the extension base that begins at a tooth."""
    spaces = [space for space in stock.spaces if space.support == "extension" and end in space.borders]
    return [tooth for space in spaces for tooth in space.teeth if tooth in stock.retainers]


class Releasing(BetweenParts):
    id = "releasing"

    def rows(self, p: Programme) -> None:
        for part in p.everyone:
            if part.beside_extension and not part.releasing:
                p.at_most([(1.0, p.x(part)), (-1.0, p.gives_way(self))], 0)

    def breaches(self, choice: Choice) -> list[Breach]:
        return [
            Breach(
                (p.tooth,),
                say("does_not_let_go", tooth=tooth(p.tooth), option=Option("retainer", p.option.id)),
            )
            for p in choice.held
            if p.beside_extension and not p.releasing
        ]


class RotationalPath(BetweenParts):
    """Rigid retainers stand at one end, and each has an ordinary one on its side at the other end."""

    id = "rotational_path"

    def rows(self, p: Programme) -> None:
        rotated = [part for part in p.everyone if part.rotated_end]
        if not rotated:
            return
        front = p.free()
        for part in rotated:
            ahead = part.rotated_end == "front"
            p.at_most([(1.0, p.x(part)), (-1.0 if ahead else 1.0, front)], 0 if ahead else 1)
            locks = [(-1.0, p.x(other)) for other in p.everyone if locks_path(part, other)]
            p.at_most([(1.0, p.x(part)), *locks], 0)

    def breaches(self, choice: Choice) -> list[Breach]:
        rigid = [part for part in choice.held if part.rotated_end]
        loose = [p for p in rigid if not any(locks_path(p, other) for other in choice.held)]
        found = [Breach((p.tooth,), say("nothing_locks", tooth=tooth(p.tooth))) for p in loose]
        if len({part.rotated_end for part in rigid}) > 1:
            found.append(Breach(tuple(p.tooth for p in rigid), say("rotated_at_both_ends")))
        return found

    def tell(self, whole: Whole) -> Finding:
        found = [breach.said for breach in self.breaches(whole.choice) if breach.said]
        rigid = [part.tooth for part in whole.choice.held if part.rotated_end]
        said = say("seat_first", teeth=teeth(rigid)) if rigid else say("none_rotated_in")
        return Finding("failed", tuple(found)) if found else Finding("passed", (said,))


def locks_path(rigid: Part, other: Part) -> bool:
    """Whether an ordinary retainer stands at the other end of the same side and keeps a rotated one in place."""
    if not other.clasps or other.rotated_end or side_of(other.tooth) != side_of(rigid.tooth):
        return False
    further_back = other.tooth % 10 > rigid.tooth % 10
    return further_back if rigid.rotated_end == "front" else other.tooth % 10 < rigid.tooth % 10


HOLDING = (
    BothSides, EnoughRetainers, FourCorners, NoMoreRetainers, OneArmATooth, Spread, HeldBesideExtension, HeldBehind,
    Releasing, RotationalPath,
)  # fmt: skip
