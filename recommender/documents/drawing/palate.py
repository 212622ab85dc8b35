"""Outlines of upper major connectors, and the palate that they lie on.

Widths are those of the option catalogue (``extra``), which names their sources. Every border keeps its published
distance from the gum margins of standing teeth, or lies up on the teeth; borders cross the midline at right angles
and follow the rugae.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from recommender.documents.drawing.figures import size
from recommender.documents.drawing.frame import Frame
from recommender.documents.drawing.plating import scallops
from recommender.documents.drawing.shapes import Curve, closed, largest, opened
from recommender.domain.options import Option
from recommender.mechanics.figures import figure_band, figures

Run = tuple[float, float]
_FAR = 95.0
# How smooth the inner border of a U or a ring is, and how much of its width that may cost.
_SMOOTH_MM, _LESS_WIDE_MM = 25.0, 1.0
_ACROSS = np.linspace(-45.0, 45.0, 91)


@dataclass(frozen=True, slots=True)
class Palate:
    """Where the palate's landmarks lie (y in mm): ``front`` is the lingual of the incisors, ``rear`` the vibrating
    line in the midline; ``torus`` as recorded."""

    front: float
    rear: float
    torus: str = "none"

    def vibrating_line(self, x: Curve) -> Curve:
        """The rear border of the palate: bowed, furthest back in the midline."""
        share = np.clip(np.abs(x) / 20.0, 0.0, 1.0)
        return np.asarray(self.rear + size("vibrating_line_bow") * share**2)

    def ruga(self, x: Curve, forward: float) -> Curve:
        """A line along the rugae that crosses the midline at a right angle ``forward`` mm before the molar line."""
        return np.asarray(forward - 0.022 * x * x + 0.3 * (1 - np.cos(np.clip(np.abs(x), 0.0, 13.0) * 0.75)))


def palate_of(frame: Frame, length_mm: float | None, torus: str | None) -> Palate:
    """The palate of an arch; an unrecorded length is taken as usual."""
    front = frame.lingual_point(8.0)[1]
    rear = (
        front - size("papilla_behind_incisors") - (size("palate_length") if length_mm is None else length_mm)
    )
    lowest = min(frame.place(18).distal[1], frame.place(28).distal[1]) + 1.0
    return Palate(front, min(rear, lowest), torus or "none")


def upper_connector(
    frame: Frame, option: Option, palate: Palate, runs: Sequence[Run], plated: Sequence[int]
) -> list[tuple[str, BaseGeometry]]:
    """The body of the connector, as one or two named pieces. ``runs``: stations of bases and seats that it carries."""
    extra = {key: float(value) for key, value in option.extra.items() if isinstance(value, (int, float))}
    name = option.id
    if name in ("complete_plate", "metal_resin_plate"):
        return _plate(frame, name, palate, plated)
    margin = extra.get("margin_clearance_mm", size("upper_margin"))
    # Widths are measured over the slope of the vault, which is longer than its plan.
    slope = figure_band(figures("connectors")["vault"]).typical
    inside = frame.lines.mouth.intersection(_before(palate.vibrating_line(_ACROSS)))
    clear = inside.difference(frame.lines.around(margin))
    if plated:
        clear = unary_union([largest(clear), _lap(frame, plated, inside)])
    if name in ("palatal_strap", "palatal_bar"):
        wide = extra.get("usual_width_mm", extra.get("max_width_mm", 8.0) - 1.0)
        return [(name, _strap(clear, palate, _levels(frame, runs), wide, flare=name == "palatal_strap"))]
    side = extra.get("lateral_width_mm", extra.get("min_width_mm", 8.0))
    if name == "u_shaped":
        hollow = _hollow(frame, margin + side / slope, 5.0)
        body = largest(clear.intersection(_behind_rugae(palate, margin)).difference(hollow))
        return [(name, opened(_ended(frame, body, runs), 2.2))]
    side = min(side, size("ring_side_width")) / slope
    return [(name, _ring(frame, clear, palate, runs, margin + side, extra))]


def _hollow(frame: Frame, distance: float, radius: float) -> BaseGeometry:
    """The middle of the palate, further than a distance from the teeth, its outline as smooth as a border of metal."""
    here = frame.lines.mouth.intersection(box(-_FAR, -_FAR / 2, _FAR, _FAR))
    inner = opened(here.difference(frame.lines.around(distance)), radius)
    return closed(inner, _SMOOTH_MM).intersection(inner.buffer(_LESS_WIDE_MM, quad_segs=4))


def _before(line: Curve) -> Polygon:
    """Everything in front of a line across the palate."""
    return Polygon(np.vstack((np.column_stack((_ACROSS, line)), [[_FAR, _FAR], [-_FAR, _FAR]])))


def _behind(line: Curve) -> Polygon:
    """Everything behind a line across the palate."""
    return Polygon(np.vstack((np.column_stack((_ACROSS, line)), [[_FAR, -_FAR], [-_FAR, -_FAR]])))


def _behind_rugae(palate: Palate, margin: float) -> Polygon:
    return _behind(palate.ruga(_ACROSS, palate.front - margin - 0.4))


def _plate(frame: Frame, name: str, palate: Palate, plated: Sequence[int]) -> list[tuple[str, BaseGeometry]]:
    inside = frame.lines.mouth.intersection(_before(palate.vibrating_line(_ACROSS)))
    whole = largest(unary_union([inside.difference(frame.standing_crowns), _lap(frame, plated, inside)]))
    # Behind the last teeth the corners are rounded off toward the notches.
    behind = min([frame.lingual_point(1.0)[1], *(frame.place(tooth).distal[1] for tooth in frame.standing)])
    trimmed = unary_union([opened(inside, 5.0), box(-_FAR, behind, _FAR, _FAR)])
    whole = opened(closed(whole, 0.4), 0.5).intersection(trimmed)
    if name == "complete_plate":
        return [(name, whole)]
    junction = (palate.front + palate.rear) / 2 + 4.0 - 0.003 * _ACROSS**2
    return [
        (name, largest(whole.intersection(_before(junction)))),
        ("resin", largest(whole.intersection(_behind(junction - 0.25)))),
    ]


def _lap(frame: Frame, plated: Sequence[int], inside: BaseGeometry) -> BaseGeometry:
    """Metal up on the lingual of the teeth that are plated, and over the gum before them."""
    if not plated:
        return Polygon()
    near = frame.around(plated, size("upper_margin") + 2.0).intersection(inside)
    return unary_union([near.difference(frame.standing_crowns), scallops(frame, plated)])


def _levels(frame: Frame, runs: Sequence[Run]) -> tuple[tuple[float, float], tuple[float, float]]:
    """From where to where (y) a strap carries parts, on the right and on the left."""
    found = []
    for sign in (-1, 1):
        here = [run for run in runs if (sum(run) / 2 - 8.0) * sign > 0]
        levels = [frame.lingual_point(s, 3.0)[1] for run in here for s in run]
        found.append((max(levels), min(levels)) if levels else (0.0, -6.0))
    return found[0], found[1]


def _strap(
    clear: BaseGeometry, palate: Palate, levels: tuple[tuple[float, float], ...], wide: float, *, flare: bool
) -> BaseGeometry:
    """A band across the palate, as long at each end as what it carries there, narrowest at the midline."""
    front_limit = palate.front - size("rugae_behind_incisors")
    rear_limit = palate.rear + size("rear_border_before_vibrating_line")
    longest = size("strap_longest_end") if flare else wide
    ends = []
    for high, low in levels:
        middle, half = (high + low) / 2, min(max(wide, high - low + 2.0), longest) / 2
        top = min(middle + half, front_limit)
        ends.append((top, max(min(middle - half, top - wide), rear_limit)))
    middle = sum(sum(end) / 2 for end in ends) / 2
    top = min(middle + wide / 2, front_limit)
    low = max(top - wide, rear_limit)
    front = _border(ends[0][0], ends[1][0], low + wide)
    rear = _border(ends[0][1], ends[1][1], low)
    band = Polygon(np.vstack((front, rear[::-1])))
    return opened(largest(clear.intersection(band)), 1.5)


def _border(right: float, left: float, middle: float) -> Curve:
    """A border from the right side to the left that crosses the midline at a right angle."""
    half = 20.0
    x = np.linspace(-30.0, 30.0, 61)
    share = (1 - np.cos(np.pi * np.clip(np.abs(x) / half, 0.0, 1.0))) / 2
    return np.column_stack((x, middle + (np.where(x < 0, right, left) - middle) * share))


def _ended(frame: Frame, body: BaseGeometry, runs: Sequence[Run]) -> BaseGeometry:
    """Both arms of a U, each cut off where the last part that it carries ends."""
    for right in (True, False):
        stations = [s for run in runs for s in run if (s < 8.0) == right] or [5.0 if right else 11.0]
        last = min(*stations, 5.0) if right else max(*stations, 11.0)
        body = body.difference(rear_of(frame, last + (-0.12 if right else 0.12)))
    return largest(body)


def rear_of(frame: Frame, station: float) -> Polygon:
    """Everything on one side of the arch behind a line across the ridge at a station."""
    right = station < 8.0
    (px, py), (qx, qy) = frame.lingual_point(station, 12.0), frame.facial_point(station, 8.0)
    px = min(px, -0.2) if right else max(px, 0.2)
    wide = (-_FAR if right else _FAR) / 2
    return Polygon([(px, py), (qx, qy), (wide, qy), (wide, -_FAR), (px, -_FAR)])


def _ring(
    frame: Frame,
    clear: BaseGeometry,
    palate: Palate,
    runs: Sequence[Run],
    hollow_at: float,
    extra: dict[str, float],
) -> BaseGeometry:
    """One member in front, one behind, joined at the sides: a ring with an open middle."""
    margin = extra.get("margin_clearance_mm", size("upper_margin"))
    cross, opening = extra.get("min_width_mm", 8.0), extra.get("min_opening_mm", 15.0)
    front = palate.front - margin - 0.8
    back = palate.rear + size("rear_border_before_vibrating_line")
    levels = [frame.lingual_point(s)[1] for run in runs for s in run]
    end = min(max(back, min(levels, default=back) - 6.0), front - opening - 2 * cross - 1.5)
    end = max(end, palate.rear + 0.5)
    outer = clear.intersection(_behind(palate.ruga(_ACROSS, front)))
    outer = outer.intersection(_before(np.full_like(_ACROSS, end) + 0.006 * _ACROSS**2))
    window = _hollow(frame, hollow_at, 4.0)
    window = window.intersection(_behind(palate.ruga(_ACROSS, front - cross)))
    window = window.intersection(box(-_FAR, end + cross, _FAR, _FAR))
    return opened(largest(outer), 3.0).difference(opened(largest(window), 4.0))


def landmarks(frame: Frame, palate: Palate) -> list[tuple[str, list[Curve]]]:
    """What a cast of the palate shows: raphe, papilla, rugae, rear border, torus."""
    rugae = []
    for index in range(4):
        forward = palate.front - 6.0 - index * size("rugae_spacing")
        for sign in (-1.0, 1.0):
            x = np.linspace(1.6, 12.0 - 0.8 * abs(index - 1), 16)
            rugae.append(
                np.column_stack((sign * x, palate.ruga(x, forward) + 0.35 * np.sin(x * 1.1 + index)))
            )
    papilla = np.array(
        [(1.1 * np.sin(a), palate.front - 3.2 + 1.9 * np.cos(a)) for a in np.linspace(0, 2 * np.pi, 17)]
    )
    raphe = np.array([(0.0, palate.front - 5.6), (0.0, palate.rear)])
    reach = abs(frame.lingual_point(-0.6)[0])
    x = np.linspace(-reach, reach, 31)
    found = [
        ("ruga", rugae), ("papilla", [papilla]), ("raphe", [raphe]),
        ("vibrating_line", [np.column_stack((x, palate.vibrating_line(x)))]),
    ]  # fmt: skip
    torus = torus_outline(palate)
    if torus is not None:
        found.append(("torus", [np.array(torus.exterior.coords)]))
    return found


def torus_outline(palate: Palate) -> Polygon | None:
    """A torus as recorded: an oval in the midline; ``large_posterior`` reaches the vibrating line."""
    if palate.torus == "none":
        return None
    kind = "small" if palate.torus == "small" else "large"
    half, wide = size(f"torus_{kind}_length") / 2, size(f"torus_{kind}_width") / 2
    middle = (palate.front + palate.rear) / 2 - 2.0
    if palate.torus == "large_posterior":
        middle = palate.rear + half - 1.0
    angle = np.linspace(0.0, 2 * np.pi, 49)[:-1]
    lobed = 1 + 0.07 * np.cos(4 * angle)
    return Polygon(np.column_stack((wide * lobed * np.sin(angle), middle + half * lobed * np.cos(angle))))


def midline(palate: Palate) -> LineString:
    """The raphe from the papilla back."""
    return LineString([(0.0, palate.front - 5.6), (0.0, palate.rear)])
