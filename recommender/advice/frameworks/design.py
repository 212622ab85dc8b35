"""A chosen framework in the case format's ``design`` form, ready to be stored, drawn or reviewed."""

from collections.abc import Mapping, Sequence

from recommender.advice.frameworks.building import hung
from recommender.advice.frameworks.parts import Choice, Part, Stock
from recommender.advice.frameworks.seats import sites_of
from recommender.advice.model import PreparationStep, Seat
from recommender.domain.dentition import in_arch_order, is_anterior
from recommender.domain.designs import Design


def design_of(
    choice: Choice, rests: Mapping[int, str], seats: Sequence[Seat], preparation: Sequence[PreparationStep]
) -> Design:
    """The whole proposal as a :class:`Design`."""
    stock = choice.stock
    holding = [part for part in choice.retainers.values() if part.option.id != "none"]
    return Design.model_validate(
        {
            "connector": choice.connector.id,
            "alloy": stock.alloy,
            "retainers": [_retainer(part, rests, stock.alloy) for part in holding],
            "rests": dict(rests),
            "indirect_retainers": [{"tooth": seat.tooth, "rest": seat.rest} for seat in seats],
            "minor_connectors": [
                {"tooth": tooth, "site": site} for tooth, site in uprights_of(stock, choice.retainers, rests)
            ],
            "proximal_plates": _plates(stock, holding),
            "plating": _plating(choice),
            "bases": _bases(stock),
            "replacements": {tooth: result.option for tooth, result in sorted(stock.replacements.items())},
            "preparation": [
                {"tooth": step.tooth, "surface": step.surface, "action": step.action} for step in preparation
            ],
        }
    )


def _retainer(part: Part, rests: Mapping[int, str], frame: str | None) -> dict[str, object]:
    made: dict[str, object] = {"tooth": part.tooth, "assembly": part.option.id}
    if part.result.approach is not None:
        made["approach"] = part.result.approach
    if part.partner is not None:
        made["partner"] = part.partner
    if part.tooth in rests:
        made["rest"] = rests[part.tooth]
    if part.build.zone is not None and part.grips == part.tooth:
        made["undercut"] = {"zone": part.build.zone}
        if part.build.depth_mm is not None:
            made["undercut"] = {"zone": part.build.zone, "mm": part.build.depth_mm}
    alloy = part.option.arm.alloy if part.option.arm else None
    if alloy in ("wrought_wire", "acetal", "peek"):
        made["alloy"] = alloy
        made["attached"] = "soldered" if alloy == "wrought_wire" else "in_resin"
    elif frame and part.retentive:
        made["alloy"] = frame
    return made


def uprights_of(
    stock: Stock, retainers: Mapping[int, Part], rests: Mapping[int, str]
) -> list[tuple[int, str]]:
    """Minor connectors of their own: those of the assemblies, and one for every rest that stands away from all
    bases.
    """
    found = dict.fromkeys(one for part in retainers.values() for one in part.build.uprights)
    for tooth, rest in rests.items():
        part = retainers.get(tooth)
        plated = part is not None and part.option.id != "none" and bool(part.build.plates)
        # without a plate beside it a rest on the lingual needs an upright of its own
        own = not plated or (part is not None and "minor_connector" in part.option.parts)
        based = stock.teeth[tooth].based
        carried = based if plated else based & frozenset(("mesial", "distal"))
        carried |= {site for at, site in found if at == tooth} if rest == "onlay" else set()
        near = (part.result.approach if part is not None else None) or "mesial"
        found |= dict.fromkeys((tooth, site) for site in hung(rest, sites_of(rest, part), carried, near, own))
    return sorted(found)


def _plates(stock: Stock, holding: Sequence[Part]) -> list[dict[str, object]]:
    figures = stock.figures.bases
    plates = []
    for part in holding:
        for side in part.build.plates:
            short = stock.teeth[part.tooth].extension_at(side)
            height = figures.plate_height_extension_mm if short else figures.plate_height_tooth_mm
            plates.append({"tooth": part.tooth, "surface": side, "height_mm": height})
    return plates


def _plating(choice: Choice) -> list[dict[str, object]]:
    if "plate_on_teeth" not in choice.connector.parts or choice.stock.arch != "mandible":
        return []
    front = [tooth for tooth in choice.stock.standing if is_anterior(tooth)]
    return [{"teeth": front, "step_back": choice.stock.spaced_front}] if front else []


def _bases(stock: Stock) -> list[dict[str, object]]:
    figures = stock.figures.bases
    bases: list[dict[str, object]] = []
    for space in stock.spaces:
        kinds = {stock.replacements[t].option for t in space.teeth if t in stock.replacements} - {
            "leave_open"
        }
        if not kinds:
            continue
        ways = {str(way) for kind, way in figures.retention.items() if kind in kinds}
        retention = "lattice" if "lattice" in ways else min(ways)
        made: dict[str, object] = {"teeth": in_arch_order(stock.arch, space.teeth), "retention": retention}
        if retention in ("lattice", "mesh", "loops"):
            made["relief_mm"] = figures.relief_mm
            made["tissue_stop"] = space.support == "extension"
        bases.append(made)
    return bases
