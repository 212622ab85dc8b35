"""What a design leaves unsaid, filled in as it can be made best: left out is not recorded, never absent.

A design that names a clasp names neither the side from which it comes, nor the minor connectors that its rests
need, where nobody wrote them down. So each clasp is tried from the sides that the design leaves open, and stands
as the one with the fewest faults; the side at which a base adjoins comes first.
"""

from collections.abc import Iterator, Mapping

from recommender.advice.frameworks.buildable import metal_faults
from recommender.advice.frameworks.building import clasp_of, hung, is_open, seat_sites
from recommender.advice.frameworks.metal import Metal, Mouth
from recommender.advice.frameworks.tooth_site import ToothSite
from recommender.domain.dentition import opposite, side_facing
from recommender.domain.designs import Base, Design, DesignRetainer, MinorConnector, ProximalPlate
from recommender.domain.options import Catalogue, Option
from recommender.facts.option import anatomical
from recommender.knowledge.figures.frameworks import FrameworkFigures

_SIDES = ("mesial", "distal")


def said_out(
    design: Design,
    mouth: Mouth,
    sites: Mapping[int, ToothSite],
    catalogue: Catalogue,
    figures: FrameworkFigures,
) -> Design:
    """The design with approaches, tips, bases, plates and minor connectors where it names none."""
    return _Reader(design, mouth, sites, catalogue, figures).read()


class _Reader:
    def __init__(
        self,
        design: Design,
        mouth: Mouth,
        sites: Mapping[int, ToothSite],
        catalogue: Catalogue,
        figures: FrameworkFigures,
    ) -> None:
        self.mouth, self.sites, self.catalogue, self.figures = mouth, sites, catalogue, figures
        self.options = catalogue.options["retainer"]
        self.uprights_unsaid = design.minor_connectors is None
        rests = {r.tooth: r.rest for r in design.retainers or () if r.rest is not None} | dict(
            design.rests or {}
        )
        bases = design.bases if design.bases is not None else _bases(mouth, sites)
        self.design = design.model_copy(update={"rests": rests, "bases": bases})
        plates = design.proximal_plates
        if plates is None:
            plates = [_plate(r.tooth, side) for r in design.retainers or () for side in self._plated(r)]
        self.design = self.design.model_copy(update={"proximal_plates": plates})

    def read(self) -> Design:
        if self.uprights_unsaid:
            clasped = {retainer.tooth for retainer in self.design.retainers or ()}
            alone = [
                _upright(t, at)
                for t, rest in (self.design.rests or {}).items()
                if t not in clasped
                for at in self._alone(t, str(rest))
            ]
            self.design = self.design.model_copy(update={"minor_connectors": alone})
        for place in range(len(self.design.retainers or ())):
            ways = list(self._ways(place))
            if ways:
                self.design = min(ways, key=lambda way: self._faults(way, place))
        return self.design

    def _faults(self, design: Design, place: int) -> int:
        tooth = (design.retainers or [])[place].tooth
        metal = Metal(design, self.mouth, self.catalogue, self.figures.crown)
        return sum(fault.tooth == tooth for fault in metal_faults(metal, self.sites, self.figures))

    def _ways(self, place: int) -> Iterator[Design]:
        """The design with one clasp said out, in each way that it leaves open."""
        said = list(self.design.retainers or ())
        retainer = said[place]
        option = self.options.get(str(retainer.assembly))
        if option is None or retainer.tooth not in self.mouth.standing:
            return
        for near in self._approaches(retainer, option):
            toward = near if "partner" in option.parts else None
            partner = retainer.partner
            if toward and partner is None:
                partner = self.sites[retainer.tooth].touching.get(near)
            for zone in self._zones(retainer, option, near):
                update: dict[str, object] = {"approach": near, "partner": partner}
                if zone is not None and retainer.undercut is None:
                    update["undercut"] = {"zone": zone}
                clasp = DesignRetainer.model_validate(
                    {
                        **retainer.model_dump(exclude_none=True),
                        **{k: v for k, v in update.items() if v is not None},
                    }
                )
                whole = self.design.model_copy(
                    update={"retainers": [*said[:place], clasp, *said[place + 1 :]]}
                )
                if self.uprights_unsaid:
                    more = [_upright(retainer.tooth, at) for at in self._uprights(whole, clasp, option, near)]
                    whole = whole.model_copy(
                        update={"minor_connectors": [*(whole.minor_connectors or ()), *more]}
                    )
                yield whole

    def _approaches(self, retainer: DesignRetainer, option: Option) -> tuple[str, ...]:
        if retainer.approach is not None:
            return (str(retainer.approach),)
        if retainer.partner is not None:
            return (side_facing(retainer.tooth, retainer.partner),)
        return tuple(sorted(_SIDES, key=lambda side: (side not in self._based(retainer.tooth), side)))

    def _zones(self, retainer: DesignRetainer, option: Option, near: str) -> tuple[str | None, ...]:
        if retainer.undercut is not None or option.tip is None or "tip_on_neighbour" in option.parts:
            return (None,)
        return tuple(anatomical(word, near) for word in option.tip.zones) or (None,)

    def _based(self, tooth: int) -> frozenset[str]:
        """The sides of a tooth at which a base of the design adjoins."""
        under = {number for base in self.design.bases or () for number in base.teeth}
        return frozenset(side for side in _SIDES if under & set(self.mouth.spaces.get((tooth, side), ())))

    def _plated(self, retainer: DesignRetainer) -> frozenset[str]:
        option = self.options.get(str(retainer.assembly))
        bare = option is None or option.id == "none" or "on_root_or_implant" in option.parts
        return (
            frozenset() if bare or retainer.tooth not in self.mouth.standing else self._based(retainer.tooth)
        )

    def _covered(self, tooth: int) -> bool:
        return any(tooth in plating.teeth for plating in self.design.plating or ())

    def _alone(self, tooth: int, rest: str) -> tuple[str, ...]:
        """Minor connectors of a rest on a tooth without a retainer."""
        sites = seat_sites(rest, None, None)
        if self._covered(tooth) and set(sites) <= {"cingulum", "incisal"}:
            return ()
        based = self._based(tooth)
        plates = {p.surface for p in self.design.proximal_plates or () if p.tooth == tooth}
        own = tooth not in {p.tooth for p in self.design.proximal_plates or ()}
        return hung(rest, sites, based | frozenset(str(p) for p in plates), "mesial", own)

    def _uprights(
        self, whole: Design, retainer: DesignRetainer, option: Option, near: str
    ) -> tuple[str, ...]:
        """Minor connectors that a clasp is made with where nothing was said: for its rest, its arm, its bracing."""
        tooth = retainer.tooth
        based = self._based(tooth)
        plates = sorted(str(p.surface) for p in whole.proximal_plates or () if p.tooth == tooth)
        rest = str((whole.rests or {}).get(tooth, "none"))
        toward = side_facing(tooth, retainer.partner) if retainer.partner is not None else None
        sites = seat_sites(rest, near, toward)
        own = "minor_connector" in option.parts
        found = list(hung(rest, sites, based | frozenset(plates), near, own or not plates))
        if self._covered(tooth):
            found = [at for at in found if at not in ("cingulum", "incisal")]
        if option.arm is None or not any(part.startswith("retentive") for part in option.parts):
            return tuple(found if found or based or self._covered(tooth) else ("lingual",))
        zone = retainer.undercut.zone if retainer.undercut is not None else None
        word = next(
            (w for w in (option.tip.zones if option.tip else ()) if anatomical(w, near) == zone), None
        )
        covered = self._covered(tooth)
        clasp = clasp_of(option, near, word, sites, found, plates, based, covered)
        start = {"near": near, "far": opposite(near)}.get(clasp.start or "")
        if start and start not in based and start not in sites and own and rest != "embrasure":
            found.append(start)
            clasp = clasp_of(option, near, word, sites, found, plates, based, covered)
        if own and clasp.flexing and is_open(clasp, self.figures):
            found.append("lingual")
        return tuple(dict.fromkeys(found))


def _bases(mouth: Mouth, sites: Mapping[int, ToothSite]) -> list[Base]:
    """A base over each space that is restored."""
    spaces = {
        mouth.spaces[number, side]: None
        for (number, side) in mouth.spaces
        if number in sites and side in sites[number].based
    }
    return [Base.model_validate({"teeth": list(teeth)}) for teeth in spaces]


def _plate(tooth: int, side: str) -> ProximalPlate:
    return ProximalPlate.model_validate({"tooth": tooth, "surface": side})


def _upright(tooth: int, site: str) -> MinorConnector:
    return MinorConnector.model_validate({"tooth": tooth, "site": site})
