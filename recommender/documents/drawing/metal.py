"""The metal that joins everything: the major connector, its minor connectors and its tongues to the bases, as one
closed outline; bead line, relief and finish lines on it."""

import numpy as np
from shapely.geometry import LineString
from shapely.geometry import Point as Spot
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points, unary_union

from recommender.documents.drawing.bases import finish_lines
from recommender.documents.drawing.figures import size
from recommender.documents.drawing.frame import Frame
from recommender.documents.drawing.layout import Layout
from recommender.documents.drawing.lingual import lower_connector, one_sided
from recommender.documents.drawing.palate import Palate, midline, torus_outline, upper_connector
from recommender.documents.drawing.plating import slots
from recommender.documents.drawing.shapes import (
    EMPTY,
    Curve,
    DrawnPart,
    closed,
    largest,
    opened,
    polygons,
    ribbon,
    strokes,
    tuples,
)
from recommender.domain.dentition import side_of

_ONE_SIDE_MM = 12.0
# In teeth: how far the tongue to an extension base falls short of the connector's reach, and the ends of a lower
# connector of that tongue and of the middle of its last minor connector; their corners are rounded together.
_TONGUE_SHORT, _SHORT_OF_BASE, _SHORT_OF_STRUT = 0.2, 0.36, 0.05
_KINDS = {"hinge": "hinge", "latch": "hinge"}
_HORN_MM = 0.35  # no sharp horns beside the cuts of a plate
_BARS_ON_TEETH = ("cingulum_bar", "lingual_bar_cingulum_bar")


def metal(layout: Layout, palate: Palate | None, bases: list[DrawnPart]) -> list[DrawnPart]:
    """The connector and all that belongs to it; empty where the design names none or there is nothing to join."""
    name = layout.design.connector
    runs = layout.anchors()
    if name is None or not runs:
        return []
    bodies = _bodies(layout, palate, runs)
    if not bodies or bodies[0][1].is_empty:
        return []
    body = largest(bodies[0][1])
    grounds = [part for part in bases if part.kind == "base"]
    if name == "unilateral":
        # What lies across the arch is none of its business.
        grounds = [part for part in grounds if part.area.distance(body) < _ONE_SIDE_MM]
    tongues = [_tongue(layout, part, body) for part in grounds]
    if name == "metal_resin_plate":
        # Behind the junction resin meets resin.
        tongues = [largest(tongue.intersection(body.buffer(1.0))) for tongue in tongues]
    solid = unary_union([body, *tongues])
    struts = _struts(layout, solid)
    strips = [strip for _, _, strip, _ in struts]
    whole = _one_piece(layout.frame, body, tongues, strips, layout.plated(), name in _BARS_ON_TEETH)
    if layout.stepped():
        whole = largest(opened(whole.difference(slots(layout.frame, layout.plated())), _HORN_MM))
    found = [DrawnPart("connector", (), bodies[0][0], whole, decision="connector")]
    resin: BaseGeometry = EMPTY
    for detail, shape in bodies[1:]:
        area = shape
        if detail == "resin":
            area = resin = largest(shape.difference(whole))
        found.append(
            DrawnPart(_KINDS.get(detail, "connector"), (), detail, largest(area), decision="connector")
        )
    for tooth, site, strip, line in struts:
        area = largest(strip.intersection(whole).difference(solid.buffer(-0.4)))
        found.append(DrawnPart("minor_connector", (tooth,), site, area, tuples(line), decision="connector"))
    found += finish_lines(bases, whole, resin)
    if palate is not None:
        found += _bead(layout, palate, whole, grounds, [strip for _, _, strip, _ in struts])
        found += _relief(palate, whole)
    return found


def _bodies(
    layout: Layout, palate: Palate | None, runs: list[tuple[float, float]]
) -> list[tuple[str, BaseGeometry]]:
    frame, name = layout.frame, layout.design.connector
    assert name is not None
    option = layout.catalogue["connector"][name]
    if name == "unilateral":
        return [(name, one_sided(frame, _own_side(layout, runs)))]
    if palate is not None:
        carried = runs if name == "u_shaped" else _posterior(runs)
        return upper_connector(frame, option, palate, carried, layout.plated())
    return lower_connector(frame, option, _reach(runs), layout.plated(), layout.stepped(), layout.floor_mm())


def _posterior(runs: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """The stretches behind the canines; all of them where there are none on a side."""
    cut = [(a, min(b, 5.0)) for a, b in runs if a < 5.0] + [(max(a, 11.0), b) for a, b in runs if b > 11.0]
    if not any(run[1] <= 8.0 for run in cut):
        cut += [run for run in runs if run[1] <= 8.0]
    if not any(run[0] >= 8.0 for run in cut):
        cut += [run for run in runs if run[0] >= 8.0]
    return cut or runs


def _reach(runs: list[tuple[float, float]]) -> tuple[float, float]:
    """From which station to which a lower connector runs: a little into an extension base, where its tongue ends, and
    to the middle of the last minor connector, so that no stump stands beyond what it joins."""
    into = size("connector_into_base_teeth") - _SHORT_OF_BASE
    points = []
    for low, high in runs:
        if high - low <= into:
            points += [low + _SHORT_OF_STRUT, high - _SHORT_OF_STRUT]
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
    # It goes no further into an extension base than its tongue does.
    into, order = size("connector_into_base_teeth") - _SHORT_OF_BASE, layout.frame.order
    points = []
    for low, high in mine:
        behind = order[max(int(low) - 1, 0)] if right else order[min(int(high), 15)]
        if high - low > into and behind not in layout.standing:
            low, high = (high - into, high) if right else (low, low + into)
        points += [low, high]
    return min(points), max(points)


def _tongue(layout: Layout, base: DrawnPart, body: BaseGeometry) -> BaseGeometry:
    """Metal from the lingual edge of a base to the connector, over the width of the base that it carries."""
    frame, name = layout.frame, layout.design.connector
    low, high = layout.base_run(base.teeth)
    if layout.case.arch == "mandible":
        # A lower connector joins an extension base at its front end.
        into = size("connector_into_base_teeth") - _TONGUE_SHORT
        if high - low > into and high <= 8.0:
            low = high - into
        elif high - low > into and low >= 8.0:
            high = low + into
    keep = frame.grown(size("base_gap"))
    start = size("base_lingual") - 1.2
    if name == "labial_bar":
        steps = [-2.0, 5.0]
        strip = ribbon([frame.facial_point((low + high) / 2, off) for off in steps], size("tongue_width"))
        return largest(strip.difference(keep))
    deep = size("upper_margin") + 1.5 if frame.arch == "maxilla" else size("lower_margin_most") + 1.2
    if frame.arch == "mandible" and name != "unilateral":
        # A bar deep on the floor of the mouth lies further from the base.
        deep = max(deep, min(base.area.distance(body) + size("base_lingual") + 1.0, 11.0))
    fill = frame.lingual_band(low + 0.05, high - 0.05, start, deep).difference(keep)
    if fill.distance(body) < 1.0:
        return largest(fill)
    if base.area.distance(body) < 0.3:
        return base.area.intersection(body.buffer(0.6))
    wide = min(size("tongue_width"), (high - low) * 5.0)
    strip = ribbon(_strut_line(frame, body, (low + high) / 2, "base", False, wide), wide)
    return largest(strip.difference(keep))


def _struts(layout: Layout, solid: BaseGeometry) -> list[tuple[int, str, BaseGeometry, Curve]]:
    """Minor connectors: from each seat or embrasure straight over the gum margin to the metal that carries it."""
    frame = layout.frame
    labial = layout.design.connector == "labial_bar"
    found = []
    lain_on = set(layout.plated()) if layout.design.connector != "hinged_labial_bar" else set()
    for tooth, site in layout.uprights():
        if tooth in lain_on:
            continue  # metal that lies on the tooth carries its seat
        line = _strut_line(frame, solid, frame.station(tooth, site), site, labial, size("minor_width"))
        strip = ribbon(line, size("minor_width"), size("minor_width") * 1.15)
        found.append((tooth, site, strip, line))
    return found


def _strut_line(
    frame: Frame, solid: BaseGeometry, station: float, site: str, labial: bool, wide: float
) -> Curve:
    """The middle line of a strut ``wide`` mm wide: over the gum margin at a right angle, on to the nearest metal."""
    point = frame.facial if labial else frame.lingual
    gum = point([station], 0.0)[0]
    inward = point([station], 1.0)[0] - gum
    inward = inward / np.hypot(*inward)
    start = gum - inward * {"mesial": 1.8, "distal": 1.8, "base": -0.2}.get(site, 0.9)
    reach = 16.0
    ray = LineString([gum - inward * 0.4, gum + inward * reach])
    hit = ray.intersection(solid)
    if not hit.is_empty:
        away = Spot(gum).distance(hit)
        return np.array([start, gum + inward * (away + 1.0)])
    # Nothing straight ahead: along the teeth at the connector's distance, to the nearest metal.
    deep = (size("upper_margin") if frame.arch == "maxilla" else size("lower_margin_most")) + 0.6 * wide + 0.2
    best: Curve | None = None
    for sign in (-1.0, 1.0):
        steps = np.arange(station, station + sign * 8.0, sign * 0.1)
        run = point(steps, deep)
        inside = [k for k in range(len(run)) if solid.distance(Spot(run[k])) < 0.05]
        if inside and (best is None or inside[0] < len(best)):
            best = run[: inside[0] + 4]
    if best is None:
        goal = nearest_points(Spot(gum + inward * deep), solid)[1]
        return np.array([start, gum + inward * deep * 0.6, (goal.x, goal.y)])
    from recommender.documents.drawing.shapes import eased

    return np.vstack((start, eased(np.vstack((gum, gum + inward * (deep - 1.5), best[3:])), 2)))


def _one_piece(
    frame: Frame,
    body: BaseGeometry,
    tongues: list[BaseGeometry],
    struts: list[BaseGeometry],
    plated: list[int],
    bar_on_teeth: bool,
) -> BaseGeometry:
    """Everything as one closed outline, its inward corners filleted, off every crown that it is not meant to lie on."""
    bare = frame.grown(0.02)
    strips = [strip.difference(bare) for strip in struts]
    pieces = _bridged(unary_union([body, *tongues, *strips]).simplify(0.02), frame.standing_crowns)
    # Fillets do not climb on to the crowns, but where a bar crosses them.
    off = frame.others(*plated) if bar_on_teeth else bare
    filled = closed(pieces, size("minor_gap_least") / 2).difference(off)
    whole = unary_union([filled, pieces])
    if plated:
        whole = whole.difference(frame.others(*plated))
    return largest(opened(largest(whole), 0.15)).simplify(0.015)


def _bridged(shape: BaseGeometry, crowns: BaseGeometry) -> BaseGeometry:
    """The pieces of a shape joined to the greatest of them; bits that only lie against crowns are left out."""
    found = sorted(polygons(shape, 0.6), key=lambda piece: -piece.area)
    if not found:
        return EMPTY
    main: BaseGeometry = found[0]
    for piece in found[1:]:
        a, b = nearest_points(main, piece)
        link = LineString([(a.x, a.y), (b.x, b.y)])
        strip = link.buffer(size("minor_width") / 2) if link.length else Spot(a.x, a.y).buffer(0.6)
        main = unary_union([main, piece, strip.difference(crowns)])
    return largest(main)


def _bead(
    layout: Layout, palate: Palate, whole: BaseGeometry, grounds: list[DrawnPart], struts: list[BaseGeometry]
) -> list[DrawnPart]:
    """The bead along the borders on the palate; it fades out before the gum margins, and leaves the bases alone."""
    frame = layout.frame
    inner = whole.buffer(-size("bead_inset"), quad_segs=6)
    edges = unary_union([ring for p in polygons(inner) for ring in (p.exterior, *p.interiors)])
    keep = [frame.grown(size("bead_fade")), *(part.area.buffer(2.0) for part in grounds)]
    keep += [strip.buffer(0.2) for strip in struts]
    torus = torus_outline(palate)
    if torus is not None:
        keep.append(torus)
    lines = strokes(edges.difference(unary_union(keep)), 2.0)
    return [DrawnPart("bead_line", (), "", lines=tuple(lines), decision="connector")] if lines else []


def _relief(palate: Palate, whole: BaseGeometry) -> list[DrawnPart]:
    """Where the metal is relieved: over a torus, and over the raphe where it is hard."""
    inner = whole.buffer(-size("bead_inset") * 1.6)
    found = []
    torus = torus_outline(palate)
    raphe = midline(palate).buffer(size("raphe_relief_width") / 2, cap_style="round")
    if torus is not None:
        area = inner.intersection(torus.buffer(size("torus_clear") / 2))
        if area.area > 1.0:
            found.append(DrawnPart("relief", (), "torus", area, decision="connector"))
        raphe = raphe.difference(torus.buffer(size("torus_clear")))
    area = unary_union(polygons(opened(inner.intersection(raphe), 0.5), 3.0))
    if not area.is_empty:
        found.append(DrawnPart("relief", (), "raphe", area, decision="connector"))
    return found
