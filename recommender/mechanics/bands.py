"""A figure with its uncertainty: low, typical, high, and arithmetic that never narrows it.

The published spread of most figures here is wide, so no result of this room is a bare number. The
arithmetic is that of intervals (Moore 1966, *Interval Analysis*): each bound of a result is the least or
greatest value that the operands' bounds allow; ``typical`` is carried through the plain operation.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Band:
    """Low, typical and high of one quantity, in the unit that the name of its holder tells.

    Raises ``ValueError`` unless ``low <= typical <= high``.
    """

    low: float
    typical: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.typical <= self.high:
            raise ValueError(f"a band must rise: low {self.low}, typical {self.typical}, high {self.high}")

    @property
    def width(self) -> float:
        """High less low."""
        return self.high - self.low

    @property
    def exact(self) -> bool:
        """Whether the band has no width."""
        return self.low == self.high

    def contains(self, other: "Band | float") -> bool:
        """Whether the other band, or number, lies wholly within this one."""
        if isinstance(other, Band):
            return self.low <= other.low and other.high <= self.high
        return self.low <= other <= self.high

    def overlaps(self, other: "Band") -> bool:
        """Whether the two bands share any value."""
        return self.low <= other.high and other.low <= self.high

    def hull(self, *others: "Band") -> "Band":
        """The narrowest band that holds this one and all the others; ``typical`` stays this one's."""
        every = (self, *others)
        return Band(min(band.low for band in every), self.typical, max(band.high for band in every))

    def clamp(self, least: float, most: float) -> "Band":
        """Every bound moved into ``[least, most]``."""
        low, typical, high = (min(max(value, least), most) for value in (self.low, self.typical, self.high))
        return Band(low, typical, high)

    def __neg__(self) -> "Band":
        return Band(-self.high, -self.typical, -self.low)

    def __add__(self, other: "Band | float") -> "Band":
        right = as_band(other)
        return Band(self.low + right.low, self.typical + right.typical, self.high + right.high)

    __radd__ = __add__

    def __sub__(self, other: "Band | float") -> "Band":
        return self + -as_band(other)

    def __rsub__(self, other: float) -> "Band":
        return -self + other

    def __mul__(self, other: "Band | float") -> "Band":
        right = as_band(other)
        corners = [left * factor for left in (self.low, self.high) for factor in (right.low, right.high)]
        return _around(self.typical * right.typical, corners)

    __rmul__ = __mul__

    def __truediv__(self, other: "Band | float") -> "Band":
        """Quotient; ``ZeroDivisionError`` if the divisor's band touches zero."""
        right = as_band(other)
        if right.low <= 0 <= right.high:
            raise ZeroDivisionError("the band of the divisor holds zero")
        corners = [left / divisor for left in (self.low, self.high) for divisor in (right.low, right.high)]
        return _around(self.typical / right.typical, corners)

    def __rtruediv__(self, other: float) -> "Band":
        return as_band(other) / self

    def power(self, exponent: float) -> "Band":
        """Every bound raised to a power; the band must be positive."""
        if self.low < 0:
            raise ValueError("only a band of numbers that are not negative can be raised to a power here")
        return _around(self.typical**exponent, [self.low**exponent, self.high**exponent])


def _around(typical: float, corners: Iterable[float]) -> Band:
    values = [typical, *corners]
    return Band(min(values), typical, max(values))


def as_band(value: Band | float) -> Band:
    """A number as a band without width; a band as it is."""
    return value if isinstance(value, Band) else Band(value, value, value)


def exact(value: float) -> Band:
    """A band without width."""
    return Band(value, value, value)


def spread(values: Iterable[float], typical: float | None = None) -> Band:
    """The band that holds all the values; ``typical`` is their mean unless it is given.

    Raises ``ValueError`` when there are no values.
    """
    known = list(values)
    if not known:
        raise ValueError("a band needs at least one value")
    middle = sum(known) / len(known) if typical is None else typical
    return Band(min(known), min(max(middle, min(known)), max(known)), max(known))


def independent(typical: float, ratios: Iterable[Band]) -> Band:
    """A product of independent uncertain factors: their spreads add in quadrature of logarithms.

    ``typical`` (zero or more) is the product at the typical values; each ratio is that factor's low and high
    over its typical value. Corner-to-corner products would take every factor at its worst at once; for
    independent factors the root of the sum of squares is the usual rule (ISO/IEC Guide 98-3, 5.1). A factor
    with a wider ratio never gives a narrower result.
    """
    below = above = 0.0
    for ratio in ratios:
        below += math.log(ratio.low / ratio.typical) ** 2
        above += math.log(ratio.high / ratio.typical) ** 2
    return Band(typical * math.exp(-math.sqrt(below)), typical, typical * math.exp(math.sqrt(above)))
