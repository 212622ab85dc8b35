"""Which arch each place of an order speaks of: an order may be for the upper arch, the lower arch, or both."""

from collections.abc import Sequence

from recommender.domain.vocabulary import connectors
from recommender.orders.items import PART, SENTENCE, Item

ARCHES = ("maxilla", "mandible")


def arch_of_connector(identifier: str) -> str | None:
    """The one arch that a major connector is made for; ``None`` where it serves both."""
    fitting = [arch for arch in ARCHES if identifier in connectors(arch)]
    return fitting[0] if len(fitting) == 1 else None


def sections(items: Sequence[Item]) -> tuple[list[str | None], tuple[str, ...]]:
    """For every item the arch that its part of the order names, and the arches that the order names at all.

    An arch that is only mentioned as the opposing one does not count. One arch named stands for the whole order.
    """
    marks = [
        index for index, item in enumerate(items) if item.kind == "arch" and not _is_opposing(items, index)
    ]
    marks += [
        index
        for index, item in enumerate(items)
        if item.kind == "teeth" and any(ref.arch or ref.quadrant for ref in item.value.refs)
    ]
    named = [
        arch
        for index in marks
        for arch in ([str(items[index].value)] if items[index].kind == "arch" else _of_teeth(items[index]))
    ]
    found = tuple(arch for arch in ARCHES if arch in named)
    if len(found) == 2 and _undecided(items, marks):
        return [None] * len(items), ()
    if len(found) == 1:
        return [found[0]] * len(items), found
    words = {index: str(items[index].value) for index in marks if items[index].kind == "arch"}
    words = {index: arch for index, arch in words.items() if not _is_pair(items, index, words)}
    return _by_sentence(items, words), found


def _undecided(items: Sequence[Item], marks: Sequence[int]) -> bool:
    """Whether the order asks which arch it is for ("upper or lower?") and names no other."""
    words = [index for index in marks if items[index].kind == "arch"]
    return len(words) == 2 == len(marks) and any(
        item.kind == "or" for item in items[words[0] + 1 : words[1]] if words[1] - words[0] <= 3
    )


def _of_teeth(item: Item) -> list[str]:
    return [
        ref.arch or ("maxilla" if ref.quadrant in (1, 2) else "mandible")
        for ref in item.value.refs
        if ref.arch or ref.quadrant
    ]


def _by_sentence(items: Sequence[Item], words: dict[int, str]) -> list[str | None]:
    place: list[str | None] = []
    current: str | None = None
    start = 0
    while start < len(items):
        end = next((i for i in range(start, len(items)) if items[i].kind in SENTENCE), len(items) - 1)
        inside = [index for index in range(start, end + 1) if index in words]
        arches = {words[index] for index in inside}
        if len(arches) == 1:
            current = words[inside[0]]
        elif len(arches) > 1:
            leading = all(
                items[i].kind in ("filler", "mark", "comma", "and") for i in range(start, inside[0])
            )
            current = words[inside[0]] if not leading and current is None else current
        for index in range(start, end + 1):
            if len(arches) > 1 and index in words:
                current = words[index]
            place.append(current)
        start = end + 1
    return place


def _is_pair(items: Sequence[Item], index: int, words: dict[int, str]) -> bool:
    """``upper and lower``: both at once name no section."""
    for other in words:
        low, high = sorted((index, other))
        between = items[low + 1 : high]
        if (
            low != high
            and len(between) <= 3
            and all(one.kind in ("and", "filler", "mark") for one in between)
        ):
            return words[index] != words[other]
    return False


def _is_opposing(items: Sequence[Item], index: int) -> bool:
    """Whether the part of the sentence before or after an arch word speaks of the opposing arch."""
    for step in (-1, 1):
        at = index + step
        while 0 <= at < len(items) and items[at].kind not in PART:
            if _speaks_of_opposing(items[at]):
                return True
            if items[at].kind in ("teeth", "role", "colon") and step == 1:
                break
            at += step
    return False


def _speaks_of_opposing(item: Item) -> bool:
    if item.kind == "opposing" or item.path == "occlusion.opposing":
        return True
    return item.match is not None and any(one.kind == "opposing" for one in item.match.meanings)
