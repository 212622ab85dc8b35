"""A fact, and the scope in which a rule looks it up.

A fact is known, known only within bounds, or not recorded. The three are kept apart everywhere: nothing in
the package turns "not recorded" into zero, none or no.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from recommender.domain.measures import Interval

Value = bool | int | float | str | frozenset[str]


@dataclass(frozen=True, slots=True, init=False)
class Fact:
    """One fact of a case.

    ``value`` is the known value, or ``None``. For a number, ``low`` and ``high`` bound it (equal to the
    value when it is known; either may be ``None`` for no bound). For a word that is only partly known,
    ``possible`` holds the values that it may still have.

    ``fields`` are the paths of the *recorded* case fields from which the fact follows (``("missing",)`` for
    what follows from the dentition alone); ``gaps`` are the paths of unrecorded fields that would settle or
    narrow it. Paths read like ``abutments[14].undercuts_mm.distofacial``, ``spans[15].clearance_mm``
    (a space is named by its first tooth in arch order), ``patient.age``.
    """

    value: Value | None = None
    low: float | None = None
    high: float | None = None
    possible: frozenset[str] | None = None
    unit: str = ""
    fields: tuple[str, ...] = ()
    gaps: tuple[str, ...] = ()

    def __init__(
        self,
        value: Value | None = None,
        low: float | None = None,
        high: float | None = None,
        possible: frozenset[str] | None = None,
        unit: str = "",
        fields: tuple[str, ...] = (),
        gaps: tuple[str, ...] = (),
    ) -> None:
        # as a frozen class is filled, twice as fast: a fifth of all work on a library is making facts
        _value(self, value)
        _low(self, low)
        _high(self, high)
        _possible(self, possible)
        _unit(self, unit)
        _fields(self, fields)
        _gaps(self, gaps)

    @property
    def recorded(self) -> bool:
        """Whether the value is known exactly."""
        return self.value is not None

    @property
    def within_bounds(self) -> bool:
        """Whether a measure was recorded as an interval: both bounds are there, and no gap leaves them open."""
        if self.value is not None or self.low is None or self.high is None:
            return False
        return bool(self.fields) and set(self.gaps) <= set(self.fields)

    @property
    def bounded(self) -> bool:
        """Whether anything at all is known: the value, a bound, or a narrowed list."""
        return (
            self.value is not None
            or self.low is not None
            or self.high is not None
            or self.possible is not None
        )


def _filling(name: str) -> Callable[[Fact, object], None]:
    fill: Callable[[Fact, object], None] = vars(Fact)[name].__set__
    return fill


_value, _low, _high, _possible = _filling("value"), _filling("low"), _filling("high"), _filling("possible")
_unit, _fields, _gaps = _filling("unit"), _filling("fields"), _filling("gaps")

UNKNOWN = Fact()


def known(value: Value, *fields: str, unit: str = "") -> Fact:
    """A fact that is known exactly; numbers get their bounds too."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return Fact(value, float(value), float(value), None, unit, fields)
    return Fact(value, None, None, None, unit, fields)


def measured(raw: float | Interval | None, *fields: str, unit: str = "") -> Fact:
    """A measured number of the case: exact, within its bounds, or not recorded (``fields`` are its gaps then).

    A number known within bounds stays a question too: measuring it again would settle it.
    """
    if raw is None:
        return not_recorded(*fields, unit=unit)
    if isinstance(raw, Interval):
        if raw.low == raw.high:
            return known(raw.value, *fields, unit=unit)
        return between(raw.low, raw.high, unit=unit, fields=fields, gaps=fields)
    return known(float(raw), *fields, unit=unit)


def between(
    low: float | None,
    high: float | None,
    *,
    unit: str = "",
    fields: Sequence[str] = (),
    gaps: Sequence[str] = (),
) -> Fact:
    """A number known only within bounds; it becomes exact when the bounds meet."""
    value = low if low is not None and low == high else None
    return Fact(value, low, high, None, unit, tuple(fields), tuple(gaps))


def one_of(possible: Sequence[str], *, fields: Sequence[str] = (), gaps: Sequence[str] = ()) -> Fact:
    """A word known only to be one of several."""
    options = frozenset(possible)
    value = next(iter(options)) if len(options) == 1 else None
    return Fact(value, None, None, options, "", tuple(fields), tuple(gaps))


def not_recorded(*gaps: str, unit: str = "") -> Fact:
    """A fact of which nothing is known; ``gaps`` are the fields that would tell."""
    return Fact(None, None, None, None, unit, (), gaps)


@dataclass(frozen=True, slots=True)
class Scope:
    """Where a rule is evaluated: facts of the case, then of the tooth or space, then of the option.

    ``layers`` are searched from the last to the first. ``groups`` gives the member scopes over which
    ``any_abutment(...)``, ``count_spans(...)`` and the like run; its keys are ``abutment``, ``span`` and
    ``standing``.
    """

    layers: tuple[Mapping[str, Fact], ...]
    groups: Mapping[str, Sequence["Scope"]] = field(default_factory=dict)

    def fact(self, name: str) -> Fact:
        """The fact of that name, or a fact of which nothing is known."""
        for layer in reversed(self.layers):
            found = layer.get(name)
            if found is not None:
                return found
        return UNKNOWN

    def extended(self, layer: Mapping[str, Fact]) -> "Scope":
        """This scope with one more layer on top."""
        return Scope((*self.layers, layer), self.groups)
