"""Of which space it is said what names no tooth: of the one named last, or of those of the side named before it."""

from collections.abc import Mapping, Sequence
from typing import Any

from recommender.domain.dentition import arch_of, quadrant, runs
from recommender.orders.items import SENTENCE, Item
from recommender.orders.links import Statement
from recommender.orders.referring import Referring
from recommender.orders.refs import QUADRANTS_OF
from recommender.orders.settle import meant

_PAST = ("retainer", "rest", "connector")
LAST_NAMED = "said of the space named last"


class GapPlaces(Referring):
    """Gives findings of spaces and replacements that name no tooth the space that goes before them."""

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self._space_of: dict[int, tuple[int, ...]] = {}

    def _place_in_spaces(self, statements: Sequence[Statement], missing: Mapping[str, frozenset[int]]) -> None:
        """Settles the spaces of statements, unless all of them come after all spaces and mean every one of them."""
        spaces = [frozenset(run) for arch, teeth in missing.items() for run in runs(arch, set(teeth))]
        homeless = [one for one in statements if not one.teeth and not one.denied]
        if len(spaces) < 2:
            return
        found: list[tuple[Statement, frozenset[int], bool]] = []
        for one in homeless:
            space, sure = self._space_before(one.item, spaces)
            if space is not None:
                found.append((one, space, sure))
        if len({space for _, space, _ in found}) < 2:
            found = [one for one in found if one[2]]
        for statement, space, _ in found:
            self._space_of[id(statement)] = tuple(sorted(space))

    def _space_before(
        self, item: Item, spaces: Sequence[frozenset[int]]
    ) -> tuple[frozenset[int] | None, bool]:
        """The one space that goes before an item, and whether a bracket or a side beside it shows that it is meant."""
        at = self._at[id(item)]
        ended = opened = closed = False
        for place in range(at - 1, -1, -1):
            before = self._items[place]
            closed = closed or before.kind == "close"
            opened = opened or (before.kind == "open" and not closed)
            if before.kind in SENTENCE:
                ended = True
            elif ended and before.kind in _PAST:
                return None, False
            elif before.kind in ("side", "quadrant") and (
                found := self._on_side(before, item, spaces)
            ):
                return found, not ended
            elif before.kind == "teeth":
                read = meant(before.value, self.arch_at(before), self._settled)
                teeth = {tooth for one in read for tooth in one.teeth}
                touched = [space for space in spaces if space & teeth]
                return (touched[0] if len(touched) == 1 else None), opened and not ended
        return None, False

    def _on_side(
        self, side: Item, item: Item, spaces: Sequence[frozenset[int]]
    ) -> frozenset[int] | None:
        """The only space of the side that is named."""
        wanted = (int(side.value),) if side.kind == "quadrant" else QUADRANTS_OF.get(str(side.value), ())
        arch = self.arch_at(item)
        touched = [
            space
            for space in spaces
            if any(quadrant(tooth) in wanted and arch in (None, arch_of(tooth)) for tooth in space)
        ]
        return touched[0] if len(touched) == 1 else None
