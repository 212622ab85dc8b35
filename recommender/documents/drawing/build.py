"""All parts of a design, in the order in which they are painted."""

from dataclasses import replace

import numpy as np
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from recommender.documents.drawing.arms import bracing_arm, embrasure_body, suprabulge_arm
from recommender.documents.drawing.bars import bar_arm
from recommender.documents.drawing.bases import bases, replacements
from recommender.documents.drawing.courses import Held
from recommender.documents.drawing.figures import size
from recommender.documents.drawing.layout import Layout
from recommender.documents.drawing.lingual import floor_line, torus_outlines
from recommender.documents.drawing.metal import metal
from recommender.documents.drawing.palate import Palate, landmarks, palate_of
from recommender.documents.drawing.seats import crown_part, proximal_plate, rest_parts, undercut_marks
from recommender.documents.drawing.shapes import DrawnPart, largest, strokes
from recommender.domain.kennedy import gone_teeth
from recommender.domain.measures import expected

_LEAST_FLOOR_MM = 6.0
_CROWNED = ("attachment", "double_crown", "stud")


def build_parts(layout: Layout) -> tuple[list[DrawnPart], dict[DrawnPart, float]]:
    """The parts, and the depth (mm) recorded at each undercut mark."""
    palate = _palate(layout)
    ground = bases(layout)
    joined = metal(layout, palate, ground)
    held = _plates(layout) + _retainers(layout, ground, joined)
    on_edge = unary_union([part.area for part in held])
    marks: dict[DrawnPart, float] = {}
    for abutment in layout.case.abutments or ():
        if abutment.tooth in layout.standing:
            marks.update(dict(undercut_marks(layout.frame, abutment, on_edge)))
    parts = (
        _teeth(layout) + _landmarks(layout, palate, joined) + joined + ground + replacements(layout) + held
    )
    parts += _rests(layout) + list(marks) + _axis(layout) + _indirect(layout)
    return [part for part in parts if part.path or part.lines or not part.area.is_empty], marks


def _palate(layout: Layout) -> Palate | None:
    if layout.case.arch != "maxilla":
        return None
    found = layout.case.palate
    length = None if found is None or found.length_mm is None else expected(found.length_mm)
    return palate_of(layout.frame, length, found.torus if found else None)


def _teeth(layout: Layout) -> list[DrawnPart]:
    found = []
    missing, gone = set(layout.case.missing), gone_teeth(layout.case)
    for tooth in layout.frame.order:
        kind = "missing_tooth" if tooth in missing else "absent_tooth" if tooth in gone else "tooth"
        crown = layout.frame.crown(tooth)
        lines = crown.lines if kind == "tooth" else ()
        decision = f"replacement:{tooth}" if kind == "missing_tooth" else ""
        found.append(DrawnPart(kind, (tooth,), "", crown.outline, (), lines, decision))
    return found


def _landmarks(layout: Layout, palate: Palate | None, joined: list[DrawnPart]) -> list[DrawnPart]:
    frame = layout.frame
    if palate is not None:
        return [
            DrawnPart("landmark", (), name, lines=tuple(lines)) for name, lines in landmarks(frame, palate)
        ]
    floor = layout.case.floor
    found = [
        DrawnPart("landmark", (), "torus", lines=(np.array(shape.exterior.coords),))
        for shape in torus_outlines(frame, floor.torus if floor else None)
    ]
    line = floor_line(frame, layout.floor_mm())
    if line is not None:
        # what a connector leaves of it at its ends says nothing
        open_floor = line.difference(unary_union([part.area for part in joined if part.kind == "connector"]))
        found.append(DrawnPart("floor", (), "", lines=tuple(strokes(open_floor, _LEAST_FLOOR_MM))))
    return found


def _plates(layout: Layout) -> list[DrawnPart]:
    return [
        _of(proximal_plate(layout.frame, plate.tooth, plate.surface), f"retainer:{plate.tooth}")
        for plate in layout.design.proximal_plates or ()
        if plate.tooth in layout.standing
    ]


def _rests(layout: Layout) -> list[DrawnPart]:
    indirect = layout.indirect()
    return [
        _of(part, f"{'indirect_retainer' if tooth in indirect else 'rest'}:{tooth}")
        for tooth, rest in layout.rests().items()
        if tooth in layout.standing
        for part in rest_parts(
            layout.frame, tooth, rest, layout.rest_side(tooth, rest), layout.rest_joins(tooth)
        )
    ]


def _retainers(layout: Layout, ground: list[DrawnPart], joined: list[DrawnPart]) -> list[DrawnPart]:
    frame = layout.frame
    covered = unary_union([part.area for part in ground if part.kind == "base"])
    rests, plated = layout.rests(), set(layout.plated_lingually())
    # A plate on the lingual takes the body over where it begins.
    sheet = unary_union([part.area for part in joined if part.kind == "connector" and plated])
    bodies: list[DrawnPart] = []
    bracing: list[DrawnPart] = []
    holding: list[DrawnPart] = []
    passed: set[frozenset[int]] = set()
    for retainer in layout.design.retainers or ():
        held = layout.held(retainer)
        decision = f"retainer:{held.tooth}"
        if held.option.id in _CROWNED:
            holding.append(_of(crown_part(frame, held.tooth, held.option.id, held.near), decision))
            continue
        if held.tooth not in layout.standing:
            continue
        front_seat = rests.get(held.tooth) in ("cingulum", "incisal")
        if held.partner is None or frozenset((held.tooth, held.partner)) not in passed:
            bodies += [_of(_off(part, sheet), decision) for part in embrasure_body(frame, held)]
        if held.partner is not None:
            passed.add(frozenset((held.tooth, held.partner)))
        if held.tooth not in plated:  # a plate on the lingual braces by itself
            arms = bracing_arm(frame, held, held.tooth in layout.spaces_at, front_seat)
            bracing += [_of(part, decision) for part in arms]
        arms = suprabulge_arm(frame, held) + bar_arm(frame, held, _leaves_base(layout, held), covered)
        holding += [_of(part, decision) for part in arms]
        if held.option.id == "rigid_rotational":
            plate = proximal_plate(frame, held.tooth, held.near)
            holding.append(replace(plate, kind="retentive_arm", detail=held.option.id, decision=decision))
    return bodies + bracing + holding


def _off(part: DrawnPart, plate: BaseGeometry) -> DrawnPart:
    left = largest(part.area.difference(plate))
    return part if left.is_empty else replace(part, area=left)


def _of(part: DrawnPart, decision: str) -> DrawnPart:
    return replace(part, decision=decision)


def _leaves_base(layout: Layout, held: Held) -> float | None:
    """Where a bar leaves the base beside its tooth; ``None`` where no base lies there."""
    if not layout.beside_base(held.tooth, held.near):
        return None
    return layout.frame.neighbour_station(held.tooth, held.near, 0.45)


def _indirect(layout: Layout) -> list[DrawnPart]:
    """The mark of an indirect retainer stands by the number of its tooth."""
    rests = layout.rests()
    found = []
    for tooth in sorted(layout.indirect() & set(layout.standing)):
        at = layout.frame.crown(tooth).at(1.0, 1.0)
        found.append(
            DrawnPart(
                "indirect_retainer",
                (tooth,),
                rests.get(tooth, ""),
                path=(at,),
                decision=f"indirect_retainer:{tooth}",
            )
        )
    return found


def _axis(layout: Layout) -> list[DrawnPart]:
    ends = layout.axis()
    if ends is None:
        return []
    points = []
    for tooth, rest in ends:
        found = rest_parts(layout.frame, tooth, rest, layout.rest_side(tooth, rest))
        points.append(unary_union([part.area for part in found]).centroid)
    (ax, ay), (bx, by) = ((p.x, p.y) for p in points)
    length = ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5 or 1.0
    beyond = size("fulcrum_beyond")
    dx, dy = (bx - ax) / length * beyond, (by - ay) / length * beyond
    line = ((round(ax - dx, 3), round(ay - dy, 3)), (round(bx + dx, 3), round(by + dy, 3)))
    return [DrawnPart("fulcrum", tuple(tooth for tooth, _ in ends), path=line)]
