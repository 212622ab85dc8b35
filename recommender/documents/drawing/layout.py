"""Every part of a design laid out on its arch: which side each comes from, what joins what, where the axis runs."""

from collections.abc import Iterable

from recommender.documents.drawing.courses import Held
from recommender.documents.drawing.frame import Frame
from recommender.domain.case import Case
from recommender.domain.catalogue import load
from recommender.domain.dentition import opposite, position, side_facing, side_of
from recommender.domain.designs import Design, DesignRetainer
from recommender.domain.findings import FloorDepth
from recommender.domain.kennedy import Classification, classify, standing_teeth
from recommender.domain.measures import expected
from recommender.facts.axis import terminal_pair
from recommender.facts.mechanical import case_geometry

_WHOLE_PLATES = ("complete_plate", "metal_resin_plate")
_ON_FRONT_TEETH = (
    "linguoplate", "interrupted_linguoplate", "cingulum_bar", "lingual_bar_cingulum_bar", "hinged_labial_bar",
)  # fmt: skip


class Layout:
    """A design read for drawing: what the design leaves out is taken from the dentition, never invented."""

    def __init__(self, case: Case, design: Design) -> None:
        self.case, self.design = case, design
        self.standing = standing_teeth(case)
        self.frame = Frame(case_geometry(case), self.standing)
        self.classification: Classification = classify(case)
        self.catalogue = load().options
        self.spaces_at: dict[int, set[str]] = {}
        gone = {tooth for space in self.classification.spaces for tooth in (*space.teeth, *space.absent)}
        for space in self.classification.spaces:
            for tooth in space.borders:
                for side in ("mesial", "distal"):
                    contact = self.frame.station(tooth, side)
                    if any(abs(contact - self.frame.station(t)) < 0.6 for t in gone & set(_all(space))):
                        self.spaces_at.setdefault(tooth, set()).add(side)
        self.bases = [tuple(base.teeth) for base in design.bases or () if base.teeth]

    # -- retainers ---------------------------------------------------------------------------------------

    def held(self, retainer: DesignRetainer) -> Held:
        """One retainer with the side from which it comes."""
        option = self.catalogue["retainer"][retainer.assembly]
        zone = retainer.undercut.zone if retainer.undercut else None
        return Held(retainer.tooth, option, self._near(retainer, zone), zone, retainer.partner)

    def _near(self, retainer: DesignRetainer, zone: str | None) -> str:
        if retainer.approach is not None:
            return retainer.approach
        tooth = retainer.tooth
        if retainer.partner is not None:
            return side_facing(tooth, retainer.partner)
        sides = self.spaces_at.get(tooth, set())
        if len(sides) == 1:
            return next(iter(sides))
        option = self.catalogue["retainer"][retainer.assembly]
        if zone and option.tip is not None and not zone.startswith("mid"):
            tip_side = "mesial" if zone.startswith("mesi") else "distal"
            return tip_side if option.tip.zones[0].startswith("near") else opposite(tip_side)
        return "distal"

    def rest_side(self, tooth: int, rest: str) -> str | None:
        """The side of an embrasure or long rest, or of an incisal one."""
        for retainer in self.design.retainers or ():
            if retainer.tooth == tooth:
                if rest == "embrasure" and retainer.partner is not None:
                    return side_facing(tooth, retainer.partner)
                return self._near(retainer, retainer.undercut.zone if retainer.undercut else None)
        return None

    def rests(self) -> dict[int, str]:
        """Every rest: those listed, those of the retainers, and those of the indirect retainers."""
        found: dict[int, str] = {}
        for retainer in self.design.retainers or ():
            if retainer.rest is not None:
                found[retainer.tooth] = retainer.rest
        for seat in self.design.indirect_retainers or ():
            found.setdefault(seat.tooth, seat.rest)
        found.update(self.design.rests or {})
        return {tooth: rest for tooth, rest in sorted(found.items()) if rest != "none"}

    def indirect(self) -> frozenset[int]:
        return frozenset(seat.tooth for seat in self.design.indirect_retainers or ())

    # -- joins -------------------------------------------------------------------------------------------

    def base_run(self, teeth: Iterable[int]) -> tuple[float, float]:
        """From station to station of a base."""
        stations = [self.frame.station(tooth) for tooth in teeth]
        return min(stations) - 0.5, max(stations) + 0.5

    def beside_base(self, tooth: int, side: str) -> bool:
        """Whether a base lies beside that side of the tooth."""
        contact = self.frame.station(tooth, side)
        return any(
            low - 0.3 <= contact <= high + 0.3 for low, high in (self.base_run(teeth) for teeth in self.bases)
        )

    def uprights(self) -> list[tuple[int, str]]:
        """Where a minor connector rises: those listed, and one for each rest that no base carries."""
        found: dict[tuple[int, str], None] = {}
        for minor in self.design.minor_connectors or ():
            if minor.tooth in self.standing:
                found[(minor.tooth, minor.site)] = None
        for tooth, rest in self.rests().items():
            if tooth not in self.standing:
                continue
            sites = {"mesial_distal": ("mesial", "distal")}.get(rest, (rest,))
            for site in sites:
                if rest in ("embrasure", "long", "onlay"):
                    site = self.rest_side(tooth, rest) or "distal"
                if site in ("cingulum", "incisal"):
                    carried = any(self.beside_base(tooth, side) for side in ("mesial", "distal"))
                    if not carried and (tooth, site) not in found:
                        found[(tooth, site)] = None
                elif not self.beside_base(tooth, site):
                    found[(tooth, site)] = None
        return list(found)

    def rest_joins(self, tooth: int) -> tuple[str, ...]:
        """The sides on which the rests of a tooth run out: to the base that carries them where no plate and no minor
        connector does, and to a replacement tooth that stands on no base and hangs on them."""
        based = {each for teeth in self.bases for each in teeth}
        hanging = set(self.design.replacements or {}) - based
        place = self.frame.order.index(tooth)
        beside = self.frame.order[max(place - 1, 0) : place + 2]
        sides = [side_facing(tooth, other) for other in beside if other != tooth and other in hanging]
        if tooth not in self.plated() and all(upright != tooth for upright, _ in self.uprights()):
            sides += [side for side in ("mesial", "distal") if self.beside_base(tooth, side)]
        return tuple(dict.fromkeys(sides))

    def anchors(self) -> list[tuple[float, float]]:
        """Stations that the connector has to reach: the bases, and the feet of the minor connectors."""
        runs = [self.base_run(teeth) for teeth in self.bases]
        for tooth, site in self.uprights():
            station = self.frame.station(tooth, site)
            runs.append((station, station))
        return runs

    def plated(self) -> list[int]:
        """Teeth that the connector lies on: those listed; else, for one that has to lie on teeth, the standing front
        teeth, and under a whole plate all that stand."""
        listed: set[int] = set()
        for plating in self.design.plating or ():
            teeth = list(plating.teeth)
            if len(teeth) == 2:
                ends = sorted(self.frame.station(tooth) for tooth in teeth)
                teeth = [t for t in self.frame.order if ends[0] <= self.frame.station(t) <= ends[1]]
            listed |= set(teeth)
        name = self.design.connector
        if not listed and name in _WHOLE_PLATES:
            listed = set(self.standing)
        elif not listed and name in _ON_FRONT_TEETH:
            listed = {tooth for tooth in self.standing if position(tooth) <= 3}
        return [tooth for tooth in self.frame.order if tooth in listed & set(self.standing)]

    def plated_lingually(self) -> list[int]:
        """Teeth whose lingual is covered by metal sheet, which braces them."""
        return (
            self.plated()
            if self.design.connector in (*_WHOLE_PLATES, *_ON_FRONT_TEETH[:2], "u_shaped")
            else []
        )

    def stepped(self) -> bool:
        """Whether a plate on the lower teeth is cut out between them, so that no metal shows there."""
        name = self.design.connector
        back = any(plating.step_back for plating in self.design.plating or ())
        return name == "interrupted_linguoplate" or (name == "linguoplate" and back)

    def floor_mm(self) -> float | None:
        """The recorded depth of the floor of the mouth, at its shallowest (mm)."""
        depth = self.case.floor.depth_mm if self.case.floor else None
        if not isinstance(depth, FloorDepth):
            return None if depth is None else expected(depth)
        known = [value for region in FloorDepth.model_fields if (value := getattr(depth, region)) is not None]
        return min((expected(value) for value in known), default=None)

    # -- axis --------------------------------------------------------------------------------------------

    def axis(self) -> tuple[tuple[int, str], tuple[int, str]] | None:
        """The two rests through which the fulcrum line runs: the terminal teeth, or the rearmost teeth with a rest.

        ``None`` where the class has no such line, or a side carries no rest.
        """
        pair = terminal_pair(self.classification, self.standing)
        rests = self.rests()
        if pair is None or not rests:
            return None
        ends = []
        for tooth in pair:
            if tooth not in rests:
                same = [t for t in rests if side_of(t) == side_of(tooth) and t in self.standing]
                if not same or self.classification.number == "IV":
                    return None
                tooth = max(same, key=lambda t: t % 10)
            ends.append((tooth, rests[tooth]))
        return ends[0], ends[1]


def _all(space: object) -> tuple[int, ...]:
    return (*space.teeth, *space.absent)  # type: ignore[attr-defined]
