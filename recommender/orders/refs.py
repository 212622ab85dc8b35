"""Mentions of teeth: numbers of either system, quadrant marks, names, ranges; what each can mean under a numbering."""

from dataclasses import dataclass, field, replace

from recommender.domain.dentition import ARCH_ORDER, arch_of, is_tooth, position, quadrant
from recommender.domain.numbering import to_iso

_QUADRANT = {
    ("maxilla", "right"): 1,
    ("maxilla", "left"): 2,
    ("mandible", "left"): 3,
    ("mandible", "right"): 4,
}
_SIDES = {1: ("maxilla", "right"), 2: ("maxilla", "left"), 3: ("mandible", "left"), 4: ("mandible", "right")}
QUADRANTS_OF = {"right": (1, 4), "left": (2, 3)}
LAST_POSITION = 8
LAST_UNIVERSAL = 32


UNSIDED = "right or left?"


class NotATooth(ValueError):  # noqa: N818 - says what was found, as a message
    """What a mention cannot be, in words."""


@dataclass(frozen=True, slots=True)
class Ref:
    """One mention of a tooth, or of a few by name. Tokens ``start`` to ``end``; ``upto`` ends a range."""

    start: int
    end: int
    number: int | None = None
    digits: tuple[int, ...] = ()
    names: tuple[int, ...] = ()
    quadrant: int | None = None
    compact: bool = False
    side: str | None = None
    arch: str | None = None
    dotted: bool = False
    hashed: bool = False
    many: bool = False
    third: bool = False
    short: bool = False
    after: bool = False
    upto: "Ref | None" = None
    inner: bool = False  # of a range only what lies between its ends
    unsided: tuple[int, ...] = ()  # the positions that a name means where no side is named
    guessed: bool = False  # a name that may be one tooth or one on each side
    way: str = ""
    way_too: str = ""  # the way of the mention before, where this one lies on the other side
    mirrored: bool = False  # the same teeth on the other side
    relative: str = ""  # a place among the spaces (beside, last, all), settled when these are known

    @property
    def by_name(self) -> bool:
        return bool(self.names) and self.number is None and not (self.relative and self.relative != "around")

    @property
    def is_digit(self) -> bool:
        """Whether a mention is a bare digit, a place that is counted from the midline."""
        bare = not (self.quadrant or self.side or self.hashed or self.digits or self.names or self.upto)
        return bare and self.number is not None and self.number <= LAST_POSITION

    @property
    def is_pair(self) -> bool:
        """Whether a name in the plural means one tooth on each side ("the first molars and the left canine")."""
        return self.many and not self.guessed and self.number is None and len(self.unsided or self.names) == 1

    def within(self, arch: str | None) -> "Ref":
        """The mention with what its quadrant or the section of the order says about arch and side."""
        found_arch, side = _SIDES[self.quadrant] if self.quadrant else (self.arch or arch, self.side)
        whole = self.quadrant or _QUADRANT.get((found_arch or "", side or ""))
        upto = self.upto
        if upto is not None:
            upto = replace(
                upto, arch=upto.arch or found_arch, side=upto.side or (None if upto.quadrant else side)
            )
            upto = upto.within(arch)
        return replace(self, arch=found_arch, side=side, quadrant=whole, upto=upto)


@dataclass
class Teeth:
    """Mentions that one list joins."""

    refs: list[Ref] = field(default_factory=list)
    joints: list[frozenset[str]] = field(default_factory=list)
    alternative: bool = False
    minus: "Teeth | None" = None
    doubtful: bool = False
    upto: bool = False

    @property
    def relative(self) -> bool:
        """Whether a mention names a place among the spaces and no tooth."""
        return any(ref.relative for ref in self.refs) or (self.minus is not None and self.minus.relative)

    @property
    def start(self) -> int:
        return self.refs[0].start

    @property
    def end(self) -> int:
        return self.refs[-1].end


_MIRROR = {1: 2, 2: 1, 3: 4, 4: 3}


def _mirror(teeth: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(10 * _MIRROR[quadrant(tooth)] + position(tooth) for tooth in teeth)


def teeth_of(ref: Ref, system: str, before: int | None = None) -> tuple[int, ...]:
    """The ISO teeth that a mention means under a numbering; ``NotATooth`` says why it means none.

    ``before`` is the tooth mentioned before it in the same list, for short forms (``14, 5, 6``).
    """
    if ref.mirrored:
        same = None if before is None else _mirror((before,))[0]
        return _mirror(teeth_of(replace(ref, mirrored=False), system, same))
    if ref.upto is not None and ref.side == "both" and not (ref.quadrant or _is_whole(ref)):
        halves = [replace(ref, side=side, upto=replace(ref.upto, side=side)) for side in ("right", "left")]
        spans = [teeth_of(half.within(ref.arch), system, before) for half in halves]
        return tuple(tooth for span in spans for tooth in span)
    first = _one(ref, system, before)
    if ref.way_too and before is not None and quadrant(first[0]) != quadrant(before):
        return tuple(tooth for one in first for tooth in _onward(one, inclusive=ref.way_too == "onward"))
    if ref.upto is not None:
        last = _one(_in_quadrant_of(ref.upto, first[-1]), system, first[-1])
        span = _span(first[0], last[-1])
        if ref.inner and len(span) < 3:
            raise NotATooth("no tooth lies between them")
        return span[1:-1] if ref.inner else span
    if ref.way:
        return tuple(tooth for one in first for tooth in _onward(one, inclusive=ref.way == "onward"))
    return first


def _in_quadrant_of(end: Ref, tooth: int) -> Ref:
    """The end of a range that is one tooth by name and on no side ("from 45 to the wisdom tooth")."""
    one = end.by_name and len(end.names) == 1 and not (end.quadrant or end.side)
    return replace(end, quadrant=quadrant(tooth)) if one else end


def _is_whole(ref: Ref) -> bool:
    """Whether a mention is a number that holds its quadrant."""
    return (ref.number or 0) > LAST_POSITION


def _one(ref: Ref, system: str, before: int | None) -> tuple[int, ...]:
    if ref.digits:
        if not ref.quadrant:
            raise NotATooth("upper or lower?")
        return tuple(10 * ref.quadrant + digit for digit in ref.digits)
    if ref.relative and ref.number is None:
        raise NotATooth("which teeth?")
    if ref.by_name:
        alone = ref.names == (LAST_POSITION,) and not (ref.many or ref.side or ref.quadrant)
        # "all from 35 with the wisdom tooth"
        return _named(replace(ref, quadrant=quadrant(before)) if alone and before is not None else ref)
    assert ref.number is not None
    if ref.side == "both" and not ref.quadrant and ref.number <= LAST_POSITION:
        return _both(ref, system)
    tooth = _iso(ref, before) if system == "iso" or ref.dotted or ref.compact else _universal(ref)
    _agrees(tooth, ref)
    return (tooth,)


def _both(ref: Ref, system: str) -> tuple[int, ...]:
    """``4 both sides``: a digit in both quadrants of the arch; only quadrant marks say it so."""
    if ref.arch is None:
        raise NotATooth("upper or lower?")
    if system != "iso":
        raise NotATooth(f"{ref.number} on both sides")
    return _in_order([10 * _QUADRANT[ref.arch, side] + (ref.number or 0) for side in ("right", "left")])


def _iso(ref: Ref, before: int | None) -> int:
    number = ref.number or 0
    if number <= LAST_POSITION and ref.quadrant:
        return 10 * ref.quadrant + number
    if ref.short and before is not None and 1 <= number <= LAST_POSITION:
        if number <= position(before):
            raise NotATooth(f"{number} is no tooth number of its own")
        return 10 * quadrant(before) + number
    if number <= LAST_POSITION and ref.side in ("right", "left"):
        raise NotATooth("upper or lower?")
    if not is_tooth(number):
        raise NotATooth(f"{number} is no tooth of ISO 3950")
    return number


def _universal(ref: Ref) -> int:
    number = ref.number or 0
    if not 1 <= number <= LAST_UNIVERSAL:
        raise NotATooth(f"{number} is no universal tooth number")
    return to_iso(number)


def _agrees(tooth: int, ref: Ref) -> None:
    """What stands beside a number must fit it; ``NotATooth`` where it does not."""
    if ref.quadrant and quadrant(tooth) != ref.quadrant:
        raise NotATooth(f"{ref.number} does not lie in the quadrant that is named")
    if ref.arch and arch_of(tooth) != ref.arch:
        raise NotATooth(
            f"{ref.number} does not lie in the {'upper' if ref.arch == 'maxilla' else 'lower'} arch"
        )
    if ref.side in ("right", "left") and (quadrant(tooth) in (1, 4)) != (ref.side == "right"):
        raise NotATooth(f"{ref.number} does not lie on the {ref.side}")
    if ref.names and position(tooth) not in ref.names:
        raise NotATooth(f"{ref.number} is not the tooth that is named")


def _named(ref: Ref) -> tuple[int, ...]:
    if ref.quadrant:
        return _in_order([10 * ref.quadrant + number for number in ref.names])
    if ref.arch is None:
        raise NotATooth("upper or lower?")
    names = ref.unsided if ref.unsided and ref.side is None else ref.names
    if ref.side in (None, "both"):
        if ref.side is None and not ref.many:
            raise NotATooth(UNSIDED)
        sides: tuple[str, ...] = ("right", "left")
    else:
        sides = (ref.side,)
    return _in_order([10 * _QUADRANT[ref.arch, side] + number for side in sides for number in names])


def _in_order(teeth: list[int]) -> tuple[int, ...]:
    order = ARCH_ORDER[arch_of(teeth[0])]
    return tuple(sorted(teeth, key=order.index))


def _span(first: int, last: int) -> tuple[int, ...]:
    if arch_of(first) != arch_of(last):
        raise NotATooth("a range from one arch to the other")
    order = ARCH_ORDER[arch_of(first)]
    low, high = sorted((order.index(first), order.index(last)))
    return order[low : high + 1]


def _onward(tooth: int, inclusive: bool) -> tuple[int, ...]:
    """The teeth behind one, up to the second molar: whether a third molar is meant is a question of its own."""
    low = position(tooth) + (0 if inclusive else 1)
    teeth = tuple(10 * quadrant(tooth) + number for number in range(low, 8))
    if not teeth:
        raise NotATooth("nothing but a third molar behind it")
    return teeth


def is_group(teeth: Teeth) -> bool:
    """Whether teeth are named by what they are, several at once, on no side ("the molars")."""
    return any(
        ref.by_name and len(ref.names) > 1 and not (ref.upto or ref.quadrant or ref.side in ("right", "left"))
        for ref in teeth.refs
    )
