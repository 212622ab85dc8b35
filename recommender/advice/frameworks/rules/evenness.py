"""How even the two sides are: hold, and the kind of retainer on matching teeth."""

from collections.abc import Iterable, Iterator, Mapping

from recommender.advice.frameworks.parts import SIDES, Choice, Part
from recommender.advice.frameworks.rules.base import BetweenParts, Breach, Finding, Programme
from recommender.advice.frameworks.whole import Whole
from recommender.domain.dentition import side_of
from recommender.domain.statement import Choice as Option
from recommender.domain.statement import Quantity, Word, say, teeth


class Balance(BetweenParts):
    """The bands of the two sides' hold overlap; not judged where a chosen retainer has no computed force."""

    id = "balance"

    def rows(self, p: Programme) -> None:
        held = [part for part in p.everyone if part.retentive]
        most = sum(part.force_n[1] for part in held if part.force_n)
        if not most:
            return
        gives = p.gives_way(self)
        unknown = [(most, p.x(part)) for part in held if part.force_n is None]
        for weak in SIDES:
            row = [
                (part.force_n[1] if side_of(part.tooth) == weak else -part.force_n[0], p.x(part))
                for part in held
                if part.force_n
            ]
            p.at_least([*row, (most, gives), *unknown], 0)

    def breaches(self, choice: Choice) -> list[Breach]:
        bands = hold(choice.held)
        if bands is None:
            return []
        right, left = bands
        for side, weak, strong in (("right", right, left), ("left", left, right)):
            if weak[1] < strong[0] - 1e-9:
                said = say(
                    "side_holds_less",
                    side=Word("side", side),
                    weak=Quantity(*weak, "N", 0),
                    strong=Quantity(*strong, "N", 0),
                )
                return [Breach((), said)]
        return []

    def tell(self, whole: Whole) -> Finding:
        held = whole.choice.held
        bands = hold(held)
        if bands is None:
            unknown = [part.tooth for part in held if part.force_n is None]
            return Finding("not_checked", (say("force_not_known", teeth=teeth(unknown)),) if unknown else ())
        found = self.breaches(whole.choice)
        said = say("hold_of_sides", right=Quantity(*bands[0], "N", 0), left=Quantity(*bands[1], "N", 0))
        return (
            Finding("failed", tuple(b.said for b in found if b.said)) if found else Finding("passed", (said,))
        )


def hold(held: list[Part]) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """The bands of the hold (N) of the right and the left side; ``None`` where a retainer has no computed force."""
    if not held or any(part.force_n is None for part in held):
        return None
    ends = [
        tuple(
            sum(part.force_n[end] for part in held if part.force_n and side_of(part.tooth) == side)
            for end in (0, 1)
        )
        for side in SIDES
    ]
    return (ends[0][0], ends[0][1]), (ends[1][0], ends[1][1])


class Alike(BetweenParts):
    """Matching teeth carry the same kind; worth so little that it only settles what would be equal."""

    id = "alike"

    def rows(self, p: Programme) -> None:
        for first, second in self._pairs(p.stock.matching, p.stock.retainers):
            gives = p.gives_way(self)
            for kind in sorted({part.kind for part in first}):
                here = [(1.0, p.x(part)) for part in first if part.kind == kind]
                there = [(1.0, p.x(part)) for part in second if part.kind != kind]
                if there:
                    p.at_most([*here, *there, (-1.0, gives)], 1)

    @staticmethod
    def _pairs(
        matching: Iterable[tuple[int, int]], retainers: Mapping[int, tuple[Part, ...]]
    ) -> Iterator[tuple[tuple[Part, ...], tuple[Part, ...]]]:
        for one, other in matching:
            first, second = retainers.get(one), retainers.get(other)
            if first and second and not (first[0].further or second[0].further):
                yield first, second

    def breaches(self, choice: Choice) -> list[Breach]:
        found = []
        for one, other in choice.stock.matching:
            first, second = choice.retainers.get(one), choice.retainers.get(other)
            if first and second and not (first.further or second.further) and first.kind != second.kind:
                kinds = [Option("retainer", part.option.id) for part in (first, second)]
                said = say("unlike", teeth=teeth((one, other)), first=kinds[0], second=kinds[1])
                found.append(Breach((one, other), said))
        return found


EVENNESS = (Balance, Alike)
