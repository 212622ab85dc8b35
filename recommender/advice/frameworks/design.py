"""A chosen framework in the case format's ``design`` form, ready to be stored, drawn or reviewed."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from recommender.advice.frameworks.candidates import Part, Parts, figures
from recommender.advice.frameworks.rests import uprights
from recommender.advice.frameworks.whole import Whole
from recommender.advice.model import PreparationStep
from recommender.advice.preparations import best_tip_zone, surface_name
from recommender.domain.case import Design
from recommender.domain.dentition import in_arch_order, is_anterior
from recommender.facts.option import tip_zone_facts

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


def design_of(
    analysis: "CaseAnalysis", whole: Whole, parts: Parts, preparation: Sequence[PreparationStep]
) -> Design:
    """The whole proposal as a :class:`Design`."""
    holding = [part for part in whole.retainers.values() if part.option.id != "none"]
    return Design.model_validate(
        {
            "connector": whole.connector.id,
            "alloy": whole.alloy,
            "retainers": [_retainer(analysis, part, whole) for part in holding],
            "rests": whole.rests,
            "indirect_retainers": [{"tooth": seat.tooth, "rest": seat.rest} for seat in whole.seats],
            "minor_connectors": [
                {"tooth": tooth, "site": site}
                for tooth, site in uprights(analysis, whole.rests, whole.retainers)
            ],
            "proximal_plates": _plates(analysis, holding),
            "plating": _plating(analysis, whole),
            "bases": _bases(analysis, parts),
            "replacements": {tooth: result.option for tooth, result in sorted(parts.replacements.items())},
            "preparation": [
                {"tooth": step.tooth, "surface": step.surface, "action": step.action} for step in preparation
            ],
        }
    )


def _retainer(analysis: "CaseAnalysis", part: Part, whole: Whole) -> dict[str, object]:
    made: dict[str, object] = {"tooth": part.tooth, "assembly": part.option.id}
    if part.result.approach is not None:
        made["approach"] = part.result.approach
    if part.partner is not None:
        made["partner"] = part.partner
    if part.tooth in whole.rests:
        made["rest"] = whole.rests[part.tooth]
    used = used_undercut(analysis, part)
    if used is not None:
        made["undercut"] = used
    alloy = part.option.arm.alloy if part.option.arm else None
    if alloy in ("wrought_wire", "acetal", "peek"):
        made["alloy"] = alloy
        made["attached"] = "soldered" if alloy == "wrought_wire" else "in_resin"
    elif whole.alloy and part.retentive:
        made["alloy"] = whole.alloy
    return made


def used_undercut(analysis: "CaseAnalysis", part: Part) -> dict[str, object] | None:
    """The zone that the tip engages and the depth recorded there; the depth is left out where none was."""
    side = part.result.approach
    if part.option.tip is None or side is None or part.option.extra.get("tip_on"):
        return None
    zones = tip_zone_facts(part.option, analysis.facts.toward(part.tooth, side))
    zone = best_tip_zone(zones)[0]
    depth = zones[zone].value
    used: dict[str, object] = {"zone": surface_name(zone, side)}
    if isinstance(depth, (int, float)):
        # An arm is set into no more undercut than its form uses, however deep the tooth is undercut.
        used["mm"] = min(float(depth), part.option.tip.most_mm)
    return used


def _plates(analysis: "CaseAnalysis", holding: Sequence[Part]) -> list[dict[str, object]]:
    figure = figures()["bases"]
    plates = []
    for part in holding:
        for side in analysis.facts.sides(part.tooth):
            space = analysis.facts.space_beside(part.tooth, side)
            short = space is not None and space.support == "extension"
            height = figure["plate_height_extension_mm" if short else "plate_height_tooth_mm"]
            plates.append({"tooth": part.tooth, "surface": side, "height_mm": height})
    return plates


def _plating(analysis: "CaseAnalysis", whole: Whole) -> list[dict[str, object]]:
    if "plate_on_teeth" not in whole.connector.parts or analysis.case.arch != "mandible":
        return []
    front = [tooth for tooth in analysis.facts.standing if is_anterior(tooth)]
    spaced = analysis.case.floor.spaces_between_anteriors if analysis.case.floor else None
    return [{"teeth": front, "step_back": spaced}] if front else []


def _bases(analysis: "CaseAnalysis", parts: Parts) -> list[dict[str, object]]:
    figure = figures()["bases"]
    bases: list[dict[str, object]] = []
    for space in analysis.facts.spaces:
        kinds = {parts.replacements[t].option for t in space.teeth if t in parts.replacements} - {
            "leave_open"
        }
        if not kinds:
            continue
        ways = {figure["retention"][kind] for kind in kinds}
        retention = "lattice" if "lattice" in ways else sorted(ways)[0]
        made: dict[str, object] = {
            "teeth": in_arch_order(analysis.case.arch, space.teeth),
            "retention": retention,
        }
        if retention in ("lattice", "mesh", "loops"):
            made["relief_mm"] = figure["relief_mm"]
            made["tissue_stop"] = space.support == "extension"
        bases.append(made)
    return bases
