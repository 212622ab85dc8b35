"""Outlines of upper major connectors in the plane of the drawing (mm).

Widths and distances are those of the option catalogue (``extra``), which names their sources; where a connector
crosses the midline its borders cross at right angles. Distances are laid out flat, as on a design card.
"""

import math
from collections.abc import Sequence

from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from recommender.documents.content import size
from recommender.documents.frame import Frame
from recommender.domain.options import Option
from recommender.mechanics.arch import Point
from recommender.mechanics.figures import figure_band, figures

Run = tuple[float, float]
_FAR = 90.0


def vibrating_line(frame: Frame, palate_length_mm: float | None) -> float:
    """How far forward (mm, negative is behind the molar line) the rear border of the palate lies."""
    front = frame.lingual_point(8.0)[1]
    length = palate_length_mm if palate_length_mm is not None else size("palate_length")
    lowest = frame.place(18).centre[1]
    return min(front - size("papilla_behind_incisors") - length, lowest)


def upper_connector(
    frame: Frame, option: Option, runs: Sequence[Run], palate_length_mm: float | None
) -> list[tuple[str, BaseGeometry]]:
    """The body of the connector, as one or two named pieces. ``runs`` are the stations of bases and clasped teeth."""
    rear = vibrating_line(frame, palate_length_mm)
    extra = {key: float(value) for key, value in option.extra.items() if isinstance(value, (int, float))}
    name = option.id
    # Distances over the slope of the vault are longer than their plan, which is what is drawn.
    slope = figure_band(figures("connectors")["vault"]).typical
    margin = extra.get("margin_clearance_mm", 6.0) / slope
    if name in ("complete_plate", "metal_resin_plate"):
        whole = _palate(frame).intersection(box(-_FAR, rear, _FAR, _FAR)).buffer(-0.15)
        if name == "complete_plate":
            return [(name, whole)]
        junction = (frame.lingual_point(8.0)[1] + rear) / 2
        return [
            (name, whole.intersection(box(-_FAR, junction, _FAR, _FAR))),
            ("resin", whole.intersection(box(-_FAR, rear, _FAR, junction - 0.3))),
        ]
    if name in ("palatal_strap", "palatal_bar"):
        wide = extra.get("usual_width_mm", extra.get("max_width_mm", 8.0) - 1.0)
        return [(name, _strap(frame, runs, wide, margin, rear, flare=name == "palatal_strap"))]
    inside = _palate(frame).buffer(-margin)
    wide = extra.get("lateral_width_mm", extra.get("min_width_mm", 8.0)) / slope
    hollow = _palate(frame).buffer(-(margin + wide))
    if name == "u_shaped":
        end = max(
            rear + 4.0, min((frame.lingual_point(s)[1] for run in runs for s in run), default=rear) - 2.0
        )
        body = inside.difference(hollow).intersection(box(-_FAR, end, _FAR, _FAR))
        return [(name, _eased(body, 1.6))]
    # A ring: one member in front, one behind, joined at the sides.
    front = frame.lingual_point(8.0)[1] - margin - size("front_strap_behind_margin")
    back = rear + size("rear_border_before_vibrating_line")
    end = max(back, min((frame.lingual_point(s)[1] for run in runs for s in run), default=back) - 6.0)
    opening = extra.get("min_opening_mm", 15.0)
    cross = extra.get("min_width_mm", 8.0)
    end = min(end, front - opening - 2 * cross)
    outer = inside.intersection(box(-_FAR, end, _FAR, front))
    window = hollow.intersection(box(-_FAR, end + cross, _FAR, front - cross))
    return [(name, _eased(outer, 3.0).difference(_eased(window, 2.0)))]


def _palate(frame: Frame) -> Polygon:
    """The palate inside the lingual line, carried straight back beyond the last teeth."""
    ring = list(frame.floor_of_mouth().exterior.coords)
    ends = frame.lingual_point(-1.5), frame.lingual_point(17.5)
    tail = Polygon([ends[0], ends[1], (ends[1][0], -_FAR), (ends[0][0], -_FAR)])
    whole = unary_union([Polygon(ring).buffer(0.01), tail.buffer(0.01)])
    return whole if isinstance(whole, Polygon) else max(whole.geoms, key=lambda part: part.area)


def _strap(
    frame: Frame, runs: Sequence[Run], wide: float, margin: float, rear: float, *, flare: bool
) -> BaseGeometry:
    """A band across the palate, as long at each end as what it carries there, narrowest at the midline."""
    front_limit = frame.lingual_point(8.0)[1] - size("rugae_behind_incisors")
    rear_limit = rear + size("rear_border_before_vibrating_line")
    ends = []
    for sign in (-1, 1):
        here = [run for run in runs if (sum(run) / 2 - 8.0) * sign > 0]
        levels = [frame.lingual_point(s)[1] for run in here for s in run] or [0.0, -6.0]
        middle = (min(levels) + max(levels)) / 2
        longest = size("strap_longest_end") if flare else wide
        half = min(max(wide, max(levels) - min(levels)), longest) / 2
        top = min(middle + half, front_limit)
        ends.append((top, max(min(middle - half, top - wide), rear_limit)))
    middle = sum(sum(end) / 2 for end in ends) / 2
    top = min(middle + wide / 2, front_limit)
    span = (top, top - wide)
    upper = _border(frame, ends[0][0], ends[1][0], span[0])
    lower = _border(frame, ends[0][1], ends[1][1], span[1])
    band = Polygon([*upper, *reversed(lower)]).buffer(0)
    return band.intersection(_palate(frame)).difference(frame.standing_crowns.buffer(margin))


def _border(frame: Frame, right: float, left: float, middle: float) -> list[Point]:
    """A border from the right side to the left that crosses the midline at a right angle."""
    half = max(abs(frame.lingual_point(2.0)[0]), abs(frame.lingual_point(14.0)[0])) + 2.0
    points = []
    for step in range(-20, 21):
        x = half * step / 20
        end = right if step < 0 else left
        share = (1 - math.cos(math.pi * abs(step) / 20)) / 2
        points.append((x, middle + (end - middle) * share))
    return points


def _eased(shape: BaseGeometry, radius: float) -> BaseGeometry:
    """The shape with its corners rounded."""
    return shape.buffer(-radius).buffer(radius)
