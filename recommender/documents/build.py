"""All parts of a design, in the order in which they are painted."""

from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points, unary_union

from recommender.documents.arms import Held, bar_arm, bracing_arm, suprabulge_arm
from recommender.documents.content import size
from recommender.documents.drawn import DrawnPart, largest, pieces
from recommender.documents.frame import ribbon
from recommender.documents.layout import Layout
from recommender.documents.lingual import lower_connector, one_sided
from recommender.documents.palate import upper_connector
from recommender.documents.tooth_parts import crown_part, proximal_plate, rest_parts, undercut_marks
from recommender.domain.case import expected
from recommender.domain.dentition import side_of
from recommender.domain.kennedy import gone_teeth

_ONE_SIDE_MM = 12.0
_CROWNED = ("attachment", "double_crown", "stud")


def build_parts(layout: Layout) -> tuple[list[DrawnPart], dict[DrawnPart, float]]:
    """The parts, and the depth (mm) recorded at each undercut mark."""
    bases = _bases(layout)
    connector = _connector(layout, bases)
    carried = unary_union([part.shape for part in connector + bases] or [Polygon()])
    parts = _teeth(layout) + connector + bases + _uprights(layout, carried)
    marks: dict[DrawnPart, float] = {}
    for abutment in layout.case.abutments or ():
        if abutment.tooth in layout.standing:
            marks.update(dict(undercut_marks(layout.frame, abutment)))
    parts += _plates(layout) + _rests(layout) + _retainers(layout) + list(marks) + _axis(layout)
    parts += _indirect(layout)
    return [part for part in parts if part.areas or part.path], marks


def _teeth(layout: Layout) -> list[DrawnPart]:
    found = []
    missing, gone = set(layout.case.missing), gone_teeth(layout.case)
    for tooth in layout.frame.order:
        kind = "missing_tooth" if tooth in missing else "absent_tooth" if tooth in gone else "tooth"
        found.append(DrawnPart(kind, (tooth,), "", pieces(layout.frame.outline(tooth))))
    return found


def _bases(layout: Layout) -> list[DrawnPart]:
    found = []
    for base in layout.design.bases or ():
        if not base.teeth:
            continue
        low, high = layout.base_run(base.teeth)
        ridge = layout.frame.ridge_band(low + 0.03, high - 0.03, size("base_lingual"), -size("base_facial"))
        ridge = ridge.buffer(-0.8).buffer(0.8)
        clear = ridge.difference(layout.frame.standing_crowns.buffer(size("base_gap")))
        found.append(DrawnPart("base", tuple(base.teeth), base.retention or "", pieces(clear)))
    return found


def _connector(layout: Layout, bases: list[DrawnPart]) -> list[DrawnPart]:
    name = layout.design.connector
    runs = layout.anchors()
    if name is None or not runs:
        return []
    frame = layout.frame
    option = layout.catalogue["connector"][name]
    low, high = _reach(layout, runs)
    if name == "unilateral":
        bodies: list[tuple[str, BaseGeometry]] = [(name, one_sided(frame, _own_side(layout, runs)))]
    elif layout.case.arch == "maxilla":
        length = layout.case.palate.length_mm if layout.case.palate else None
        palate = None if length is None else expected(length)
        bodies = upper_connector(frame, option, _posterior(runs), palate)
    else:
        bodies = lower_connector(frame, option, (low, high), layout.plated(), layout.step_back())
    joined = bases
    if name == "unilateral":
        # What lies across the arch is none of its business.
        joined = [part for part in bases if part.shape.distance(bodies[0][1]) < _ONE_SIDE_MM]
    joins = [_join(layout, part, bodies[0][1], option.id) for part in joined]
    main = unary_union([bodies[0][1], *joins])
    # One piece: what a margin cut off and nothing joins is no part of the connector.
    areas = [(bodies[0][0], main), *bodies[1:]]
    kinds = {"hinge": "hinge", "latch": "hinge"}
    return [
        DrawnPart(kinds.get(detail, "connector"), (), detail, pieces(shape, 1.0)) for detail, shape in areas
    ]


def _posterior(runs: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """The stretches behind the canines; all of them where there are none on a side."""
    cut = [(a, min(b, 5.0)) for a, b in runs if a < 5.0] + [(max(a, 11.0), b) for a, b in runs if b > 11.0]
    if not any(run[1] <= 8.0 for run in cut):
        cut += [run for run in runs if run[1] <= 8.0]
    if not any(run[0] >= 8.0 for run in cut):
        cut += [run for run in runs if run[0] >= 8.0]
    return cut or runs


def _reach(layout: Layout, runs: list[tuple[float, float]]) -> tuple[float, float]:
    """From which station to which a lower connector runs: a little into an extension base, no further."""
    into = size("connector_into_base_teeth")
    points = []
    for low, high in runs:
        if high - low <= into:
            points += [low, high]
        elif high <= 8.0:
            points.append(high - into)
        elif low >= 8.0:
            points.append(low + into)
        else:
            points += [low, high]
    low, high = min(points), max(points)
    # A cross-arch connector reaches the other side even where the design lists nothing there.
    return min(low, 5.0), max(high, 11.0)


def _own_side(layout: Layout, runs: list[tuple[float, float]]) -> tuple[float, float]:
    sides = [side_of(tooth) for teeth in layout.bases for tooth in teeth]
    right = sides.count("right") >= sides.count("left")
    mine = [run for run in runs if (sum(run) / 2 < 8.0) == right] or runs
    return min(run[0] for run in mine), max(run[1] for run in mine)


def _join(layout: Layout, base: DrawnPart, body: BaseGeometry, connector: str) -> BaseGeometry:
    """Metal from the lingual edge of a base to the connector."""
    frame = layout.frame
    shape = base.shape
    keep = frame.standing_crowns.buffer(size("base_gap"))
    if body.is_empty:
        return Polygon()
    low, high = layout.base_run(base.teeth)
    if layout.case.arch == "mandible":
        # A lower connector joins an extension base at its front end.
        into = size("connector_into_base_teeth")
        if high - low > into and high <= 8.0:
            low = high - into
        elif high - low > into and low >= 8.0:
            high = low + into
    if connector not in ("palatal_strap", "palatal_bar", "labial_bar", "cingulum_bar"):
        fill = frame.lingual_band(low + 0.06, high - 0.06, size("base_lingual") - 1.6, 7.0).difference(keep)
        if fill.distance(body) < 1.5 or fill.intersects(body):
            return fill.intersection(body.buffer(8.0))
    if shape.distance(body) < 0.3:
        return shape.intersection(body.buffer(0.4))
    middle = (low + high) / 2
    if connector == "labial_bar":
        outward = [frame.facial_point(middle, off) for off in (-2.0, 5.0)]
        return ribbon(outward, size("minor_width") * 1.5, size("minor_width") * 1.5).difference(keep)
    start = frame.lingual_point(middle, -1.0)
    target = nearest_points(LineString([start, (start[0] + 0.01, start[1])]), body)[1]
    strip = ribbon([start, (target.x, target.y)], size("tongue_width"), size("tongue_width"))
    return largest(strip.difference(keep))


def _uprights(layout: Layout, carried: BaseGeometry) -> list[DrawnPart]:
    """Minor connectors: from the seat or embrasure down over the gum to the connector or base."""
    frame = layout.frame
    found: list[DrawnPart] = []
    if carried.is_empty or layout.design.connector is None:
        return []
    labial = layout.design.connector == "labial_bar"
    for tooth, site in layout.uprights():
        station = frame.station(tooth, site)
        point = frame.facial_point if labial else frame.lingual_point
        inside, out = (-2.0, 1.2) if site in ("mesial", "distal") else (-0.3, 1.2)
        start, bend = point(station, inside), point(station, out)
        spot = nearest_points(LineString([bend, (bend[0] + 0.01, bend[1])]), carried)[1]
        direction = point(station, 9.0)
        straight = LineString([bend, direction]).intersection(carried)
        goal = (spot.x, spot.y)
        if not straight.is_empty:
            hit = nearest_points(LineString([bend, (bend[0] + 0.01, bend[1])]), straight)[1]
            goal = (hit.x, hit.y)
        strip = ribbon([start, bend, goal], size("minor_width"), size("minor_width"))
        clear = strip.difference(frame.standing_crowns.buffer(0.02)).difference(carried)
        touching = [part for part in getattr(clear, "geoms", [clear]) if part.distance(carried) < 0.3]
        # What lies on the tooth's side of a neighbour's crown belongs to the strip as long as it is joined.
        areas = pieces(unary_union(touching), 0.1) if touching else pieces(largest(clear), 0.1)
        found.append(DrawnPart("minor_connector", (tooth,), site, areas, (start, bend, goal)))
    return found


def _plates(layout: Layout) -> list[DrawnPart]:
    return [
        proximal_plate(layout.frame, plate.tooth, plate.surface)
        for plate in layout.design.proximal_plates or ()
        if plate.tooth in layout.standing
    ]


def _rests(layout: Layout) -> list[DrawnPart]:
    return [
        part
        for tooth, rest in layout.rests().items()
        if tooth in layout.standing
        for part in rest_parts(layout.frame, tooth, rest, layout.rest_side(tooth, rest))
    ]


def _retainers(layout: Layout) -> list[DrawnPart]:
    frame = layout.frame
    rests = layout.rests()
    bracing: list[DrawnPart] = []
    holding: list[DrawnPart] = []
    for retainer in layout.design.retainers or ():
        held = layout.held(retainer)
        if held.option.id in _CROWNED:
            holding.append(crown_part(frame, held.tooth, held.option.id, held.near))
            continue
        if held.tooth not in layout.standing:
            continue
        front_seat = rests.get(held.tooth) in ("cingulum", "incisal")
        bracing += bracing_arm(frame, held, held.tooth in layout.spaces_at, front_seat)
        holding += suprabulge_arm(frame, held)
        holding += bar_arm(frame, held, _leaves_base(layout, held))
        if held.option.id == "rigid_rotational":
            plate = proximal_plate(frame, held.tooth, held.near)
            holding.append(DrawnPart("retentive_arm", plate.teeth, held.option.id, plate.areas, plate.path))
    return bracing + holding


def _leaves_base(layout: Layout, held: Held) -> float | None:
    """Where a bar leaves the base beside its tooth; ``None`` where no base lies there."""
    if not layout.beside_base(held.tooth, held.near):
        return None
    return layout.frame.neighbour_station(held.tooth, held.near, 0.45)


def _indirect(layout: Layout) -> list[DrawnPart]:
    """Where the mark of an indirect retainer stands: at its rest."""
    rests = layout.rests()
    found = []
    for tooth in sorted(layout.indirect() & set(layout.standing)):
        at = layout.frame.facial_point(layout.frame.station(tooth), size("indirect_mark_off"))
        found.append(DrawnPart("indirect_retainer", (tooth,), rests.get(tooth, ""), (), (at, at)))
    return found


def _axis(layout: Layout) -> list[DrawnPart]:
    ends = layout.axis()
    if ends is None:
        return []
    points = []
    for tooth, rest in ends:
        found = rest_parts(layout.frame, tooth, rest, layout.rest_side(tooth, rest))
        shape = found[-1].shape if rest != "mesial_distal" else unary_union([part.shape for part in found])
        points.append(shape.centroid)
    (ax, ay), (bx, by) = ((p.x, p.y) for p in points)
    length = ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5 or 1.0
    beyond = size("fulcrum_beyond")
    dx, dy = (bx - ax) / length * beyond, (by - ay) / length * beyond
    line = ((round(ax - dx, 3), round(ay - dy, 3)), (round(bx + dx, 3), round(by + dy, 3)))
    return [DrawnPart("fulcrum", tuple(tooth for tooth, _ in ends), "", (), line)]
