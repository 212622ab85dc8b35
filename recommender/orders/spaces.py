"""Teeth by their place among the spaces of an arch, and the missing teeth that an order states without naming them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from recommender.domain.dentition import ARCH_ORDER, arch_of, position, quadrant, runs
from recommender.orders.model import Proposal
from recommender.orders.refs import QUADRANTS_OF, Ref

_THIRD = 8
REMAINDER = "all but the teeth said to stand, third molars left out"
BEHIND_LAST = "everything behind the last tooth, third molars left out"
UNNAMED = "neither said to stand nor to be replaced, third molars left out"
SOME_REPLACED = "only some of the teeth that are gone are said to be replaced"
OTHER_SIDE = "a side is named on which nothing is said to be missing"
FREE_END = "a free end: everything behind the last clasped tooth, third molars left out"


@dataclass(frozen=True)
class Spaces:
    """The missing teeth of each arch, those that are not replaced, and the teeth said to be abutments."""

    missing: Mapping[str, frozenset[int]]
    absent: frozenset[int]
    abutments: frozenset[int]

    def places(self, ref: Ref, arch: str | None) -> list[int]:
        """The teeth at a place, in the order of the arch; none where the arch or its spaces are not known."""
        known = ref.arch or arch or (next(iter(self.missing)) if len(self.missing) == 1 else None)
        if known is None:
            return []
        return [
            tooth
            for tooth in self._at(ref.relative, known)
            if (ref.side not in QUADRANTS_OF or quadrant(tooth) in QUADRANTS_OF[ref.side])
            and (not ref.quadrant or quadrant(tooth) == ref.quadrant)
            and (not ref.names or position(tooth) in ref.names)
        ]

    def around(self, teeth: Sequence[int]) -> list[int]:
        """The teeth before and behind the space in which each tooth lies."""
        found: list[int] = []
        for tooth in teeth:
            arch = arch_of(tooth)
            order, standing = ARCH_ORDER[arch], self._standing(arch)
            at = order.index(tooth)
            before = [one for one in standing if order.index(one) < at]
            after = [one for one in standing if order.index(one) > at]
            found += [*before[-1:], *after[:1]]
        return found

    def _at(self, place: str, arch: str) -> list[int]:
        standing = self._standing(arch)
        if place == "all":
            return [tooth for tooth in ARCH_ORDER[arch] if position(tooth) < _THIRD]
        if not self.missing.get(arch):
            return []
        if place == "last":
            return [standing[0], standing[-1]] if standing else []
        if place == "front":
            beside = self._beside(arch)
            halves = [
                [tooth for tooth in beside if quadrant(tooth) in half] for half in QUADRANTS_OF.values()
            ]
            return [min(half, key=position) for half in halves if half]
        stated = [tooth for tooth in standing if tooth in self.abutments]
        return stated if place == "abutments" and stated else self._beside(arch)

    def _standing(self, arch: str) -> list[int]:
        gone = {*self.missing.get(arch, ()), *self.absent}
        return [tooth for tooth in ARCH_ORDER[arch] if tooth not in gone and position(tooth) < _THIRD]

    def _beside(self, arch: str) -> list[int]:
        """The teeth next to each space; teeth that are not replaced are passed over."""
        order, standing = ARCH_ORDER[arch], self._standing(arch)
        found: set[int] = set()
        for run in runs(arch, set(self.missing[arch])):
            first, last = order.index(run[0]), order.index(run[-1])
            before = [tooth for tooth in standing if order.index(tooth) < first]
            after = [tooth for tooth in standing if order.index(tooth) > last]
            found |= {*before[-1:], *after[:1]}
        return [tooth for tooth in standing if tooth in found]

    def side_of_rest(self, tooth: int, toward: bool) -> str | None:
        """The end of a tooth towards its space (``mesial``, ``distal``), or away from it; ``None`` if unclear."""
        order = ARCH_ORDER[arch_of(tooth)]
        gone = {
            *self.missing.get(arch_of(tooth), ()),
            *(one for one in self.absent if position(one) < _THIRD),
        }
        at = order.index(tooth)
        on_right = quadrant(tooth) in (1, 4)  # the order runs from the right third molar to the left one
        distal, mesial = (at - 1, at + 1) if on_right else (at + 1, at - 1)
        open_ = [
            name
            for name, place in (("mesial", mesial), ("distal", distal))
            if 0 <= place < len(order) and order[place] in gone
        ]
        if len(open_) != 1:
            return "mesial_distal" if toward and len(open_) == 2 else None
        return open_[0] if toward else {"mesial": "distal", "distal": "mesial"}[open_[0]]


def left_over(arch: str, standing: set[int], gone: set[int]) -> list[int]:
    """The missing teeth where only those left standing are named: all others up to the second molars."""
    return [
        tooth
        for tooth in ARCH_ORDER[arch]
        if tooth not in standing and tooth not in gone and position(tooth) < _THIRD
    ]


def behind(teeth: Sequence[int], missing: set[int]) -> list[int]:
    """The teeth up to the second molar behind each, on sides of the arch where nothing is said to be missing there."""
    found: list[int] = []
    for tooth in teeth:
        after = [10 * quadrant(tooth) + place for place in range(position(tooth) + 1, _THIRD)]
        if after and not missing & set(after):
            found += after
    return found


def at_end(teeth: Sequence[int], end: str) -> list[int]:
    """Of two teeth in each quadrant the one in ``front`` or at the ``back``; none where they are not two."""
    found: list[int] = []
    for side in sorted({quadrant(tooth) for tooth in teeth}):
        pair = sorted((tooth for tooth in teeth if quadrant(tooth) == side), key=position)
        if len(pair) != 2:
            return []
        found.append(pair[0] if end == "front" else pair[1])
    return found


def clasped(proposals: Sequence[tuple[str | None, Proposal]], arch: str | None) -> list[int]:
    """Teeth of an arch (or of any) that a retainer is asked for."""
    return [
        one.teeth[0]
        for place, one in proposals
        if one.path.startswith("prescription.retainers[") and (arch is None or place == arch)
    ]
