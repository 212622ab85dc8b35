"""ISO 3950 teeth: order along the arch, neighbours, types, sides, mirror images.

An arch is a row of sixteen teeth from the patient's right third molar round to the left one. Everything
here is about designations only and knows nothing of a case.
"""

from collections.abc import Iterable, Sequence

ARCH_ORDER: dict[str, tuple[int, ...]] = {
    "maxilla": (18, 17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27, 28),
    "mandible": (48, 47, 46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36, 37, 38),
}
_MIRROR_QUADRANT = {1: 2, 2: 1, 3: 4, 4: 3}
_TYPE_BY_POSITION = {
    1: "incisor", 2: "incisor", 3: "canine", 4: "premolar", 5: "premolar", 6: "molar", 7: "molar", 8: "molar",
}  # fmt: skip


def quadrant(tooth: int) -> int:
    """First digit of the designation: 1 upper right, 2 upper left, 3 lower left, 4 lower right."""
    return tooth // 10


def position(tooth: int) -> int:
    """Second digit: 1 (central incisor) to 8 (third molar)."""
    return tooth % 10


def tooth_type(tooth: int) -> str:
    """``incisor``, ``canine``, ``premolar`` or ``molar``."""
    return _TYPE_BY_POSITION[position(tooth)]


def is_anterior(tooth: int) -> bool:
    """Whether the tooth is an incisor or a canine."""
    return position(tooth) <= 3


def arch_of(tooth: int) -> str:
    """``maxilla`` or ``mandible``."""
    return "maxilla" if quadrant(tooth) in (1, 2) else "mandible"


def side_of(tooth: int) -> str:
    """The patient's ``right`` or ``left``."""
    return "right" if quadrant(tooth) in (1, 4) else "left"


def is_tooth(number: int) -> bool:
    """Whether the number is a permanent-tooth designation of ISO 3950."""
    return quadrant(number) in (1, 2, 3, 4) and 1 <= position(number) <= 8


def mirror(tooth: int) -> int:
    """The tooth of the same name on the other side of the same arch."""
    return _MIRROR_QUADRANT[quadrant(tooth)] * 10 + position(tooth)


def neighbour(tooth: int, side: str) -> int | None:
    """The tooth that touches this one on its ``mesial`` or ``distal`` side; ``None`` behind a third molar."""
    if side == "distal":
        return tooth + 1 if position(tooth) < 8 else None
    return tooth - 1 if position(tooth) > 1 else mirror(tooth)


def side_facing(tooth: int, other: int) -> str:
    """The proximal side (``mesial`` or ``distal``) of ``tooth`` that faces ``other`` along the arch."""
    if quadrant(tooth) != quadrant(other) or position(other) < position(tooth):
        return "mesial"
    return "distal"


def opposite(side: str) -> str:
    """``mesial`` for ``distal`` and the other way round."""
    return "distal" if side == "mesial" else "mesial"


def in_arch_order(arch: str, teeth: Iterable[int]) -> list[int]:
    """The teeth sorted from the patient's right third molar to the left."""
    order = {tooth: index for index, tooth in enumerate(ARCH_ORDER[arch])}
    return sorted(teeth, key=order.__getitem__)


def runs(arch: str, teeth: Iterable[int]) -> list[tuple[int, ...]]:
    """The teeth grouped into unbroken runs along the arch, each in arch order."""
    wanted = set(teeth)
    grouped: list[list[int]] = []
    previous_in = False
    for tooth in ARCH_ORDER[arch]:
        if tooth in wanted:
            if not previous_in:
                grouped.append([])
            grouped[-1].append(tooth)
        previous_in = tooth in wanted
    return [tuple(run) for run in grouped]


def between(arch: str, first: int, last: int) -> Sequence[int]:
    """The teeth strictly between two teeth of one arch, in arch order."""
    order = ARCH_ORDER[arch]
    low, high = sorted((order.index(first), order.index(last)))
    return order[low + 1 : high]
