"""Drawings by rule: what a technician would not sign, on all demo designs and on designs drawn by lot."""

import os
import re
import xml.etree.ElementTree as ElementTree
from typing import TYPE_CHECKING, NamedTuple

import pytest
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import unary_union

from benchmarks.mirrored import mirror_case
from recommender.documents.drawing import arch_drawing
from recommender.documents.drawing.figures import block
from recommender.domain.case import Case
from recommender.domain.statement import Statement, say
from recommender.facts.mechanical import case_geometry
from tests.documents.conftest import demo_cases, drawn, sample
from tests.documents.drawing_rules import INTERNAL, LOWER_MM, faults
from tests.documents.geometry import (
    along,
    crowns,
    drawn_crowns,
    of_kind,
    outward,
    reach,
    standing,
    together,
)
from tests.documents.random_designs import random_case

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender

# one process draws every design once
pytestmark = pytest.mark.xdist_group("drawing")
SAMPLE = sample()
SVG = "{http://www.w3.org/2000/svg}"
LOTS = 500 if os.environ.get("RPD_LONG") == "1" else 40


@pytest.mark.parametrize("case_id", sorted(demo_cases()))
def test_no_demo_design_has_a_fault(case_id: str) -> None:
    """Parts on their own teeth, tips in their zones, bars square over the margin, one connector joined to all it
    carries at its published distance from the gum, words that touch nothing (sources beside each rule)."""
    assert faults(demo_cases()[case_id], drawn(case_id)) == []


@pytest.mark.parametrize(
    "start",
    [pytest.param(start, marks=[pytest.mark.slow] if start >= 40 else []) for start in range(0, LOTS, 10)],
)
def test_no_design_drawn_by_lot_has_a_fault(start: int) -> None:
    for seed in range(start, start + 10):
        case = random_case(seed)
        assert case.design is not None
        assert faults(case, arch_drawing(case, case.design)) == [], seed


class Flag(NamedTuple):
    """Something that cannot be made, as the drawing wants it."""

    tooth: int
    said: Statement


@pytest.mark.parametrize(
    "start",
    [pytest.param(start, marks=[pytest.mark.slow] if start >= 4 else []) for start in range(0, LOTS // 20, 2)],
)
@pytest.mark.parametrize("labelled", [True, False], ids=["labels", "bare"])
def test_what_cannot_be_made_is_flagged_at_its_part_and_touches_nothing(start: int, labelled: bool) -> None:
    for seed in range(start, start + 2):
        case = random_case(seed)
        assert case.design is not None
        held = [retainer.tooth for retainer in case.design.retainers or ()]
        flags = [Flag(tooth, say("metal.no_connector")) for tooth in (0, *dict.fromkeys(held))]
        drawing = arch_drawing(case, case.design, faults=flags, with_labels=labelled)
        assert faults(case, drawing) == [], seed
        assert len(drawing.flags) == len(flags), seed
        crowns_ = drawn_crowns(drawing)
        words = [box(*one.bounds) for one in drawing.words if one.words.strip()]
        height = float(re.search(r'height="([\d.]+)mm"', drawing.svg)[1])
        wide = float(re.search(r'width="([\d.]+)mm"', drawing.svg)[1])
        for flag, frame in zip(flags, drawing.flags, strict=True):
            area = box(*frame)
            assert sum(area.intersects(one) for one in words) == 1, (seed, flag)  # its own number
            assert area.within(box(0, 0, wide, height)), (seed, flag)
            if flag.tooth in crowns_:
                near = area.distance(drawing.on_paper(crowns_[flag.tooth]))
                assert near < 30, (seed, flag, near)


def test_the_rules_see_a_fault() -> None:
    """Each rule speaks up when a drawing is judged as that of a case that it does not belong to."""
    told = " ".join(faults(demo_cases()["harbour-0025"], drawn("harbour-0028")))
    assert "the connector is" in told
    case = demo_cases()["harbour-0001"]
    assert case.design is not None
    assert case.design.retainers is not None
    moved = [
        one.model_copy(
            update={"undercut": one.undercut and one.undercut.model_copy(update={"zone": "distolingual"})}
        )
        for one in case.design.retainers
    ]
    told = " ".join(
        faults(_designed(case, case.design.model_copy(update={"retainers": moved})), drawn(case.id))
    )
    assert "the tip at 44" in told
    wider = case.model_copy(update={"missing": [tooth for tooth in case.missing if tooth not in (45, 46)]})
    assert "lies over 45" in " ".join(faults(wider, drawn("harbour-0001")))


@pytest.mark.parametrize("case_id", SAMPLE)
def test_every_retainer_is_drawn_on_its_tooth(case_id: str) -> None:
    case, drawing = demo_cases()[case_id], drawn(case_id)
    teeth = drawn_crowns(drawing)
    assert case.design is not None
    arms = of_kind(drawing, "retentive_arm", "bar")
    with_arm = {part.teeth[0] for part in arms} | {part.teeth[0] for part in of_kind(drawing, *INTERNAL)}
    for retainer in case.design.retainers or ():
        if retainer.assembly not in ("none", "rest_only"):
            assert retainer.tooth in with_arm, retainer
    for part in of_kind(drawing, "retentive_arm", "bracing_arm"):
        own = unary_union([teeth[tooth] for tooth in part.teeth])
        assert part.shape.distance(own) < 0.3, part
        assert reach(part.shape, own) < 3.0, part
        # It lies on the edge of the crown, not over the whole of it.
        assert part.shape.intersection(own.buffer(-1.3)).area < 0.15, part


def test_a_rest_that_only_a_base_carries_runs_out_to_it() -> None:
    """Both ends of the base in front of a palatal bar, and a backing that hangs on the two teeth beside it."""
    for name, kind, teeth in (("harbour-0105", "base", (12, 23)), ("harbour-0033", "replacement_facing", (11, 22))):
        held = together(of_kind(drawn(name), kind))
        for part in of_kind(drawn(name), "rest"):
            if part.teeth[0] in teeth:
                assert part.shape.distance(held) < 0.8, (name, part.teeth)  # a base keeps a gap to a crown


@pytest.mark.parametrize("case_id", SAMPLE)
def test_rests_lie_inside_their_crown_at_their_site(case_id: str) -> None:
    case, drawing = demo_cases()[case_id], drawn(case_id)
    geometry, teeth = case_geometry(case), drawn_crowns(drawing)
    assert case.design is not None
    rests = of_kind(drawing, "rest")
    assert {part.teeth[0] for part in rests} >= {
        tooth
        for tooth, rest in (case.design.rests or {}).items()
        if rest != "none" and tooth in standing(case)
    }
    for part in rests:
        (tooth,) = part.teeth
        assert part.shape.area > 0.8
        assert part.shape.difference(teeth[tooth].buffer(0.02)).area < 1e-6
        middle = part.shape.centroid
        if part.detail == "mesial":
            assert along(geometry, tooth, middle) < -0.2 * geometry[tooth].mesiodistal_mm / 2
        elif part.detail == "distal":
            assert along(geometry, tooth, middle) > 0.2 * geometry[tooth].mesiodistal_mm / 2
        elif part.detail == "cingulum":
            assert outward(geometry, tooth, middle) < outward(geometry, tooth, Point(geometry[tooth].centre))


def test_upper_connectors_have_their_published_dimensions() -> None:
    """A strap is at least 8 mm wide at the midline, a bar less than 8, a ring is open for 15 mm or more, and a
    U has no bar behind (tables/connectors.csv CONN-007, CONN-013, CONN-015, CONN-027)."""
    seen = set()
    for case_id, case in demo_cases().items():
        if case.arch != "maxilla" or case.design is None or case.design.connector in seen:
            continue
        name = case.design.connector
        metal = together(part for part in of_kind(drawn(case_id), "connector") if part.detail != "resin")
        midline = metal.intersection(LineString([(0, -60), (0, 60)]))
        stretches = [piece.length for piece in getattr(midline, "geoms", [midline])]
        seen.add(name)
        if name == "palatal_strap":
            assert min(stretches) >= 8.0
        elif name == "palatal_bar":
            assert 4.0 < sum(stretches) < 8.0
        elif name in ("anteroposterior_strap", "anteroposterior_bar"):
            assert len(stretches) == 2
            assert min(stretches) >= (8.0 if name == "anteroposterior_strap" else 6.0) - 0.05
            assert midline.bounds[3] - midline.bounds[1] - sum(stretches) >= 15.0
        elif name == "u_shaped":
            assert len(stretches) == 1
            assert midline.bounds[1] > 0
    assert {"palatal_strap", "palatal_bar", "anteroposterior_strap", "u_shaped"} <= seen


def test_lower_bars_have_their_published_height() -> None:
    """A lingual bar is about 4 mm tall, a labial bar 5 mm (tables/connectors.csv CONN-036, CONN-067)."""
    for case_id, height in (("harbour-0001", 4.0), ("harbour-0009", 5.0)):
        metal = together(of_kind(drawn(case_id), "connector"))
        front = metal.intersection(LineString([(0, 0), (0, 60)]))
        assert front.length == pytest.approx(height, abs=0.45)


@pytest.mark.parametrize("case_id", SAMPLE[::3])
def test_a_mirrored_case_gives_the_mirrored_drawing(case_id: str) -> None:
    case = demo_cases()[case_id]
    other = mirror_case(case)
    assert other.design is not None
    twin = arch_drawing(other, other.design)
    here = sorted(
        (p.kind, p.detail, round(p.shape.centroid.x, 1), round(p.shape.centroid.y, 1))
        for p in drawn(case_id).parts
    )
    there = sorted(
        (p.kind, p.detail, round(-p.shape.centroid.x, 1) + 0.0, round(p.shape.centroid.y, 1))
        for p in twin.parts
    )
    assert len(here) == len(there)
    for mine, yours in zip(here, there, strict=True):
        assert mine[:2] == yours[:2]
    for kind in (
        "connector",
        "base",
        "retentive_arm",
        "rest",
        "bracing_arm",
        "minor_connector",
        "proximal_plate",
    ):
        mine, yours = together(of_kind(drawn(case_id), kind)), together(of_kind(twin, kind))
        if mine.is_empty:
            assert yours.is_empty
            continue
        from shapely.affinity import scale

        turned = scale(yours, xfact=-1, origin=(0, 0))
        assert mine.symmetric_difference(turned).area < 0.04 * mine.area + 0.3, kind


def test_the_fulcrum_line_runs_through_the_terminal_rests() -> None:
    """Class I: the line joins the two rests that stand furthest back (Carr and Brown, McCracken's, from memory)."""
    drawing = drawn("harbour-0001")
    (axis,) = of_kind(drawing, "fulcrum")
    line = LineString(axis.path)
    rests = {part.teeth[0]: part for part in of_kind(drawing, "rest")}
    for tooth in (44, 34):
        assert line.distance(rests[tooth].shape) < 0.01
    assert not of_kind(drawn("harbour-0087"), "fulcrum")  # a bounded arch has none


@pytest.mark.parametrize("case_id", SAMPLE[::4])
def test_crowns_have_the_size_and_place_of_the_arch(case_id: str) -> None:
    """As wide and as deep as the mechanics place them (tables/tooth_dimensions.csv: Ash and Nelson), form apart."""
    case, drawing = demo_cases()[case_id], drawn(case_id)
    geometry = case_geometry(case)
    for tooth, shape in drawn_crowns(drawing).items():
        plain = crowns(case)[tooth]
        assert shape.intersection(plain).area > 0.82 * shape.union(plain).area, tooth
        edges = [Point(xy) for xy in shape.exterior.coords]
        sides = [along(geometry, tooth, edge) for edge in edges]
        out = [outward(geometry, tooth, edge) for edge in edges]
        width = ((geometry[tooth].mesial[0] - geometry[tooth].distal[0]) ** 2
                 + (geometry[tooth].mesial[1] - geometry[tooth].distal[1]) ** 2) ** 0.5  # fmt: skip
        assert max(sides) - min(sides) == pytest.approx(width, rel=0.06)
        assert max(out) - min(out) == pytest.approx(geometry[tooth].faciolingual_mm, rel=0.04)


def test_each_kind_of_tooth_has_its_own_face() -> None:
    """A molar shows more grooves than a premolar, front teeth an edge and a cingulum (Wheeler's, from memory)."""
    for case_id in ("harbour-0001", "harbour-0025"):
        teeth = {part.teeth[0]: part for part in of_kind(drawn(case_id), "tooth")}
        for tooth, part in teeth.items():
            inner = drawn_crowns(drawn(case_id))[tooth].buffer(0.05)
            assert part.lines, tooth
            assert all(LineString(line).within(inner) for line in part.lines), tooth
    forms = block("forms")
    assert len(forms["lower_first_molar"]["lines"]) > len(forms["lower_first_premolar"]["lines"])
    assert len(forms["lower_first_molar"]["grooves"]) == 3  # five cusps: two grooves facial, one lingual


def test_a_lower_bar_uses_the_room_that_the_floor_leaves() -> None:
    """4 mm below the margins where the floor leaves it, never less than 3 (CONN-005, CONN-006, CONN-034, CONN-035)."""
    case = demo_cases()["harbour-0001"]
    assert case.floor is not None
    assert case.design is not None
    found = []
    for depth in (7.0, 9.0):
        floor = case.floor.model_copy(update={"depth_mm": depth})
        drawing = arch_drawing(case.model_copy(update={"floor": floor}), case.design)
        front = [drawn_crowns(drawing)[tooth] for tooth in (41, 31)]
        found.append(min(together(of_kind(drawing, "connector")).distance(crown) for crown in front))
    assert found[0] >= LOWER_MM - 0.01
    assert found[1] > found[0] + 0.5


def test_a_sublingual_bar_lies_deeper_and_flatter_than_a_lingual_bar() -> None:
    """The bar turned flat on the floor (CONN-053): its near edge lies lower, the floor's line runs beneath it."""
    case = demo_cases()["harbour-0001"]
    assert case.design is not None
    off = {}
    for name in ("lingual_bar", "sublingual_bar"):
        drawing = arch_drawing(case, case.design.model_copy(update={"connector": name}))
        off[name] = together(of_kind(drawing, "connector")).distance(drawn_crowns(drawing)[41])
    assert off["sublingual_bar"] > off["lingual_bar"] + 1.5


@pytest.mark.parametrize(
    "case_id", [i for i, c in demo_cases().items() if c.design and c.design.connector == "u_shaped"]
)
def test_a_u_ends_where_its_last_part_is(case_id: str) -> None:
    case, drawing = demo_cases()[case_id], drawn(case_id)
    (body,) = of_kind(drawing, "connector")
    for side in (-1, 1):
        parts = [
            part.shape.bounds
            for part in of_kind(drawing, "base", "minor_connector")
            if part.shape.centroid.x * side > 0
        ]
        half = body.shape.intersection(Point(45 * side, 0).buffer(44.0))
        assert half.bounds[1] == pytest.approx(min(bounds[1] for bounds in parts), abs=3.5), case.id


@pytest.mark.parametrize(
    "case_id",
    [i for i, c in demo_cases().items() if c.design and "linguoplate" in (c.design.connector or "")],
)
def test_a_linguoplate_covers_the_lingual_of_its_teeth_with_a_scalloped_edge(case_id: str) -> None:
    """Up to the cingula, higher at the contacts, past the middle of no tooth (CONN-059)."""
    case, drawing = demo_cases()[case_id], drawn(case_id)
    geometry = case_geometry(case)
    metal = together(part for part in of_kind(drawing, "connector"))
    plated = [tooth for tooth in (42, 41, 31, 32) if tooth in standing(case)]
    assert plated or case.id == "harbour-0016"
    for tooth in plated:
        crown = drawn_crowns(drawing)[tooth]
        over = metal.intersection(crown)
        assert 0.12 * crown.area < over.area < 0.5 * crown.area, tooth
        middle = outward(geometry, tooth, Point(geometry[tooth].centre))
        assert outward(geometry, tooth, over.centroid) < middle
    assert metal.geom_type == "Polygon"


def test_relief_lies_over_a_torus_and_is_left_out_of_the_hatching() -> None:
    case = demo_cases()["harbour-0033"]
    assert case.palate is not None
    assert case.palate.torus == "large_posterior"
    metal = together(of_kind(drawn(case.id), "connector"))
    relief = [part for part in of_kind(drawn(case.id), "relief") if part.detail == "torus"]
    assert relief
    assert all(part.shape.within(metal.buffer(0.01)) for part in relief)
    assert not [part for part in of_kind(drawn("harbour-0025"), "relief") if part.detail == "torus"]


def test_embrasure_clasps_pass_through_their_embrasure() -> None:
    for case_id, case in demo_cases().items():
        assert case.design is not None
        pairs = {
            frozenset((r.tooth, r.partner))
            for r in case.design.retainers or ()
            if r.assembly == "embrasure" and r.partner is not None
        }
        bodies = {frozenset(part.teeth): part for part in of_kind(drawn(case_id), "embrasure_body")}
        assert set(bodies) == pairs, case_id
        for teeth, part in bodies.items():
            for tooth in teeth:
                assert part.shape.intersection(drawn_crowns(drawn(case_id))[tooth]).area > 0.8, case_id


def test_replacement_teeth_are_told_apart() -> None:
    looks = {}
    case = demo_cases()["harbour-0001"]
    assert case.design is not None
    kinds = ("resin_tooth_lattice", "resin_tooth_metal_base", "tube_tooth", "reinforced_resin", "metal_backed_facing",
             "resin_base_metal_occlusal", "metal_tooth")  # fmt: skip
    for kind in kinds:
        design = case.design.model_copy(update={"replacements": {46: kind}})
        drawing = arch_drawing(case, design)
        parts = [part for part in drawing.parts if part.kind.startswith("replacement_")]
        looks[kind] = tuple((part.kind, round(part.shape.area, 1), len(part.lines)) for part in parts)
    assert len(set(looks.values())) == len(kinds)
    assert looks["resin_tooth_lattice"] == ()


@pytest.mark.parametrize("case_id", SAMPLE[::2])
def test_the_picture_is_plain_svg(case_id: str) -> None:
    drawing = drawn(case_id)
    root = ElementTree.fromstring(drawing.svg)
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert tags <= {"svg", "title", "desc", "path", "g"}
    for element in root.iter():
        assert not {"style", "class", "href", "id"} & set(element.attrib)
        assert not any(name.startswith("on") for name in element.attrib)
        for name in ("fill", "stroke"):
            assert element.attrib.get(name, "none") in ("none", "#000000", "#ffffff")
    width, height = (float(value) / 100 for value in root.attrib["viewBox"].split()[2:])
    for one in drawing.words:
        left, top, right, bottom = one.bounds
        assert 0 <= left <= right <= width
        assert 0 <= top <= bottom <= height
    said = [one.words for one in drawing.words]
    case = demo_cases()[case_id]
    assert all(str(tooth) in said for tooth in case_geometry(case).places)
    assert "patient" in " ".join(said).lower()
    assert drawing.alt_text.startswith("Arch drawing")
    names = {element.text for group in root.iter(f"{SVG}g") for element in group.findall(f"{SVG}title")}
    assert len(names) > 10


def test_the_boxes_of_words_are_those_of_their_outlines() -> None:
    """Measured on the paths that are written, point by point, not on what the setter says of them."""
    drawing = drawn("harbour-0001")
    root = ElementTree.fromstring(drawing.svg)
    paths = [element for element in root.iter(f"{SVG}path") if "aria-label" in element.attrib]
    assert len(paths) == len([one for one in drawing.words if one.words.strip()])
    for element, one in zip(paths, [w for w in drawing.words if w.words.strip()], strict=True):
        assert element.attrib["aria-label"] == one.words
        x, y, scale = map(float, re.findall(r"-?[\d.]+", element.attrib["transform"]))
        points = outline_points(element.attrib["d"])
        left, right = min(p[0] for p in points), max(p[0] for p in points)
        top, bottom = min(p[1] for p in points), max(p[1] for p in points)
        found = (
            (x + left * scale) / 100,
            (y + top * scale) / 100,
            (x + right * scale) / 100,
            (y + bottom * scale) / 100,
        )
        assert found == pytest.approx(one.bounds, abs=0.05), one.words


def outline_points(data: str) -> list[tuple[float, float]]:
    """Every point, control points too, of a path of relative moves, lines and quadratic curves."""
    points: list[tuple[float, float]] = []
    at = start = (0.0, 0.0)
    for command, numbers in re.findall(r"([mlqz])([^mlqz]*)", data):
        values = [float(value) for value in re.findall(r"-?\d+\.?\d*", numbers)]
        if command == "z":
            at = start
            continue
        pairs = list(zip(values[::2], values[1::2], strict=True))
        step = 2 if command == "q" else 1
        for index in range(0, len(pairs), step):
            reached = [(at[0] + dx, at[1] + dy) for dx, dy in pairs[index : index + step]]
            if command == "m":
                at = start = reached[-1]
            else:  # a move by itself leaves no ink
                points += [at, *reached]
                at = reached[-1]
    return points


def test_parts_tell_their_reason_where_asked() -> None:
    case = demo_cases()["harbour-0001"]
    assert case.design is not None
    plain = drawn(case.id).svg
    assert "pointer-events" not in plain
    drawing = arch_drawing(
        case, case.design, reasons={"retainer:44": "holds & lets go", "connector": "room for it"}
    )
    root = ElementTree.fromstring(drawing.svg)
    told = {}
    for group in root.iter(f"{SVG}g"):
        if "data-part" in group.attrib:
            told.setdefault(group.attrib["data-part"], []).append(group)
    bar = [group.find(f"{SVG}title").text for group in told["retainer:44"]]  # type: ignore[union-attr]
    assert any(text and text.startswith("44: I-bar") and text.endswith("holds & lets go") for text in bar)
    assert all(group.attrib["role"] == "graphics-symbol" for group in told["connector"])
    assert {"connector", "retainer:44", "retainer:34", "rest:44", "indirect_retainer:43"} <= set(told)
    touched = [path for path in root.iter(f"{SVG}path") if path.attrib.get("pointer-events") == "all"]
    assert len(touched) > 8  # missing teeth and minor connectors have no fill of their own to touch


def test_spots_lie_where_the_parts_are() -> None:
    case = demo_cases()["harbour-0025"]
    assert case.design is not None
    assert drawn(case.id).spots == ()
    drawing = arch_drawing(case, case.design, reasons={"connector": "stiff"})
    width, height = (float(v) / 100 for v in re.findall(r'viewBox="0 0 (\d+) (\d+)"', drawing.svg)[0])
    (metal,) = [spot for spot in drawing.spots if spot.title.startswith("anterior-posterior palatal strap")]
    assert metal.title.endswith(". stiff")
    assert len(metal.rings) == 2  # the ring and its opening
    outer, inner = (Polygon([(x * width, y * height) for x, y in ring]) for ring in metal.rings)
    shape = drawing.on_paper(together(of_kind(drawing, "connector")))
    assert outer.difference(inner).symmetric_difference(shape).area < 0.02 * shape.area
    assert {"retainer:14", "rest:14", "replacement:16"} <= {spot.decision for spot in drawing.spots}


def test_a_drawing_takes_the_colours_of_its_page() -> None:
    drawing = drawn("harbour-0001")
    screen = drawing.in_colours("currentColor", "var(--rpd-paper, Canvas)")
    assert "#000000" not in screen
    assert "#ffffff" not in screen
    assert screen.count("currentColor") > 50
    # nothing else changes: the same drawing on paper and on screen
    assert (
        screen.replace('"currentColor"', '"#000000"').replace('"var(--rpd-paper, Canvas)"', '"#ffffff"')
        == drawing.svg
    )


@pytest.mark.parametrize(
    "case_id", ["harbour-0002", "harbour-0030", "harbour-0050", "harbour-0080", "harbour-0106"]
)
def test_what_is_proposed_can_be_drawn_as_soundly_as_what_was_made(
    case_id: str, rules_alone: "Recommender"
) -> None:
    case = demo_cases()[case_id]
    frameworks = rules_alone.recommend(case, 2).frameworks
    assert frameworks
    for framework in frameworks:
        drawing = arch_drawing(case, framework.design)
        assert faults(_designed(case, framework.design), drawing) == []
        rested = {part.teeth[0] for part in of_kind(drawing, "rest")}
        assert rested == {tooth for tooth, rest in framework.rests.items() if rest != "none"}
        assert {part.teeth[0] for part in of_kind(drawing, "indirect_retainer")} == {
            seat.tooth for seat in framework.indirect_retainers
        }


def _designed(case: Case, design: object) -> Case:
    return case.model_copy(update={"design": design})
