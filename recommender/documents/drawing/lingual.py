"""Outlines of lower major connectors.

Heights below the gum margin are laid out flat beside the teeth: a lingual bar that starts 3.5 mm under the margins
is drawn 3.5 mm to the lingual of them. Figures: the option catalogue, ``shared/drawing.yaml``.
"""

from collections.abc import Sequence

from shapely.geometry import LineString, box
from shapely.geometry import Point as Spot
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from recommender.documents.drawing.figures import size
from recommender.documents.drawing.frame import Frame
from recommender.documents.drawing.palate import rear_of
from recommender.documents.drawing.plating import scallops
from recommender.documents.drawing.shapes import largest, opened, ribbon
from recommender.domain.options import Option

Run = tuple[float, float]
# How far between the teeth the lingual embrasures reach beyond the line along the lingual faces.
_EMBRASURE_MM = 2.2


def lower_margin(height_mm: float, floor_mm: float | None) -> float:
    """How far below the gum margins a bar begins: 4 mm where the floor leaves room, never less than 3."""
    if floor_mm is None:
        return size("lower_margin_usual")
    return min(max(floor_mm - height_mm, size("lower_margin_least")), size("lower_margin_most"))


def lower_connector(
    frame: Frame, option: Option, run: Run, plated: Sequence[int], stepped: bool, floor_mm: float | None
) -> list[tuple[str, BaseGeometry]]:
    """The body of the connector from station to station, as named pieces; ``plated`` teeth are covered.

    ``floor_mm``: recorded depth of the floor of the mouth, where known.
    """
    extra = {key: float(value) for key, value in option.extra.items() if isinstance(value, (int, float))}
    name = option.id
    height = extra.get("height_mm", extra.get("bar_height_mm", 4.0))
    margin = lower_margin(height, floor_mm)
    if name == "lingual_bar":
        return [(name, _bar(frame, run, margin, height))]
    if name == "sublingual_bar":
        # Turned flat on the floor: seen from above it is as wide as it is thick, and lies deeper by its height.
        margin = max(lower_margin(height, floor_mm), extra.get("margin_clearance_mm", 3.0))
        return [(name, _bar(frame, run, margin + height, extra.get("thickness_mm", 4.0)))]
    if name == "lingual_bar_cingulum_bar":
        bar = _bar(frame, run, margin, height)
        upper = _on_cingula(frame, plated, extra.get("upper_bar_height_mm", 3.0))
        return [(name, unary_union([bar, upper, *_risers(frame, plated, margin)]))]
    if name in ("linguoplate", "interrupted_linguoplate"):
        body = unary_union([_bar(frame, run, margin, height), _apron(frame, plated, margin, height, stepped)])
        return [(name, opened(largest(body), 0.25))]
    if name == "cingulum_bar":
        tall = extra.get("height_mm", 3.0)
        return [(name, unary_union([_on_cingula(frame, plated, tall), *_ends(frame, plated, run, tall)]))]
    if name == "labial_bar":
        margin = max(extra.get("margin_clearance_mm", 3.0), size("lower_margin_least"))
        return [(name, _bar(frame, run, margin, extra.get("height_mm", 5.0), labial=True))]
    if name == "hinged_labial_bar":
        return [(name, _bar(frame, run, size("lower_margin_usual"), 4.0)), *_gate(frame, plated)]
    return []


def one_sided(frame: Frame, run: Run) -> BaseGeometry:
    """A connector that stays on one side: a short band beside what it joins."""
    upper = frame.arch == "maxilla"
    near = size("upper_margin") if upper else size("lower_margin_usual")
    wide = size("one_sided_width")
    band = frame.lines.around(near + wide).difference(frame.lines.around(near))
    band = band.intersection(frame.lines.mouth)
    low, high = run
    mine = band.difference(unary_union([rear_of(frame, low), rear_of(frame, high)]))
    if high < 8.0:
        mine = band.intersection(rear_of(frame, high)).difference(rear_of(frame, low))
    elif low > 8.0:
        mine = band.intersection(rear_of(frame, low)).difference(rear_of(frame, high))
    return opened(largest(mine), wide * 0.4)


def _bar(frame: Frame, run: Run, near: float, tall: float, labial: bool = False) -> BaseGeometry:
    """A bar of even height at one distance from the row of teeth, with rounded ends."""
    if labial:
        band = frame.lines.outside(near + tall).difference(frame.lines.outside(near))
    else:
        upper, lower = frame.lines.below(near, tall)
        band = lower.difference(upper).intersection(frame.lines.mouth)
    for station in run:
        band = band.difference(rear_of(frame, station))
    return opened(largest(band), tall * 0.42)


def _apron(frame: Frame, plated: Sequence[int], margin: float, height: float, stepped: bool) -> BaseGeometry:
    """From the scalloped edge on the teeth down to the lower border of the bar."""
    if not plated:
        return unary_union([])
    stations = [frame.station(tooth) for tooth in plated]
    first, last = min(stations) - 0.5, max(stations) + 0.5
    low = margin + height
    gum = frame.lines.below(margin, height)[1].intersection(frame.between(first, last, low + 2.0, 1.0))
    gum = gum.intersection(frame.lines.mouth.buffer(_EMBRASURE_MM)).difference(frame.standing_crowns)
    lingual = frame.lingual_band(first, last, 0.0, low + 2.0)
    return unary_union(
        [gum.intersection(lingual.buffer(_EMBRASURE_MM + 0.2)), scallops(frame, plated)]
    ).buffer(0.03)


def _on_cingula(frame: Frame, plated: Sequence[int], tall: float) -> BaseGeometry:
    """A band over the cingula that leaves the gum margins free."""
    if not plated:
        return unary_union([])
    stations = [frame.station(tooth) for tooth in plated]
    below = size("cingulum_bar_below_edge")
    row = frame.lines.row
    band = row.buffer(-below).difference(row.buffer(-below - tall * 0.8))
    sector = frame.between(min(stations) - 0.46, max(stations) + 0.46, 3.0, -1.2)
    lingual = frame.lines.mouth.buffer(tall + 1.5)
    return opened(largest(band.intersection(sector).intersection(lingual)), 0.7)


def _ends(frame: Frame, plated: Sequence[int], run: Run, tall: float) -> list[BaseGeometry]:
    """From the ends of a bar on the teeth down to what it joins, 3 to 4 mm clear of the gum margins on its way."""
    if not plated:
        return [_bar(frame, run, size("lower_margin_usual"), tall)]
    covered = [frame.station(tooth) for tooth in plated]
    found: list[BaseGeometry] = []
    away = size("lower_margin_usual") + tall / 2
    for end, edge, sign in ((run[0], min(covered) - 0.5, -1.0), (run[1], max(covered) + 0.5, 1.0)):
        if (end - edge) * sign <= 0.1:
            continue
        riser = [frame.lingual_point(edge, d) for d in (-1.8, 0.0, away)]
        found.append(ribbon(riser, size("minor_width") * 1.2).difference(frame.standing_crowns))
        steps = [edge + (end - edge) * k / 12 for k in range(13)]
        found.append(ribbon(frame.lingual(steps, away), tall))
    return found


def _risers(frame: Frame, plated: Sequence[int], margin: float) -> list[BaseGeometry]:
    """What joins two bars at the sides, through the embrasures beside the plated teeth."""
    if not plated:
        return []
    stations = [frame.station(tooth) for tooth in plated]
    found: list[BaseGeometry] = []
    for station in (min(stations) - 0.5, max(stations) + 0.5):
        points = [frame.lingual_point(station, d, 0.0) for d in (-2.2, 0.0, margin + 1.0)]
        strip = ribbon(points, size("minor_width") * 1.1)
        found.append(strip.difference(frame.near(strip, *plated)))
    return found


def _gate(frame: Frame, plated: Sequence[int]) -> list[tuple[str, BaseGeometry]]:
    """A facial bar hinged on one side and latched on the other, struts up to the front teeth."""
    teeth = sorted(plated, key=frame.station)
    stations = [frame.station(tooth) for tooth in teeth] or [6.5, 9.5]
    low, high = stations[0] - 0.6, stations[-1] + 0.6
    near, tall = size("gate_margin"), size("gate_height")
    steps = [low + (high - low) * k / 40 for k in range(41)]
    gate = [ribbon(frame.facial(steps, near + tall / 2), tall)]
    for station in stations:
        strut = ribbon([frame.facial_point(station, d) for d in (near + 0.5, 0.3)], 1.6, 1.2)
        gate.append(strut.difference(frame.near(strut)))
    hinge = Spot(frame.facial_point(low, near + tall / 2)).buffer(1.7)
    x, y = frame.facial_point(high, near + tall / 2)
    latch = box(x - 1.5, y - 1.5, x + 1.5, y + 1.5)
    return [("gate", unary_union(gate)), ("hinge", hinge), ("latch", latch)]


def torus_outlines(frame: Frame, torus: str | None) -> list[BaseGeometry]:
    """Lower tori as recorded: a swelling on the lingual beside the premolars of each side."""
    if torus in (None, "none"):
        return []
    grown = 1.0 if torus == "large" else 0.65
    found = []
    for station in (3.9, 12.1):
        half = size("lower_torus_length") / 2 / 7.5 * grown
        wide = size("lower_torus_width") * grown
        line = LineString(
            frame.lingual([station - half * 0.7, station, station + half * 0.7], 2.0 + wide / 2)
        )
        found.append(line.buffer(wide / 2, quad_segs=8))
    return found


def floor_line(frame: Frame, floor_mm: float | None) -> BaseGeometry | None:
    """The raised floor of the mouth, where its depth was recorded."""
    if floor_mm is None:
        return None
    least = size("lower_margin_least")
    ring = frame.lines.below(least, max(floor_mm - least, 0.5))[1].exterior.intersection(
        frame.lines.mouth.buffer(-1.0)
    )
    for station in (3.0, 13.0):
        ring = ring.difference(rear_of(frame, station))
    return ring
