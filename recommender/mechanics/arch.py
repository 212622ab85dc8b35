"""Where every tooth of an arch stands, seen from the occlusal side.

Coordinates are millimetres: x to the patient's left, y forward, the origin where the midline meets the line
through the middles of the first molars. Published crown widths (Ash and Nelson) are laid along the arch line
of ``curve.py`` from the midline, stretched so that the middle of the first molar falls on the molar line;
behind it they keep their own length, for the line runs straight there. The line is that of the facial-axis
points, so the row of contacts, which is shorter, lies inside it by the difference of the lengths over the
turn of a quarter circle (2.6 mm in the upper, 2.9 mm in the lower arch, rows ARCH-014 and ARCH-015).

A missing tooth keeps its place. Where the width of a space is recorded, its teeth share that width and
everything behind moves with it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from recommender.domain.dentition import ARCH_ORDER, tooth_type
from recommender.mechanics.bands import Band
from recommender.mechanics.curve import Array, half_curve, molar_depth_mm, molar_width_mm
from recommender.mechanics.figures import figures, remembered
from recommender.mechanics.teeth import running_width_mm, tooth_size

Point = tuple[float, float]

_LEFT = {"maxilla": 20, "mandible": 30}
_RIGHT = {"maxilla": 10, "mandible": 40}
_OUTLINE_QUARTER = 9
# A space narrower than this share of its teeth's published width would leave outlines without any width.
_LEAST_SHARE = 0.25


@dataclass(frozen=True, slots=True)
class ToothPlace:
    """One tooth in its place: points and unit vectors as ``(x, y)``, lengths in millimetres.

    ``tangent`` runs from mesial to distal, ``normal`` outward to the facial. ``mesial`` and ``distal``
    are the contact points, ``facial`` and ``lingual`` the middles of those surfaces. ``line_mesial``,
    ``line_middle`` and ``line_distal`` are the same stations on the arch line itself, for levers.
    ``outline`` is a closed polygon (first point not repeated) that starts at the mesial contact and goes
    round by the facial.
    """

    tooth: int
    centre: Point
    tangent: Point
    normal: Point
    mesiodistal_mm: float
    faciolingual_mm: float
    mesial: Point
    distal: Point
    facial: Point
    lingual: Point
    line_mesial: Point
    line_middle: Point
    line_distal: Point
    outline: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class ArchGeometry:
    """The sixteen places of an arch.

    ``stretch`` is the factor from published widths to the arch line, ``inset_mm`` how far the contacts lie
    inside it. ``scale`` is the size of real arches beside this one: one standard deviation of width and
    depth (Mina et al. 2017); multiply a length by it for its band.
    """

    arch: str
    places: Mapping[int, ToothPlace]
    stretch: float
    inset_mm: float
    scale: Band

    def __getitem__(self, tooth: int) -> ToothPlace:
        return self.places[tooth]

    def seat(self, tooth: int, site: str) -> Point:
        """Point on the arch line of a rest or contact: ``mesial``, ``distal``, anything else the middle."""
        place = self.places[tooth]
        if site == "mesial":
            return place.line_mesial
        return place.line_distal if site == "distal" else place.line_middle


def place_teeth(arch: str, span_widths: Mapping[tuple[int, ...], float] | None = None) -> ArchGeometry:
    """The geometry of ``maxilla`` or ``mandible``; ``span_widths``: teeth of a space to its width in mm.

    Raises ``KeyError`` for another arch or a tooth of the other arch, ``ValueError`` for a width below zero.
    """
    spans = tuple(sorted((tuple(teeth), float(width)) for teeth, width in (span_widths or {}).items()))
    return _placed(arch, spans)


@remembered(512)
def _placed(arch: str, spans: tuple[tuple[tuple[int, ...], float], ...]) -> ArchGeometry:
    widths = {tooth: tooth_size(tooth).mesiodistal_mm for tooth in ARCH_ORDER[arch]}
    for teeth, width in spans:
        if width < 0:
            raise ValueError(f"the width of a space cannot be below zero: {width}")
        share = max(width / sum(widths[tooth] for tooth in teeth), _LEAST_SHARE)
        for tooth in teeth:
            widths[tooth] *= share
    stretch, inset = arch_stretch(arch)
    places: dict[int, ToothPlace] = {}
    for start, sign in ((_RIGHT[arch], -1.0), (_LEFT[arch], 1.0)):
        places.update(_half(arch, start, sign, np.array([widths[start + index] for index in range(1, 9)])))
    ordered = MappingProxyType({tooth: places[tooth] for tooth in ARCH_ORDER[arch]})
    return ArchGeometry(arch, ordered, stretch, inset, arch_scale(arch))


@remembered()
def arch_stretch(arch: str) -> tuple[float, float]:
    """Factor from published widths to the arch line, and the inset of the contacts (mm)."""
    curve = half_curve(molar_width_mm(arch).typical, molar_depth_mm(arch).typical)
    published = running_width_mm(_LEFT[arch] + 6)
    return curve.half_arc_mm / published, (curve.half_arc_mm - published) / (np.pi / 2)


@remembered()
def arch_scale(arch: str) -> Band:
    """Size of real arches beside the mean one: the wider of the standard deviations of width and depth."""
    sizes = (molar_width_mm(arch), molar_depth_mm(arch))
    return Band(min(s.low / s.typical for s in sizes), 1.0, max(s.high / s.typical for s in sizes))


def _along(arch: str, running: Array) -> Array:
    """Distance along the arch line: stretched up to the molar line, as it is behind it."""
    stretch, _ = arch_stretch(arch)
    turn = running_width_mm(_LEFT[arch] + 6)
    return np.minimum(running, turn) * stretch + np.clip(running - turn, 0.0, None)


def _half(arch: str, start: int, sign: float, widths: Array) -> dict[int, ToothPlace]:
    """The eight places of one side; everything is worked out on the left and turned over by ``sign``."""
    curve = half_curve(molar_width_mm(arch).typical, molar_depth_mm(arch).typical)
    _, inset = arch_stretch(arch)
    edges = np.concatenate(([0.0], np.cumsum(widths)))
    edge_at, middle_at = _along(arch, edges), _along(arch, edges[:-1] + widths / 2)
    edge_x, edge_y = curve.at(edge_at)
    middle_x, middle_y = curve.at(middle_at)
    fall = curve.fall_at(edge_at)
    contact_x, contact_y = edge_x - inset * np.sin(fall), edge_y - inset * np.cos(fall)

    chord_x, chord_y = np.diff(contact_x), np.diff(contact_y)
    chord = np.hypot(chord_x, chord_y)
    tangent_x, tangent_y = chord_x / chord, chord_y / chord
    normal_x, normal_y = -tangent_y, tangent_x
    base_x, base_y = contact_x[:-1] + chord_x / 2, contact_y[:-1] + chord_y / 2
    depth = np.array([tooth_size(start + index).faciolingual_mm for index in range(1, 9)])
    facial = (middle_x - base_x) * normal_x + (middle_y - base_y) * normal_y
    lingual = depth - facial

    places: dict[int, ToothPlace] = {}
    for index in range(8):
        tooth = start + index + 1
        along, out = _outline(tooth_type(tooth), chord[index] / 2, facial[index], lingual[index])
        outline_x = base_x[index] + along * tangent_x[index] + out * normal_x[index]
        outline_y = base_y[index] + along * tangent_y[index] + out * normal_y[index]
        middle_out = (facial[index] - lingual[index]) / 2

        def off(distance: float, at: int = index) -> Point:
            return (
                float(sign * (base_x[at] + distance * normal_x[at])),
                float(base_y[at] + distance * normal_y[at]),
            )

        places[tooth] = ToothPlace(
            tooth=tooth,
            centre=off(middle_out),
            tangent=(float(sign * tangent_x[index]), float(tangent_y[index])),
            normal=(float(sign * normal_x[index]), float(normal_y[index])),
            mesiodistal_mm=float(widths[index]),
            faciolingual_mm=float(depth[index]),
            mesial=(float(sign * contact_x[index]), float(contact_y[index])),
            distal=(float(sign * contact_x[index + 1]), float(contact_y[index + 1])),
            facial=off(facial[index]),
            lingual=off(-lingual[index]),
            line_mesial=(float(sign * edge_x[index]), float(edge_y[index])),
            line_middle=(float(sign * middle_x[index]), float(middle_y[index])),
            line_distal=(float(sign * edge_x[index + 1]), float(edge_y[index + 1])),
            outline=tuple(zip((sign * outline_x).tolist(), outline_y.tolist(), strict=True)),
        )
    return places


@remembered()
def _unit_outline(kind: str) -> tuple[Array, Array, Array]:
    """Stations round an outline of half width 1: along (-1 mesial), facial and lingual part (0 to 1)."""
    powers = figures("arch")["outline"][kind]
    angle = np.linspace(0.0, np.pi, 2 * _OUTLINE_QUARTER, endpoint=False)
    columns = []
    for power in (float(powers["facial"]), float(powers["lingual"])):
        cosine, sine = np.cos(angle), np.sin(angle)
        columns.append((-np.sign(cosine) * np.abs(cosine) ** (2 / power), np.abs(sine) ** (2 / power)))
    (facial_along, facial_out), (lingual_along, lingual_out) = columns
    along = np.concatenate((facial_along, -lingual_along))
    nothing = np.zeros_like(facial_out)
    return along, np.concatenate((facial_out, nothing)), np.concatenate((nothing, lingual_out))


def _outline(kind: str, half_width: float, facial: float, lingual: float) -> tuple[Array, Array]:
    """Outline in the tooth's own frame, from the contacts: along, mesial to distal, and out, facial (mm)."""
    along, facial_part, lingual_part = _unit_outline(kind)
    return along * half_width, facial_part * facial - lingual_part * lingual
