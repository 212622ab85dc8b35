"""What a technician checks on a drawing, as rules: written from the trade's teaching, not from the drawing code.

Each gives its faults in words; a drawing without faults gives none.
"""

from itertools import combinations

from shapely import STRtree
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import substring, unary_union

from recommender.documents.drawing import Drawing
from recommender.domain.case import Case
from recommender.facts.mechanical import case_geometry
from tests.documents.geometry import along, drawn_crowns, of_kind, outward, standing, together

INTERNAL = ("attachment", "double_crown", "stud")
ON_TOOTH = ("retentive_arm", "bracing_arm", "bar", "tip", "rest", "proximal_plate", "embrasure_body")
# From the gum margins of standing teeth (tables/connectors.csv CONN-001, CONN-006: lectures on major connectors).
UPPER_MM, LOWER_MM = 6.0, 3.0
BARS = ("lingual_bar", "sublingual_bar", "labial_bar")
OFF_THE_TEETH = ("palatal_strap", "palatal_bar", "anteroposterior_strap", "anteroposterior_bar", "u_shaped")
# A fillet beside a minor connector, or beside metal that goes over to a base, lies nearer to the gum.
FILLET_MM = 3.2


def crossings(case: Case, drawing: Drawing) -> list[str]:
    """No part lies over a tooth that it does not belong to (common practice, no source)."""
    teeth = drawn_crowns(drawing)
    found = []
    for part in of_kind(drawing, *ON_TOOTH, "base", "minor_connector"):
        own = set() if part.kind in ("base", "minor_connector") else set(part.teeth)
        for tooth in standing(case) - own:
            over = part.shape.intersection(teeth[tooth]).area
            if over > 0.08 and not (part.kind == "minor_connector" and tooth in part.teeth):
                found.append(f"{part.kind} of {part.teeth} lies over {tooth} by {over:.2f} mm2")
    return found


def tips(case: Case, drawing: Drawing) -> list[str]:
    """Every arm ends on its tooth, in the zone that the design names (Carr and Brown, McCracken's: the tip engages the
    undercut that was measured for it; from memory)."""
    geometry, teeth = case_geometry(case), drawn_crowns(drawing)
    assert case.design is not None
    drawn = {part.teeth[0]: part for part in of_kind(drawing, "tip")}
    found = []
    for retainer in case.design.retainers or ():
        tip = drawn.get(retainer.tooth)
        if tip is None or retainer.assembly == "extended_arm":
            continue
        end = Point(tip.path[-1])
        # The limb of a hairpin that turns back is laid out flat, below the one that it comes from.
        reach = 2.2 if retainer.assembly == "hairpin" else 0.9
        if end.distance(teeth[retainer.tooth]) > reach:
            found.append(
                f"the tip at {retainer.tooth} ends {end.distance(teeth[retainer.tooth]):.1f} mm off the tooth"
            )
        if retainer.undercut is None:
            continue
        zone, half = retainer.undercut.zone, geometry[retainer.tooth].mesiodistal_mm / 2
        place = along(geometry, retainer.tooth, end) / half
        out = outward(geometry, retainer.tooth, end)
        middle = outward(geometry, retainer.tooth, Point(geometry[retainer.tooth].centre))
        wrong = (
            (zone.startswith("mesi") and place > 0.15)
            or (zone.startswith("dist") and place < -0.15)
            or (zone.endswith("facial") and out < middle)
            or (zone.endswith("lingual") and out > middle)
        )
        if wrong:
            found.append(f"the tip at {retainer.tooth} lies at {place:.2f}, {out:.1f}, not {zone}")
    return found


def bars(case: Case, drawing: Drawing) -> list[str]:
    """A bar runs 3 to 5 mm from the gum margins (tables/retention.csv RET-089) and crosses its own at a right angle."""
    teeth = drawn_crowns(drawing)
    found = []
    for part in of_kind(drawing, "bar"):
        (tooth,) = part.teeth
        line = LineString(part.path)
        run = line.interpolate(line.length - 0.2), line.interpolate(line.length - 1.4)
        edge = teeth[tooth].exterior
        at = edge.project(run[0])
        a, b = edge.interpolate(max(at - 0.4, 0.0)), edge.interpolate(min(at + 0.4, edge.length))
        cosine = abs((run[1].x - run[0].x) * (b.x - a.x) + (run[1].y - run[0].y) * (b.y - a.y))
        cosine /= (run[0].distance(run[1]) * a.distance(b)) or 1.0
        if cosine > 0.26:  # more than 15 degrees off
            found.append(f"the bar at {tooth} crosses the margin askew ({cosine:.2f})")
        for other in standing(case) - {tooth}:
            if substring(line, 0, max(line.length - 4.5, 0.1)).distance(teeth[other]) < 2.0:
                found.append(f"the bar at {tooth} comes near {other}")
    return found


def one_piece(case: Case, drawing: Drawing) -> list[str]:
    """The connector is one closed outline, and every base and minor connector is joined to it."""
    assert case.design is not None
    if case.design.connector is None or not case.design.bases:
        return []
    found = []
    main = [part for part in of_kind(drawing, "connector") if part.detail == case.design.connector]
    if len(main) != 1 or not isinstance(main[0].shape, Polygon):
        return [f"the connector is {[part.shape.geom_type for part in main]}"]
    metal, resin = main[0].shape, together(p for p in of_kind(drawing, "connector") if p.detail == "resin")
    if not metal.is_valid or metal.area < 10:
        found.append(f"the connector is no sound outline ({metal.area:.1f} mm2)")
    for part in of_kind(drawing, "minor_connector"):
        if part.shape.difference(metal).area > 0.02 * part.shape.area or part.shape.area < 0.3:
            found.append(f"the minor connector at {part.teeth} {part.detail} is not part of it")
    sites = {(part.teeth[0], part.detail) for part in of_kind(drawing, "minor_connector")}
    listed = {(m.tooth, m.site) for m in case.design.minor_connectors or () if m.tooth in standing(case)}
    covered = {t for t, crown in drawn_crowns(drawing).items() if metal.distance(crown) < 0.2}
    found += [f"no minor connector at {one}" for one in listed - sites if one[0] not in covered]
    for part in of_kind(drawing, "base"):
        if case.design.connector == "unilateral" and part.shape.distance(metal) > 12:
            continue
        if part.shape.distance(unary_union([metal, resin])) > 0.3:
            found.append(f"the base {part.teeth} is not joined")
    return found


def clearances(case: Case, drawing: Drawing) -> list[str]:
    """Upper borders keep 6 mm from the gum margins, lower bars 3 mm (CONN-001, CONN-006), but where metal comes up to a
    seat, goes over to a base, or lies on the teeth."""
    assert case.design is not None
    name, teeth = case.design.connector, drawn_crowns(drawing)
    metal = together(part for part in of_kind(drawing, "connector") if part.detail == name)
    bases = together(of_kind(drawing, "base"))
    plated = {tooth for plating in case.design.plating or () for tooth in plating.teeth}
    if name is None or metal.is_empty:
        return []
    least = UPPER_MM if name in OFF_THE_TEETH else LOWER_MM if name in BARS else 0.0
    uprights = [
        LineString(part.path).buffer(1.3)
        for part in of_kind(drawing, "minor_connector")
        if len(part.path) > 1
    ]
    freed = unary_union([*uprights, bases]).buffer(FILLET_MM)
    away = [t for t in standing(case) if bases.is_empty or teeth[t].distance(bases) > 3.0]
    body = metal.difference(freed)
    found = []
    for tooth in away:
        if tooth not in plated and least and body.distance(teeth[tooth]) < least - 0.05:
            found.append(f"the {name} lies {body.distance(teeth[tooth]):.2f} mm from {tooth}")
    return found


def words(drawing: Drawing) -> list[str]:
    """No words overlap each other or touch the drawing, and none leave the paper; no leader runs through words."""
    boxes = [(one.words, box(*one.bounds)) for one in drawing.words if one.words.strip()]
    ink = [drawing.on_paper(part.shape) for part in drawing.parts if part.kind != "indirect_retainer"]
    tree = STRtree(ink)
    found = [
        f"'{a}' lies over '{b}'"
        for (a, here), (b, there) in combinations(boxes, 2)
        if here.intersects(there) and here.intersection(there).area > 1e-6
    ]
    for said, area in boxes:
        for index in tree.query(area, predicate="intersects"):
            found.append(f"'{said}' touches {ink[index].geom_type} {drawing.parts[index].kind}")
    for line in drawing.leaders:
        path = LineString(line)
        found += [f"a leader runs through '{said}'" for said, area in boxes if path.intersects(area)]
    return found


def faults(case: Case, drawing: Drawing) -> list[str]:
    """All of them."""
    found = crossings(case, drawing) + tips(case, drawing) + bars(case, drawing)
    return found + one_piece(case, drawing) + clearances(case, drawing) + words(drawing)
