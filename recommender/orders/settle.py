"""Which numbering an order uses: found from the whole text, or left as a question.

Every number is tried in both systems with what stands beside it (arch, quadrant, side, name of the tooth). A number
that only one system can mean decides for it. Where both systems read the whole order, lists that would cross from one
arch to the other, or put a cingulum rest on a back tooth, speak against a system; then a system that the order names,
and last the language: orders in German, French and Spanish count in ISO 3950, English ones in either.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from recommender.domain.dentition import arch_of, position, quadrant
from recommender.orders.links import Statement
from recommender.orders.refs import LAST_POSITION, NotATooth, Ref, Teeth, teeth_of

SYSTEMS = ("iso", "universal")
BOTH = "both"
_ISO_LANGUAGES = ("de", "fr", "es")
# Of these, languages that are also written where teeth are counted from 1 to 32.
_EITHER_LANGUAGES = ("es",)
_FRONT_RESTS = ("cingulum", "incisal")
_FRONT = 3


@dataclass(frozen=True, slots=True)
class Settled:
    """``system``: ``iso``, ``universal`` or ``ambiguous``; ``because`` in words; whether it is sure."""

    system: str
    because: str
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Meant:
    """What one mention means: teeth under the system, or why not. ``both``: its readings where the system is open."""

    ref: Ref
    teeth: tuple[int, ...] = ()
    why: str = ""
    both: tuple[tuple[int, ...], tuple[int, ...]] | None = None


def depends(ref: Ref) -> bool:
    """Whether the teeth of a mention depend on the numbering."""
    parts = [ref, *([ref.upto] if ref.upto else [])]
    return any(part.number is not None and not part.dotted and not part.compact for part in parts)


def settle(
    lists: Sequence[tuple[Teeth, str | None]],
    statements: Sequence[Statement],
    languages: Sequence[str],
    named: str | None,
    arches: Sequence[str],
) -> Settled:
    """The numbering of an order. ``named``: the system that the order or the user names, or ``BOTH``."""
    anywhere = [(teeth, None) for teeth, _ in lists]
    if (
        any(arch for _, arch in lists)
        and _all_iso(lists)
        and (languages[0] in _ISO_LANGUAGES or _one_arch_in_iso_alone(anywhere))
    ):
        # teeth that do not lie in the arch that is named: the arch is in question, not the numbering
        lists = anywhere
    only: dict[str, int] = dict.fromkeys(SYSTEMS, 0)
    neither = 0
    if named is None and _from_midline(lists):
        return Settled("iso", "digits of a side count from the midline")
    for teeth, arch in lists:
        readings = {system: _read(teeth, arch, system) for system in SYSTEMS}
        for index, ref in enumerate(teeth.refs):
            if not depends(ref):
                continue
            fits = {system: isinstance(readings[system][index], tuple) for system in SYSTEMS}
            if fits["iso"] != fits["universal"]:
                only["iso" if fits["iso"] else "universal"] += 1
            elif not fits["iso"]:
                neither += 1
    if neither and not any(only.values()) and any(arch for _, arch in lists):
        return settle([(teeth, None) for teeth, _ in lists], statements, languages, named, arches)
    if not any(depends(ref) for teeth, _ in lists for ref in teeth.refs):
        return Settled(named if named in SYSTEMS else "iso", "no number depends on it")
    if named is None and languages[0] not in ("en", *_EITHER_LANGUAGES) and _only_places(lists):
        return Settled("iso", "digits alone count from the midline")
    if languages[0] in _ISO_LANGUAGES and named is None and only["iso"] > only["universal"]:
        return Settled("iso", "orders in this language count in ISO 3950")
    if only["iso"] and only["universal"]:
        return Settled("ambiguous", "some numbers exist in one system only, some in the other")
    for system, other in (SYSTEMS, SYSTEMS[::-1]):
        if only[system]:
            if named == other:
                return Settled("ambiguous", "the numbers contradict the numbering that is named")
            return Settled(system, "some numbers of the order exist in no other")
    if named == BOTH:
        return Settled("ambiguous", "two numberings are named")
    if named:
        return Settled(named, "the numbering is named")
    against = {system: _against(lists, statements, system, arches) for system in SYSTEMS}
    if not neither and (against["iso"] == 0) != (against["universal"] == 0):
        system = "iso" if against["iso"] == 0 else "universal"
        return Settled(system, "the other system would not make one sound order of it")
    if languages[0] in _ISO_LANGUAGES:
        sure = languages[0] not in _EITHER_LANGUAGES or bool(neither)
        return Settled("iso", "orders in this language count in ISO 3950", sure)
    return Settled("ambiguous", "every number can be read in either system")


def _only_places(lists: Sequence[tuple[Teeth, str | None]]) -> bool:
    """Whether no number goes beyond the last place of a quadrant."""
    numbers = [ref.number or 0 for teeth, _ in lists for ref in teeth.refs if depends(ref)]
    return all(number <= LAST_POSITION for number in numbers)


def _all_iso(lists: Sequence[tuple[Teeth, str | None]]) -> bool:
    """Whether every number of an order is a tooth of ISO 3950, whatever arch the order names."""
    return all(isinstance(one, tuple) for teeth, _ in lists for one in _read(teeth, None, "iso"))


def _one_arch_in_iso_alone(lists: Sequence[tuple[Teeth, str | None]]) -> bool:
    """Whether all teeth lie in one arch in ISO 3950, and a list in two in the universal system ("12, 11 and 21")."""
    arches = {
        system: [set(map(arch_of, _certain(teeth, None, system))) for teeth, _ in lists] for system in SYSTEMS
    }
    return len(set[str]().union(*arches["iso"])) == 1 and any(len(here) > 1 for here in arches["universal"])


def _from_midline(lists: Sequence[tuple[Teeth, str | None]]) -> bool:
    """Whether all numbers are digits on a side of no named arch, and not all of them universal ("left 5, 6")."""
    refs = [(ref, arch) for teeth, arch in lists for ref in teeth.refs if depends(ref)]
    digits = all(
        (ref.number or LAST_POSITION + 1) <= LAST_POSITION
        and ref.side in ("right", "left", "both")
        and not (ref.quadrant or ref.arch or arch or ref.hashed)
        for ref, arch in refs
    )
    return (
        bool(refs)
        and digits
        and any(isinstance(one, str) for teeth, arch in lists for one in _read(teeth, arch, "universal"))
    )


def _against(
    lists: Sequence[tuple[Teeth, str | None]],
    statements: Sequence[Statement],
    system: str,
    arches: Sequence[str],
) -> int:
    """What speaks against a system: lists across arches, two arches where none is named, front rests on back teeth."""
    faults = 0
    seen: set[str] = set()
    for teeth, arch in lists:
        here = set(map(arch_of, _certain(teeth, arch, system)))
        seen |= here
        faults += len(here) > 1
    faults += len(seen) > 1 and len(arches) < 2
    faults += _crosses_midline(lists, statements, system)
    for statement in statements:
        if statement.item.value in _FRONT_RESTS and statement.item.kind in ("rest", "site"):
            for teeth in statement.teeth:
                for read in _read(teeth, None, system):
                    faults += isinstance(read, tuple) and any(position(tooth) > _FRONT for tooth in read)
    return faults


def _crosses_midline(
    lists: Sequence[tuple[Teeth, str | None]], statements: Sequence[Statement], system: str
) -> bool:
    """Whether a denture of one side would lie on both sides in a system."""
    if not any(one.item.value == "unilateral" and not one.denied for one in statements):
        return False
    sides = {quadrant(tooth) in (1, 4) for teeth, arch in lists for tooth in _certain(teeth, arch, system)}
    return len(sides) > 1


def _certain(teeth: Teeth, arch: str | None, system: str) -> Iterator[int]:
    """The teeth of a list, without mentions that have none."""
    return (tooth for read in _read(teeth, arch, system) if isinstance(read, tuple) for tooth in read)


def _read(teeth: Teeth, arch: str | None, system: str) -> list[tuple[int, ...] | str]:
    """For each mention of a list its teeth, or in words why it has none."""
    found: list[tuple[int, ...] | str] = []
    before: int | None = None
    for ref in teeth.refs:
        try:
            read = teeth_of(ref.within(arch), system, before)
            before = read[-1]
            found.append(read)
        except NotATooth as error:
            found.append(str(error))
    return found


def meant(teeth: Teeth, arch: str | None, settled: Settled) -> list[Meant]:
    """What each mention of a list means. With the numbering open, only what does not depend on it means anything."""
    if settled.system != "ambiguous":
        return [
            Meant(ref, read) if isinstance(read, tuple) else Meant(ref, why=read)
            for ref, read in zip(teeth.refs, _read(teeth, arch, settled.system), strict=True)
        ]
    made: list[Meant] = []
    pairs = zip(_read(teeth, arch, "iso"), _read(teeth, arch, "universal"), strict=True)
    for ref, (iso, universal) in zip(teeth.refs, pairs, strict=True):
        if isinstance(iso, tuple) and isinstance(universal, tuple):
            made.append(Meant(ref, iso) if iso == universal else Meant(ref, both=(iso, universal)))
        elif isinstance(iso, tuple) or isinstance(universal, tuple):
            system = "ISO 3950" if isinstance(iso, tuple) else "the universal system"
            made.append(
                Meant(
                    ref, why=f"this number exists in {system} only, others of the order in the other one only"
                )
            )
        else:
            made.append(Meant(ref, why=iso))
    return made
