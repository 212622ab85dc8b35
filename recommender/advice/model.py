"""The shape of an answer: what the command line prints and what screens and documents arrange.

The JSON form of these values is the project's result format, version 1 (``shared/schema/``).
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol, overload

from recommender.advice.confidence.values import BeforeMetal, Standing
from recommender.domain.case import Case
from recommender.domain.decision import Decision as Decision
from recommender.domain.designs import Design
from recommender.domain.kennedy import Classification
from recommender.domain.statement import Statement, Work
from recommender.facts.values import Value

Status = Literal["open", "needs_preparation", "advised_against", "excluded"]
STATUS_ORDER: tuple[Status, ...] = ("open", "needs_preparation", "advised_against", "excluded")
USABLE: tuple[Status, ...] = ("open", "needs_preparation")


# Points: less than this is said as 0.0.
WORTH_SAYING = 0.05


class _Scored(Protocol):
    @property
    def criterion(self) -> str | None: ...
    @property
    def points(self) -> float: ...


def points_by_criterion(weighed: Iterable[tuple[float, Iterable[_Scored]]]) -> dict[str, float]:
    """Points of weighed lines by criterion (``precedents`` for what those add)."""
    found: dict[str, float] = {}
    for share, lines in weighed:
        for line in lines:
            name = line.criterion or "precedents"
            found[name] = found.get(name, 0.0) + share * line.points
    return found


@dataclass(frozen=True, slots=True)
class PreparationStep:
    """Work on a tooth by the dentist. ``routine`` work is what any such design needs; it never changes a status."""

    tooth: int
    surface: str
    action: str
    routine: bool = False
    permitted: bool | None = None
    unlocks: tuple[str, ...] = ()

    @property
    def work(self) -> Work:
        """As an argument of a statement."""
        return Work(self.tooth, self.surface, self.action)


@dataclass(frozen=True, slots=True)
class Cited:
    """A recorded field behind a line, and the option's score after deleting that field and running again.

    ``without_this`` is ``None`` until it has been worked out (``advice.explanation.ablation``).
    """

    value: object
    without_this: float | None = None


@dataclass(frozen=True, slots=True)
class Contribution:
    """One line of a score, on the final 0-100 scale. Kinds: ``start rule cap house precedent neutral``.

    ``because`` holds the recorded fields behind a rule, by path; ``given`` what follows from the dentition alone.
    ``same`` marks a precedent that chose this very option, not a related one.
    """

    kind: str
    id: str
    points: float
    statement: Statement
    criterion: str | None = None
    source: str | None = None
    similarity: float | None = None
    because: Mapping[str, Cited] = field(default_factory=dict)
    given: Mapping[str, Value | None] = field(default_factory=dict)
    same: bool = False


class Lines(Sequence[Contribution]):
    """The lines of a score, worked out when somebody reads them: most options are ranked and never looked into."""

    __slots__ = ("_held", "_make")

    def __init__(self, make: Callable[[], tuple[Contribution, ...]]) -> None:
        self._make: Callable[[], tuple[Contribution, ...]] | None = make
        self._held: tuple[Contribution, ...] = ()

    def _all(self) -> tuple[Contribution, ...]:
        make = self._make
        if make is not None:
            self._held = make()
            self._make = None
        return self._held

    @overload
    def __getitem__(self, at: int) -> Contribution: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[Contribution, ...]: ...
    def __getitem__(self, at: int | slice) -> Contribution | tuple[Contribution, ...]:
        return self._all()[at]

    def __len__(self) -> int:
        return len(self._all())

    def __iter__(self) -> Iterator[Contribution]:
        return iter(self._all())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and self._all() == tuple(other)

    def __hash__(self) -> int:
        return hash(self._all())

    def __repr__(self) -> str:
        return repr(self._all())

    def __reduce__(self) -> tuple[type[tuple[Contribution, ...]], tuple[tuple[Contribution, ...]]]:
        return tuple, (self._all(),)


class Outer:
    """The outer bound of a score over all that was not recorded; worked out when somebody asks for it."""

    __slots__ = ("_held", "_make")

    def __init__(self, make: Callable[[], tuple[float, float]]) -> None:
        self._make: Callable[[], tuple[float, float]] | None = make
        self._held = (0.0, 0.0)

    def both(self) -> tuple[float, float]:
        """The lowest and the highest score."""
        make = self._make
        if make is not None:
            self._held = make()
            self._make = None
        return self._held

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Outer) and self.both() == other.both()

    def __hash__(self) -> int:
        return hash(self.both())

    def __repr__(self) -> str:
        return repr(self.both())

    def __reduce__(self) -> "tuple[Callable[[tuple[float, float]], Outer], tuple[tuple[float, float]]]":
        return _known_outer, (self.both(),)


def _known_outer(both: tuple[float, float]) -> Outer:
    return Outer(lambda: both)


@dataclass(frozen=True, slots=True)
class BlockedBy:
    """A block that holds, with the preparation that would remove it."""

    id: str
    kind: Literal["impossible", "safety", "advised_against"]
    statement: Statement
    source: str
    unlocked_by: tuple[PreparationStep, ...] = ()


@dataclass(frozen=True, slots=True)
class OptionResult:
    """One option at one decision: whether it is open, its score, and why."""

    option: str
    status: Status
    score: float
    outer: Outer
    rank: int
    approach: str | None
    provisional: bool
    unverified: tuple[str, ...]
    rules_score: float
    precedents_score: float
    precedent_weight: float
    contributions: Sequence[Contribution]
    blocked_by: tuple[BlockedBy, ...]
    unlocked_by: tuple[PreparationStep, ...]
    preparation: tuple[PreparationStep, ...] = ()
    facts: Mapping[str, object] = field(default_factory=dict)
    steps: tuple[Statement, ...] = ()
    cautions: tuple[Statement, ...] = ()

    @property
    def low(self) -> float:
        """The score at worst, whatever was not recorded."""
        return self.outer.both()[0]

    @property
    def high(self) -> float:
        """The score at best."""
        return self.outer.both()[1]


@dataclass(frozen=True, slots=True)
class DecisionResult:
    """Every option that the vocabulary knows for one decision, ranked."""

    decision: Decision
    precedent_weight: float
    ranked: tuple[OptionResult, ...]
    given: str | None = None

    def option(self, identifier: str) -> OptionResult:
        """The result of one option; ``KeyError`` if the decision does not know it."""
        for result in self.ranked:
            if result.option == identifier:
                return result
        raise KeyError(identifier)


@dataclass(frozen=True, slots=True)
class Seat:
    """A usable seat for an indirect retainer, with its lever arm to the fulcrum line in mm."""

    tooth: int
    rest: str
    lever_mm: float
    score: float
    reasons: tuple[Statement, ...] = ()
    provisional: bool = False


@dataclass(frozen=True, slots=True)
class Gap:
    """A field that was not recorded, and the decisions that it would change.

    ``could_lead`` are those among them where it could bring another option to the front by itself. ``asked``: it
    was asked in vain and is not to be asked again.
    """

    field: str
    would_change: tuple[str, ...]
    could_lead: tuple[str, ...] = ()
    asked: bool = False


Outcome = Literal["passed", "passed_with_preparation", "not_checked", "failed"]


@dataclass(frozen=True, slots=True)
class Check:
    """A rule between parts: ``passed``, ``passed_with_preparation``, ``not_checked`` or ``failed``, and why."""

    id: str
    outcome: Outcome
    statement: Statement
    source: str


@dataclass(frozen=True, slots=True)
class Departure:
    """A part of a framework that is not its decision's leading option, and the reason that is worth it.

    ``decision`` as on the command line (``retainer:14``, ``connector``); ``retainers`` for fewer than the class
    wants.
    """

    decision: str
    instead_of: str
    statement: Statement


@dataclass(frozen=True, slots=True)
class Framework:
    """A whole framework: its parts, how it scores, and what it depends on.

    ``departures`` are the parts that are not what leads at their decision, ``drawn_in`` says why teeth hold
    that the case does not name. ``standing`` and ``unverified`` (what could change or forbid it) are there once it
    has been worked out how sure it is.
    """

    score: float
    connector: str
    retainers: Mapping[int, str]
    replacements: Mapping[int, str]
    rests: Mapping[int, str]
    indirect_retainers: tuple[Seat, ...]
    preparation: tuple[PreparationStep, ...]
    checks: tuple[Check, ...]
    design: Design
    provisional: bool
    metal_on_show: float | None = None
    cautions: tuple[Statement, ...] = ()
    gives_up: tuple[Statement, ...] = ()
    terms: Mapping[str, float] = field(default_factory=dict)
    steps: tuple[Statement, ...] = ()
    departures: tuple[Departure, ...] = ()
    drawn_in: tuple[Statement, ...] = ()
    standing: Standing | None = None
    unverified: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NoFramework:
    """Why no whole framework can be made for a case, and the nearest ways out of it."""

    reasons: tuple[Statement, ...]
    ways_out: tuple[Statement, ...]


@dataclass(frozen=True, slots=True)
class Recommendation:
    """The whole answer for one case."""

    case: Case
    kennedy: Classification
    provisional: bool
    facts: Mapping[str, Mapping[str, object]]
    connector: DecisionResult
    retainers: Mapping[int, DecisionResult]
    replacements: Mapping[int, DecisionResult]
    rests: Mapping[int, DecisionResult]
    indirect_retainers: tuple[Seat, ...]
    frameworks: tuple[Framework, ...]
    preparation: tuple[PreparationStep, ...]
    cautions: tuple[Statement, ...]
    not_recorded: tuple[Gap, ...]
    no_framework: NoFramework | None = None
    before_metal: tuple[BeforeMetal, ...] = ()
