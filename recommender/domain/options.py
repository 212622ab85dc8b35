"""The option catalogue: every way of doing a job that the vocabulary knows, with its families.

Loaded from ``shared/options/*.yaml``. An option says what it is, how well it starts on each criterion
before anything of the case is known, and, for a retainer, which zone its tip engages and of what parts the
assembly consists, so that clasp blocks, mechanics and framework checks need no option by name.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Tip:
    """Where a retentive arm may engage, near to the space and far from it.

    ``zones``: any of ``near_facial mid_facial far_facial near_lingual mid_lingual far_lingual
    near_proximal far_proximal``; the assembly works if *one* of them is deep enough. ``least_mm`` is the
    least undercut that its usual alloy can hold in, ``usual_mm`` and ``most_mm`` the depth wanted and the
    depth beyond which the arm is overstressed or hard to remove.
    """

    zones: tuple[str, ...]
    least_mm: float
    usual_mm: float
    most_mm: float
    source: str


@dataclass(frozen=True, slots=True)
class Arm:
    """Geometry of the retentive arm for the mechanics: how it runs and of what section it is.

    ``origin`` is ``near``, ``far`` or ``gingival`` (infrabulge, from the base); ``surface`` is ``facial``,
    ``lingual`` or ``proximal``; ``reach`` is the share of that surface, from the origin side, over which it
    runs (0-1; more than 1 when it goes on round the tooth); ``section`` is ``half_round`` or ``round``;
    ``level`` tells which band of the crown it crosses, from gingival 0 to occlusal 1, at origin and tip.
    """

    origin: str
    surface: str
    reach: float
    section: str
    alloy: str
    level: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Option:
    """One way of making one decision. Two are the same only as the same object: what hangs on one is kept by it.

    ``starts`` maps criterion to the catalogue value (0-100), ``because`` says in a sentence or two why they stand
    where they do, and ``because_source`` on whose word. ``parts`` are words that the framework checks
    read (``retentive_facial``, ``reciprocal_lingual``, ``proximal_plate``, ``bar``, ``encircles``,
    ``stress_releasing``, ``rest``, ``second_rest``, ``minor_connector``, …; the closed list is in
    ``shared/vocabulary.yaml``). ``rests`` are the rest sites that the assembly can be built on, near/far.
    """

    id: str
    decision: str
    label: str
    definition: str
    families: tuple[str, ...]
    starts: Mapping[str, float]
    source: str
    arches: tuple[str, ...] = ("maxilla", "mandible")
    tip: Tip | None = None
    arm: Arm | None = None
    parts: tuple[str, ...] = ()
    rests: tuple[str, ...] = ()
    synonyms: tuple[str, ...] = ()
    extra: Mapping[str, float | str] = field(default_factory=dict)
    because: str = ""
    because_source: str = ""


@dataclass(frozen=True, slots=True)
class Family:
    """A kind of option; ``share`` is the credit (0-1) that one member's precedent gives another."""

    id: str
    decision: str
    label: str
    share: float
    is_a: str | None = None


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All options by decision (``retainer rest connector replacement indirect_retainer alloy``) and id."""

    options: Mapping[str, Mapping[str, Option]]
    families: Mapping[str, Family]

    def option(self, decision: str, identifier: str) -> Option:
        """The option of that identifier; ``KeyError`` if the vocabulary does not know it."""
        return self.options[decision][identifier]

    def credit(self, decision: str, first: str, second: str) -> float:
        """How far a precedent for one speaks for the other: 1 if the same, else the highest family share."""
        if first == second:
            return 1.0
        known = self.options[decision]
        if first not in known or second not in known:
            return 0.0
        common = set(known[first].families) & set(known[second].families)
        return max((self.families[name].share for name in common), default=0.0)
