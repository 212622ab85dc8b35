"""Where the parts of a clasp lie round the crown, and whether they can be made to hold it.

Angles are degrees round the crown as seen from the space: 0 at the near end, 90 at the middle of the facial,
180 at the far end, 270 at the middle of the lingual. So a tooth in front of its space and one behind it, right
and left, are laid out alike. The figures are those of ``shared/frameworks.yaml`` (``crown``).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from recommender.domain.dentition import opposite
from recommender.domain.options import Option
from recommender.knowledge.figures.frameworks import CrownFigures

FULL = 360.0
_MIDDLE = 270.0
_ENDS = {"near": 0.0, "far": 180.0}


@dataclass(frozen=True, slots=True)
class Arc:
    """A contact of metal with the crown: ``part``, where it begins and how far it runs on, in degrees."""

    part: str
    start: float
    sweep: float
    rigid: bool

    @property
    def end(self) -> float:
        """Where it ends; may pass 360."""
        return self.start + self.sweep

    def reaches(self, angle: float, within: float = 0.0) -> bool:
        """Whether it lies at an angle, or nearer to it than ``within``."""
        return (angle - self.start + within) % FULL <= self.sweep + 2 * within


@dataclass(frozen=True, slots=True)
class Clasp:
    """One assembly on one tooth, in words seen from its approach (near, far).

    ``rests``, ``uprights`` (minor connectors) and ``plates`` are told near, far, cingulum, incisal or lingual;
    ``bases`` are the ends at which a base or the frame over a space adjoins. ``zone`` is where the tip lies
    (``far_facial`` …), ``None`` without a tip on this tooth. ``plated``: metal of the connector covers the
    lingual.
    """

    option: Option
    zone: str | None
    rests: frozenset[str]
    uprights: frozenset[str]
    plates: frozenset[str]
    bases: frozenset[str]
    plated: bool = False

    @property
    def flexing(self) -> bool:
        """Whether an arm of it bends over the bulge."""
        return "flexing_arm" in self.option.families or "stress_releasing" in self.option.families

    @property
    def bar(self) -> bool:
        """Whether its arm comes from the gum side."""
        return self.option.arm is not None and self.option.arm.origin == "gingival"

    @property
    def start(self) -> str | None:
        """The end of the tooth from which the retentive arm comes; ``None`` for a bar, and where there is no arm."""
        arm = self.option.arm
        if arm is None or self.bar or arm.surface == "proximal":
            return None
        word = (self.zone or "mid").partition("_")[0]
        if word == "mid" or _doubles_back(self) or arm.reach >= 2 or "tip_on_neighbour" in self.option.parts:
            return arm.origin
        return "far" if word == "near" else "near"

    @property
    def bodies(self) -> frozenset[str]:
        """Places at which rigid metal stands that an arm can grow from."""
        return self.rests | self.uprights | self.plates | self.bases


def _doubles_back(clasp: Clasp) -> bool:
    """A hairpin: the arm comes back to a tip below its own origin, on the same surface."""
    arm, zone = clasp.option.arm, clasp.zone
    if arm is None or zone is None or not 1.2 < arm.reach < 2:
        return False
    word, _, surface = zone.partition("_")
    return word == arm.origin and surface == arm.surface


def rotate(word: str, near: str) -> str:
    """An anatomical end (``mesial``, ``distal``) as near or far; other words as they are."""
    return {near: "near", opposite(near): "far"}.get(word, word)


def angle_of(zone: str, figures: CrownFigures) -> float:
    """The angle of a zone word such as ``far_facial``."""
    return figures.zones[zone]


def arcs(clasp: Clasp, figures: CrownFigures) -> list[Arc]:
    """Every contact of a clasp with its tooth."""
    found = [*_rigid_parts(clasp, figures)]
    if clasp.zone is None and "tip_on_neighbour" not in clasp.option.parts:
        return found
    arm = clasp.option.arm
    if arm is not None and any(word.startswith("retentive") for word in clasp.option.parts):
        found += _arm(clasp, figures)
    return found


def _rigid_parts(clasp: Clasp, figures: CrownFigures) -> Iterator[Arc]:
    for site in clasp.rests:
        half = figures.rest if site in _ENDS else figures.lingual
        yield Arc("rest", _ENDS.get(site, _MIDDLE) - half, 2 * half, True)
    for end in clasp.plates & _ENDS.keys():
        yield _toward_lingual("plate", end, -figures.plate_facial, figures.plate_lingual)
    for site in clasp.uprights:
        if site in _ENDS:
            yield _toward_lingual("minor connector", site, figures.upright_from, figures.upright_to)
        else:
            yield Arc("minor connector", _MIDDLE - figures.lingual, 2 * figures.lingual, True)
    if clasp.plated:
        yield Arc("connector plate", _MIDDLE - figures.plated, 2 * figures.plated, True)


def _toward_lingual(part: str, end: str, low: float, high: float) -> Arc:
    """Metal beside one end of the tooth, from ``low`` to ``high`` degrees round to the lingual."""
    if end == "far":
        return Arc(part, 180.0 + low, high - low, True)
    return Arc(part, FULL - high, high - low, True)


def _arm(clasp: Clasp, figures: CrownFigures) -> Iterator[Arc]:
    option = clasp.option
    assert option.arm is not None
    if clasp.bar and clasp.zone is not None:
        half = figures.bar_tip / option.arm.reach
        yield Arc("tip", angle_of(clasp.zone, figures) - half, 2 * half, False)
    elif clasp.start is None and clasp.zone is not None:
        yield Arc("tip", angle_of(clasp.zone, figures) - figures.rest, 2 * figures.rest, False)
    elif "tip_on_neighbour" in option.parts:
        yield Arc("arm", 0.0, 180.0, True)
    elif clasp.start is not None and clasp.zone is not None:
        yield from _sweeping(clasp, clasp.start, clasp.zone, figures)
    yield from _braces(clasp, figures)


def _sweeping(clasp: Clasp, start: str, zone: str, figures: CrownFigures) -> Iterator[Arc]:
    """An arm that runs from one end of the tooth to its tip, on the tip's surface or the long way round to it."""
    assert clasp.option.arm is not None
    begin, tip = _ENDS[start], angle_of(zone, figures)
    facial = 0 < tip < 180
    if clasp.option.arm.reach >= 2:  # the first half, on the other surface, is stiff
        yield Arc("arm", 180.0 if facial else 0.0, 180.0, True)
        facial = not facial
    elif _doubles_back(clasp):
        yield Arc("arm", 0.0 if facial else 180.0, 180.0, False)
    up = (begin == 0.0) == facial
    yield (
        Arc("arm", begin, (tip - begin) % FULL, False) if up else Arc("arm", tip, (begin - tip) % FULL, False)
    )


def _braces(clasp: Clasp, figures: CrownFigures) -> Iterator[Arc]:
    """The rigid arm opposite the retentive one."""
    parts, zone = set(clasp.option.parts), clasp.zone
    arm = clasp.option.arm
    assert arm is not None
    if arm.reach >= 2:
        return
    if arm.surface == "proximal":  # a plate on the opposite lingual corner
        if "reciprocal_lingual" in parts:
            yield Arc("plate", 180.0, figures.plate_lingual, True)
        return
    start = clasp.start or "near"
    lingual_tip = zone is not None and angle_of(zone, figures) > 180
    if {"reciprocal_lingual", "reciprocal_facial"} & parts and "second_rest" in parts:
        # one arm from each end: the bracing one starts at the other end
        start, facial, run = ("near" if start == "far" else "far"), lingual_tip, 180.0 - figures.brace_short
    elif "reciprocal_facial" in parts:
        facial, run = True, figures.facial_brace
    elif "reciprocal_lingual" in parts:
        facial, run = False, 180.0 - figures.brace_short
    else:
        return
    begin = _ENDS[start]
    up = (begin == 0.0) == facial
    yield Arc("bracing arm", begin if up else begin - run, run, True)


def widest_gap(found: Iterable[Arc]) -> float:
    """Degrees between neighbouring contacts where nothing touches the crown; 360 without any contact."""
    pieces: list[tuple[float, float]] = []
    for arc in found:
        low = arc.start % FULL
        pieces += (
            [(low, low + arc.sweep)]
            if low + arc.sweep <= FULL
            else [(low, FULL), (0.0, low + arc.sweep - FULL)]
        )
    if not pieces:
        return FULL
    pieces.sort()
    widest, reached = 0.0, pieces[0][1]
    for low, high in pieces[1:]:
        widest = max(widest, low - reached)
        reached = max(reached, high)
    return max(widest, pieces[0][0] + FULL - reached)


def opposed(clasp: Clasp, figures: CrownFigures) -> bool:
    """Whether rigid metal meets the tooth on the other side from the tip: straight across, or on both sides of
    that.
    """
    if clasp.zone is None:
        return True
    across = (angle_of(clasp.zone, figures) + 180.0) % FULL
    rigid = [arc for arc in arcs(clasp, figures) if arc.rigid]
    if any(arc.reaches(across, figures.opposed_within) for arc in rigid):
        return True
    beside = figures.opposed_beside
    return all(any(arc.reaches(across + turn, beside) for arc in rigid) for turn in (-beside, beside))


def grows(clasp: Clasp) -> bool:
    """Whether the retentive arm has a body to grow from: at its end of the tooth, or for a bar the base."""
    if clasp.bar:
        return bool(clasp.bases)
    arm = clasp.option.arm
    if arm is None:
        return True
    if arm.surface == "proximal":
        return "near" in clasp.bodies
    return clasp.start in clasp.bodies
