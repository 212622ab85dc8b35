"""Outlines of lower major connectors in the plane of the drawing (mm).

Heights below the gum margin are laid out flat beside the teeth, as on a design card: a lingual bar that starts
3.5 mm under the margins is drawn 3.5 mm to the lingual of the lingual faces. Figures: the option catalogue.
"""

from collections.abc import Sequence
from itertools import pairwise

from shapely.geometry import Point as Spot
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from recommender.documents.content import size
from recommender.documents.frame import Frame, ribbon
from recommender.domain.options import Option

Run = tuple[float, float]


def lower_connector(
    frame: Frame, option: Option, run: Run, plated: Sequence[int], step_back: bool
) -> list[tuple[str, BaseGeometry]]:
    """The body of the connector from station to station, as named pieces; ``plated`` teeth are covered."""
    extra = {key: float(value) for key, value in option.extra.items() if isinstance(value, (int, float))}
    name = option.id
    margin, height = extra.get("margin_clearance_mm", 3.5), extra.get("height_mm", 4.0)
    first, last = run
    if name in ("lingual_bar", "lingual_bar_cingulum_bar"):
        bar = _rounded(frame.lingual_band(first, last, margin, margin + height))
        if name == "lingual_bar":
            return [(name, bar)]
        upper = _on_cingula(frame, plated, extra.get("upper_bar_height_mm", 3.0))
        return [(name, unary_union([bar, upper, *_risers(frame, plated, margin)]))]
    if name == "sublingual_bar":
        # It lies flat on the floor: its near edge stands the height of its section further to the lingual.
        near = margin + height
        return [
            (name, _rounded(frame.lingual_band(first, last, near, near + extra.get("thickness_mm", 4.0))))
        ]
    if name in ("linguoplate", "interrupted_linguoplate"):
        low = size("linguoplate_lower_border")
        apron = frame.lingual_band(first, last, -0.2, low)
        on_teeth = _lingual_faces(frame, plated)
        body = unary_union([_rounded(apron.difference(frame.standing_crowns)), on_teeth])
        if name == "interrupted_linguoplate" or step_back:
            body = body.difference(unary_union(_slots(frame, plated)))
        return [(name, body)]
    if name == "cingulum_bar":
        on_teeth = _on_cingula(frame, plated, extra.get("height_mm", 3.0))
        run_on = [
            ribbon([frame.lingual_point(s, 1.2) for s in _stations(a, b)], height, height)
            for a, b in _beyond(frame, plated, run)
        ]
        return [(name, unary_union([on_teeth, *(part.difference(frame.standing_crowns) for part in run_on)]))]
    if name == "labial_bar":
        return [
            (name, _rounded(frame.facial_band(first, last, margin, margin + extra.get("height_mm", 5.0))))
        ]
    if name == "hinged_labial_bar":
        return _gate(frame, run, plated)
    return []


def one_sided(frame: Frame, run: Run) -> BaseGeometry:
    """A connector that stays on one side: a short band beside what it joins."""
    near = size("one_sided_margin")
    return _rounded(frame.lingual_band(run[0], run[1], near, near + size("one_sided_width")))


def _stations(first: float, last: float) -> list[float]:
    count = max(2, int(abs(last - first) * 6) + 1)
    return [first + (last - first) * k / (count - 1) for k in range(count)]


def _beyond(frame: Frame, plated: Sequence[int], run: Run) -> list[Run]:
    """The stretches of a run on either side of the plated teeth."""
    if not plated:
        return [run]
    covered = [frame.station(tooth) for tooth in plated]
    low, high = min(covered) - 0.5, max(covered) + 0.5
    return [(a, b) for a, b in ((run[0], low + 0.1), (high - 0.1, run[1])) if b - a > 0.1]


def _lingual_faces(frame: Frame, teeth: Sequence[int]) -> BaseGeometry:
    """The lingual part of each crown that a plate covers, up to the contacts at its sides."""
    faces = []
    for tooth in teeth:
        crown = frame.outline(tooth)
        reach = size("plate_share") * frame.place(tooth).faciolingual_mm
        station = frame.station(tooth)
        band = frame.lingual_band(station - 0.62, station + 0.62, -reach, 1.0)
        faces.append(crown.intersection(band))
    return unary_union(faces).buffer(0.02)


def _on_cingula(frame: Frame, teeth: Sequence[int], height: float) -> BaseGeometry:
    """A bar across the cingula: part of its height lies over the crowns in the drawing's plane."""
    if not teeth:
        return unary_union([])
    stations = sorted(frame.station(tooth) for tooth in teeth)
    over = height * size("cingulum_bar_over_crown")
    band = frame.lingual_band(stations[0] - 0.45, stations[-1] + 0.45, -over, height * 0.15)
    return band.buffer(0.2)


def _risers(frame: Frame, teeth: Sequence[int], margin: float) -> list[BaseGeometry]:
    if not teeth:
        return []
    stations = sorted(frame.station(tooth) for tooth in teeth)
    found: list[BaseGeometry] = []
    for station in (stations[0] - 0.5, stations[-1] + 0.5):
        points = [frame.lingual_point(station, d) for d in (0.0, margin + 0.6)]
        found.append(
            ribbon(points, size("minor_width"), size("minor_width")).difference(frame.standing_crowns)
        )
    return found


def _slots(frame: Frame, teeth: Sequence[int]) -> list[BaseGeometry]:
    """Cuts behind the open spaces between plated teeth."""
    found: list[BaseGeometry] = []
    stations = sorted(frame.station(tooth) for tooth in teeth)
    for here, there in pairwise(stations):
        if there - here < 1.01:
            middle = (here + there) / 2
            points = [frame.lingual_point(middle, d) for d in (-4.0, size("step_back_depth"))]
            found.append(ribbon(points, size("step_back_width"), size("step_back_width")))
    return found


def _gate(frame: Frame, run: Run, plated: Sequence[int]) -> list[tuple[str, BaseGeometry]]:
    """A lingual bar with a facial bar hinged on one side and latched on the other, struts up to the front teeth."""
    bar = _rounded(frame.lingual_band(run[0], run[1], 3.5, 7.5))
    teeth = sorted(plated, key=frame.station)
    stations = [frame.station(tooth) for tooth in teeth] or [6.5, 9.5]
    low, high = stations[0] - 0.6, stations[-1] + 0.6
    front = [_rounded(frame.facial_band(low, high, 3.0, 5.2))]
    for station in stations:
        points = [frame.facial_point(station, d) for d in (3.4, 0.2)]
        front.append(ribbon(points, 1.4, 1.0).difference(frame.standing_crowns))
    hinge = Spot(frame.facial_point(low, 4.1)).buffer(1.5)
    x, y = frame.facial_point(high, 4.1)
    latch = box(x - 1.4, y - 1.4, x + 1.4, y + 1.4)
    return [("hinged_labial_bar", unary_union([bar, *front])), ("hinge", hinge), ("latch", latch)]


def _rounded(shape: BaseGeometry) -> BaseGeometry:
    return shape.buffer(-0.8).buffer(0.8)
