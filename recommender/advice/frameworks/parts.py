"""What a whole framework is made of, as plain values: teeth, the ways of making a retainer on each, and the
rest of the stock.

Everything that the solver, the rules between parts and the written design need is here. ``candidates`` fills it
in once from an analysed case; nothing in this folder goes back to the analysis.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from recommender.advice.frameworks.building import Build, Unbuildable
from recommender.advice.frameworks.tooth_site import ToothSite
from recommender.advice.model import USABLE, OptionResult, Seat
from recommender.domain.dentition import position
from recommender.domain.kennedy import Space
from recommender.domain.options import Option
from recommender.domain.statement import Statement
from recommender.facts.values import Scope
from recommender.knowledge.figures.frameworks import FrameworkFigures
from recommender.knowledge.model import Rule

SIDES = ("right", "left")


@dataclass(frozen=True, slots=True)
class Part:
    """One way of making one retainer on one tooth.

    ``build`` says where its rest, tip and uprights lie. ``value`` is its score beside the tooth's leading
    option, less the price of preparation that it waits for. ``force_n`` is the computed band, ``None`` where
    none was computed. ``crosses`` are the sides over whose embrasure its metal passes, ``partner`` is the other
    tooth of an embrasure clasp, ``grips`` the tooth on which its tip lies. ``further`` marks a tooth that the
    case does not consider. ``retentive``: it holds the denture in; ``clasps``: by a tooth, and not by a root or
    an implant under the base; ``rested``: it bears, on a rest, a root or an implant.
    """

    tooth: int
    option: Option
    result: OptionResult
    build: Build
    value: float
    waits: bool
    beside_extension: bool
    force_n: tuple[float, float] | None
    crosses: tuple[str, ...]
    partner: int | None
    further: bool
    grips: int
    kind: str
    shown: float | None
    work: int
    retentive: bool = field(init=False)
    clasps: bool = field(init=False)
    rested: bool = field(init=False)

    def __post_init__(self) -> None:
        words = self.option.parts
        holds = any(word.startswith("retentive") for word in words)
        root = "on_root_or_implant" in words
        for name, value in (
            ("retentive", holds),
            ("clasps", holds and not root),
            ("rested", "rest" in words or root),
        ):
            object.__setattr__(self, name, value)

    @property
    def key(self) -> tuple[int, str, str, int]:
        """What tells it from every other part: tooth, assembly, approach, and the partner (0 for none)."""
        return self.tooth, self.option.id, self.result.approach or "", self.partner or 0

    @property
    def releasing(self) -> bool:
        """Whether it lets go or bends beside an extension, or does not hold at all.

        A flexing arm lets go whose tip stays where it is or goes down with the base: it lies on the axis or behind
        it. A stub in the face toward the space is locked there and does not.
        """
        if not self.clasps or "stress_releasing" in self.option.families:
            return True
        if "flexing_arm" not in self.option.families or "retentive_proximal" in self.option.parts:
            return False
        travel = self.result.facts.get("arm.tip_travel_mm")
        most = travel[-1] if isinstance(travel, list) else travel
        return isinstance(most, (int, float)) and most <= 0

    @property
    def advised_against(self) -> bool:
        """Whether accepted practice speaks against it."""
        return self.result.status not in USABLE

    @property
    def rotated_end(self) -> str | None:
        """``front`` or ``rear`` for a rigid retainer that is rotated in first, by the end at which it stands."""
        if not {"retentive_proximal", "rigid"} <= set(self.option.parts):
            return None
        return "front" if position(self.tooth) <= 3 or self.result.approach == "distal" else "rear"


def told_apart(parts: Iterable[Part]) -> tuple[Part, ...]:
    """Of parts of one tooth and kind between which no rule could choose, the best; the order is kept."""
    best: dict[object, Part] = {}
    for part in parts:
        alike = (
            part.kind, part.option.id if part.partner else "", part.partner, part.grips, part.retentive, part.rested,
            part.releasing, part.advised_against, part.rotated_end, part.crosses, part.force_n is None,
        )  # fmt: skip
        held = best.get(alike)
        if held is None or part.value > held.value:
            best[alike] = part
    kept = {part.key for part in best.values()}
    return tuple(part for part in parts if part.key in kept)


@dataclass(frozen=True, slots=True)
class Stock:
    """All that one framework of a case can be made of.

    ``leads`` is the leading option on each tooth considered, ``rest_leads`` the leading rest for that option,
    ``connector_lead`` the leading connector; ``unbuilt`` tells why an option that may be used makes no part.
    ``replaced`` holds the ranked options of each missing tooth, ``replacements`` the one that is set. ``seats``
    are the indirect retainers that a framework takes, ``other_seats`` every usable one, best first.
    ``matching`` pairs teeth of the two sides; ``touching`` pairs neighbours in contact, ``rooms`` is the
    recorded room between them. ``support`` are the teeth that have to carry a rest, ``ends`` those beside
    extensions. ``prepared_cast``: the survey is of the cast after
    preparation. ``axis`` are the teeth through which the provisional axis runs.
    """

    arch: str
    number: str
    modifications: int
    both_sides: bool
    spaces: tuple[Space, ...]
    teeth: Mapping[int, ToothSite]
    retainers: Mapping[int, tuple[Part, ...]]
    leads: Mapping[int, OptionResult]
    rest_leads: Mapping[int, str]
    unbuilt: Mapping[tuple[int, str], Unbuildable]
    connectors: tuple[tuple[Option, OptionResult], ...]
    connector_lead: OptionResult
    replacements: Mapping[int, OptionResult]
    replaced: Mapping[int, tuple[OptionResult, ...]]
    seats: tuple[Seat, ...]
    other_seats: tuple[Seat, ...]
    alloy: str | None
    alloy_blocks: Mapping[str, Statement]
    allergies_recorded: bool
    matching: tuple[tuple[int, int], ...]
    touching: frozenset[frozenset[int]]
    rooms: Mapping[frozenset[int], float]
    support: tuple[int, ...]
    ends: tuple[int, ...]
    axis: tuple[int, int] | None
    spaced_front: bool | None
    standing: tuple[int, ...]
    prepared_cast: bool
    scope: Scope
    rules: tuple[Rule, ...]
    figures: FrameworkFigures

    @property
    def considered(self) -> int:
        """How many teeth the mean of the retainers is taken over; at least one."""
        return max(1, sum(1 for parts in self.retainers.values() if parts and not parts[0].further))

    @property
    def point(self) -> float:
        """What one point of one retainer's score is worth in points of the framework's score."""
        return self.figures.weights.retainer / self.considered

    @property
    def available(self) -> list[Part]:
        """All parts that could be chosen."""
        return [part for parts in self.retainers.values() for part in parts]


@dataclass(frozen=True, slots=True)
class Choice:
    """One whole choice of parts: what the rules between parts are asked about."""

    stock: Stock
    retainers: Mapping[int, Part]
    connector: Option
    connector_result: OptionResult

    @property
    def held(self) -> list[Part]:
        """The parts that hold it in."""
        return [part for part in self.retainers.values() if part.retentive]

    @property
    def resting(self) -> frozenset[int]:
        """Teeth that bear it, the seats against lifting among them."""
        seats = {seat.tooth for seat in self.stock.seats}
        return frozenset(seats | {part.tooth for part in self.retainers.values() if part.rested})
