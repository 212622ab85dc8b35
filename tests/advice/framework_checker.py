"""A second reader of finished frameworks, written from the rules' text and knowing nothing of how they are made.

It takes the case, the finished ``design`` and the option catalogue, and returns what is wrong with the design as
``(check, sentence)``. A framework may be wrong only where it says so: the name is that of the framework's own
check which must then have failed. What each rule means stands in ``shared/frameworks.yaml`` (sources there);
what each part of an assembly means in ``shared/options/README.md``.
"""

from collections import Counter
from collections.abc import Iterator

from recommender.domain.case import Case
from recommender.domain.catalogue import Catalogue
from recommender.domain.designs import Design
from recommender.domain.kennedy import classify

ORDER = {
    "maxilla": [18, 17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27, 28],
    "mandible": [48, 47, 46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36, 37, 38],
}
COBALT_CHROMIUM = {"cobalt", "chromium"}
BARRED = {
    "cobalt_chromium": COBALT_CHROMIUM,
    "nickel_chromium": {"nickel", "chromium"},
    "titanium_cp": {"titanium"},
    "titanium_alloy": {"titanium"},
    "gold_type_iv": {"palladium"},
}
METHACRYLATE = {"resin_tooth_lattice", "resin_tooth_metal_base", "tube_tooth", "resin_base_metal_occlusal"}


def right(tooth: int) -> bool:
    """Quadrants 1 and 4 are the patient's right."""
    return tooth // 10 in (1, 4)


def faults(case: Case, design: Design, catalogue: Catalogue) -> Iterator[tuple[str, str]]:
    """Everything wrong with a design, as the name of the framework's own check and a sentence."""
    made = catalogue.options["retainer"]
    connector = catalogue.options["connector"][design.connector or ""]
    clasps = {r.tooth: r for r in design.retainers or []}
    parts = {tooth: set(made[r.assembly].parts) for tooth, r in clasps.items()}
    holding = {t for t, words in parts.items() if any(word.startswith("retentive") for word in words)}
    rests = {tooth: rest for tooth, rest in (design.rests or {}).items() if rest != "none"}
    row = ORDER[case.arch]
    gone = set(case.missing) | set(case.absent or []) | set(case.planned_extractions or [])
    standing = [tooth for tooth in row if tooth not in gone]
    yield from _reciprocation(design, parts, holding, set(connector.parts))
    yield from _arms(design, parts, row, made)
    for tooth in holding:
        words = parts[tooth]
        exempt = words & {"retentive_internal", "retentive_proximal", "rigid", "on_root_or_implant"}
        if "encircles" not in words and not exempt:
            yield "encirclement", f"{tooth} is not gone round"
    for space in classify(case).spaces:
        for border in space.borders:
            if border not in rests:
                yield "base_supported", f"{border} carries no rest for the base of {space.teeth}"
    yield from _turning(case, design, set(connector.parts), standing)
    if len(rests) < 3:
        yield "three_rests", f"only {sorted(rests)}"
    if not any(right(t) for t in holding) or all(right(t) for t in holding):
        yield "both_sides", f"held at {sorted(holding)} only"
    yield from _partners(design)
    carried = set(clasps) | set(rests)
    if "one_sided" in connector.parts and len({right(tooth) for tooth in carried}) > 1:
        yield "connector_reaches", f"a one-sided connector for {sorted(carried)}"
    if "needs_rests_at_ends" in connector.parts:
        for side in (True, False):
            if not any(right(t) == side and t % 10 <= 5 for t in rests):
                yield "plate_ends", f"no rest in front on the {'right' if side else 'left'}"
    yield from _materials(case, design)
    yield from _weak(case, carried)
    yield from _rotated(design, parts)
    for tooth in carried - set(standing):
        kept = {a.tooth for a in case.abutments or [] if a.kind in ("root", "implant")}
        if tooth not in kept:
            yield "no such check", f"{tooth} does not stand"
    for tooth in rests:
        if tooth in clasps and clasps[tooth].rest not in (None, rests[tooth]):
            yield "no such check", f"{tooth} has two different rests"


def _reciprocation(
    design: Design, parts: dict[int, set[str]], holding: set[int], connector: set[str]
) -> Iterator[tuple[str, str]]:
    """An arm, plate, minor connector or plate of the connector touches opposite every retentive part."""
    plates = {p.tooth for p in design.proximal_plates or []}
    uprights = {m.tooth for m in design.minor_connectors or []}
    for tooth in holding:
        arm = any(word.startswith("reciprocal") for word in parts[tooth]) or "rigid" in parts[tooth]
        if not (arm or tooth in plates or tooth in uprights or "plate_on_teeth" in connector):
            yield "reciprocated", f"nothing rigid at {tooth}"


def _arms(
    design: Design, parts: dict[int, set[str]], row: list[int], made: dict[str, object]
) -> Iterator[tuple[str, str]]:
    gripped: list[int] = []
    for retainer in design.retainers or []:
        words = parts[retainer.tooth]
        if not any(word.startswith("retentive") for word in words):
            continue
        tooth = retainer.tooth
        if "tip_on_neighbour" in words:
            # The tip lies on the tooth beyond, away from the approach.
            place = row.index(tooth)
            outward = (retainer.approach == "distal") == right(tooth)
            tooth = row[place + 1] if outward else row[place - 1]
        gripped.append(tooth)
    for tooth, count in Counter(gripped).items():
        if count > 1:
            yield "one_arm_a_tooth", f"{count} at {tooth}"


def _turning(
    case: Case, design: Design, connector: set[str], standing: list[int]
) -> Iterator[tuple[str, str]]:
    """An extension wants a rest in front of the last teeth; a long front space one behind its two teeth."""
    found = classify(case)
    extension = [s for s in found.spaces if s.support == "extension"]
    long_front = found.number == "IV" and len(found.spaces[0].teeth) >= 4
    if not extension and not long_front:
        return
    if "indirect_retention" not in connector and not design.indirect_retainers:
        yield "indirect", "nothing keeps the base down"


def _partners(design: Design) -> Iterator[tuple[str, str]]:
    clasps = {r.tooth: r for r in design.retainers or []}
    for retainer in clasps.values():
        if retainer.assembly == "embrasure":
            other = clasps.get(retainer.partner or 0)
            if other is None or other.assembly != "embrasure" or other.partner != retainer.tooth:
                yield "embrasure_partner", f"{retainer.tooth} with {retainer.partner}"
        elif retainer.partner is not None:
            yield "embrasure_partner", f"{retainer.tooth} needs no partner"


def _materials(case: Case, design: Design) -> Iterator[tuple[str, str]]:
    allergy = set((case.patient and case.patient.allergy) or [])
    if design.alloy is None or BARRED[design.alloy] & allergy:
        yield "one_alloy", f"{design.alloy} for an allergy to {sorted(allergy)}"
    cast = {r.alloy for r in design.retainers or []} - {None, "wrought_wire", "acetal", "peek", design.alloy}
    if cast:
        yield "one_alloy", f"{cast} besides {design.alloy}"
    chosen = design.replacements or {}
    for space in classify(case).spaces:
        for tooth in space.teeth:
            if tooth not in chosen:
                yield "accepted", f"{tooth} is not replaced"
            elif "methacrylate" in allergy and chosen[tooth] in METHACRYLATE:
                yield "no such check", f"{tooth} in methacrylate"
        kinds = {chosen[tooth] for tooth in space.teeth if tooth in chosen}
        if len(kinds) > 1:
            yield "one_base", f"{sorted(kinds)} in one space"


def _weak(case: Case, carried: set[int]) -> Iterator[tuple[str, str]]:
    for abutment in case.abutments or []:
        ill = abutment.disease in ("periodontal", "periapical", "caries")
        if abutment.tooth in carried and (abutment.mobility == 3 or ill):
            yield "bears", f"{abutment.tooth}: mobility {abutment.mobility}, {abutment.disease}"


def _rotated(design: Design, parts: dict[int, set[str]]) -> Iterator[tuple[str, str]]:
    """Rigid rotated-in retainers at one end; ordinary retention at the other end of the same side."""
    rigid = [r for r in design.retainers or [] if r.assembly == "rigid_rotational"]
    ends = {"front" if r.tooth % 10 <= 3 or r.approach == "distal" else "rear" for r in rigid}
    if len(ends) > 1:
        yield "rotational_path", f"{[r.tooth for r in rigid]} at both ends"
    plain = [
        tooth
        for tooth, words in parts.items()
        if any(word.startswith("retentive") for word in words) and tooth not in {r.tooth for r in rigid}
    ]
    for retainer in rigid:
        here = [t for t in plain if right(t) == right(retainer.tooth)]
        further_back = [t for t in here if t % 10 > retainer.tooth % 10]
        in_front = [t for t in here if t % 10 < retainer.tooth % 10]
        if not (further_back if ends == {"front"} else in_front):
            yield "rotational_path", f"nothing locks {retainer.tooth}"
