"""A tooth as a framework meets it: what adjoins it, what was measured on it, and what may be done to it."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from recommender.advice.model import BlockedBy
from recommender.facts.values import Fact, not_recorded


@dataclass(frozen=True, slots=True)
class ToothSite:
    """A tooth as a framework meets it.

    ``based`` are the sides at which a base or the frame over a space adjoins, ``sides`` those that face any
    space, ``touching`` the standing neighbour by side. ``undercuts``, ``embrasures`` (room over the marginal
    ridges) and ``rooms`` (over rest seats) are facts in mm by zone, side and site. ``leave`` says for each kind
    of preparation whether the dentist permits it, ``None`` where that was not recorded. ``bears`` is false for
    a tooth that may carry nothing, with the reasons in ``barred``. ``contours`` are the survey lines by facial zone,
    ``crown_mm`` is the height of the crown. ``covered`` is false for a root or implant over which there is no base.
    """

    tooth: int
    stands: bool
    sides: tuple[str, ...]
    based: frozenset[str]
    touching: Mapping[str, int]
    undercuts: Mapping[str, Fact]
    embrasures: Mapping[str, Fact]
    rooms: Mapping[str, Fact]
    seats: frozenset[str] | None
    leave: Mapping[str, bool | None]
    lingual_contour: str | None
    lingual_plane: bool | None
    bears: bool | None
    barred: tuple[BlockedBy, ...] = ()
    contours: Mapping[str, str | None] = field(default_factory=dict)
    crown_mm: Fact = field(default_factory=not_recorded)
    extension_sides: frozenset[str] = frozenset()
    covered: bool = True

    @property
    def extension(self) -> bool:
        """Whether it stands beside an extension."""
        return bool(self.extension_sides)

    def extension_at(self, side: str) -> bool:
        """Whether the extension lies on that side."""
        return side in self.extension_sides
