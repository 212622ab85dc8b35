"""Parts lie on their teeth, connectors keep off the teeth that they should, and both sides are alike."""

import xml.etree.ElementTree as ElementTree
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from shapely.geometry import LineString, Point
from shapely.ops import unary_union

from recommender.documents.drawing import arch_drawing
from recommender.domain.mirror import mirror_case
from recommender.facts.mechanical import case_geometry
from tests.documents.conftest import demo_cases, drawn, sample
from tests.documents.geometry import along, crowns, of_kind, outward, reach, standing, together

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender

SAMPLE = sample()
# Length over the vault beside its plan: the published distances run over the slope.
PLAN = 1.25
INTERNAL = ("attachment", "double_crown", "stud")


@pytest.mark.parametrize("case_id", SAMPLE)
def test_every_retainer_is_drawn_on_its_tooth(case_id: str) -> None:
    case, drawing = demo_cases()[case_id], drawn(case_id)
    teeth = crowns(case)
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
        # It lies against the crown, not over it.
        assert part.shape.intersection(own.buffer(-0.35)).area < 0.15, part


@pytest.mark.parametrize("case_id", SAMPLE)
def test_nothing_lies_over_a_tooth_that_it_does_not_belong_to(case_id: str) -> None:
    case, drawing = demo_cases()[case_id], drawn(case_id)
    teeth = crowns(case)
    for part in of_kind(drawing, "retentive_arm", "bracing_arm", "bar", "rest", "proximal_plate"):
        for tooth in standing(case) - set(part.teeth):
            assert part.shape.intersection(teeth[tooth]).area < 0.08, (part.kind, part.teeth, tooth)
    for part in of_kind(drawing, "base", "minor_connector"):
        for tooth in standing(case):
            assert part.shape.intersection(teeth[tooth]).area < 0.05, (part.kind, part.teeth, tooth)


@pytest.mark.parametrize("case_id", SAMPLE)
def test_rests_lie_inside_their_crown_at_their_site(case_id: str) -> None:
    case, drawing = demo_cases()[case_id], drawn(case_id)
    geometry, teeth = case_geometry(case), crowns(case)
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


@pytest.mark.parametrize("case_id", SAMPLE)
def test_the_tip_lies_at_the_zone_that_the_design_names(case_id: str) -> None:
    case, drawing = demo_cases()[case_id], drawn(case_id)
    geometry, teeth = case_geometry(case), crowns(case)
    assert case.design is not None
    tips = {part.teeth[0]: part for part in of_kind(drawing, "tip")}
    checked = 0
    for retainer in case.design.retainers or ():
        if retainer.undercut is None or retainer.tooth not in tips or retainer.assembly == "extended_arm":
            continue
        tip = Point(tips[retainer.tooth].path[0])
        zone, half = retainer.undercut.zone, geometry[retainer.tooth].mesiodistal_mm / 2
        place = along(geometry, retainer.tooth, tip)
        assert tip.distance(teeth[retainer.tooth]) < 1.0
        if zone.startswith("mesio") or zone == "mesial":
            assert place < 0.1 * half, (retainer, place)
        if zone.startswith("disto") or zone == "distal":
            assert place > -0.1 * half, (retainer, place)
        centre = outward(geometry, retainer.tooth, Point(geometry[retainer.tooth].centre))
        if zone.endswith("facial"):
            assert outward(geometry, retainer.tooth, tip) > centre, retainer
        if zone.endswith("lingual"):
            assert outward(geometry, retainer.tooth, tip) < centre, retainer
        checked += 1
    drawn_tips = [r for r in case.design.retainers or () if r.tooth in tips and r.undercut is not None]
    assert checked == len([r for r in drawn_tips if r.assembly != "extended_arm"])


@pytest.mark.parametrize("case_id", SAMPLE)
def test_the_framework_is_one_piece(case_id: str) -> None:
    case, drawing = demo_cases()[case_id], drawn(case_id)
    connector = of_kind(drawing, "connector")
    if case.design is None or case.design.connector is None:
        pytest.skip("the design names no connector")
    metal = together(part for part in connector if part.detail != "resin")
    assert metal.area > 10
    for part in of_kind(drawing, "base"):
        assert part.shape.distance(metal) < 0.6, part.teeth
    joined = unary_union([metal, together(of_kind(drawing, "base"))])
    for part in of_kind(drawing, "minor_connector"):
        assert part.shape.distance(joined) < 0.35, (part.teeth, part.detail)


@pytest.mark.parametrize("case_id", SAMPLE)
def test_connectors_keep_off_the_teeth(case_id: str) -> None:
    """Lower bars start at least 3 mm below the gum margins, upper borders run 6 mm from them or lie on the teeth
    (tables/connectors.csv CONN-001, CONN-005, CONN-006: college lectures on major connectors)."""
    case, drawing = demo_cases()[case_id], drawn(case_id)
    assert case.design is not None
    name, teeth = case.design.connector, crowns(case)
    metal = together(of_kind(drawing, "connector"))
    bases = together(of_kind(drawing, "base"))
    away = [tooth for tooth in standing(case) if teeth[tooth].distance(bases) > 3.0]
    if name in ("lingual_bar", "sublingual_bar"):
        assert all(metal.distance(teeth[tooth]) >= 3.0 for tooth in away)
    elif name in ("palatal_strap", "palatal_bar", "anteroposterior_strap", "anteroposterior_bar", "u_shaped"):
        assert all(metal.distance(teeth[tooth]) >= 6.0 / PLAN - 0.35 for tooth in away)
    elif name in ("linguoplate", "interrupted_linguoplate", "cingulum_bar", "lingual_bar_cingulum_bar"):
        geometry = case_geometry(case)
        for tooth in standing(case):
            over = metal.intersection(teeth[tooth])
            assert over.area < 0.55 * teeth[tooth].area
            if over.area > 0.2:
                middle = outward(geometry, tooth, Point(geometry[tooth].centre))
                assert outward(geometry, tooth, over.centroid) < middle
    if name not in ("linguoplate", "interrupted_linguoplate", "cingulum_bar", "lingual_bar_cingulum_bar"):
        assert all(metal.intersection(teeth[tooth]).area < 0.2 for tooth in standing(case))


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


@pytest.mark.parametrize("case_id", SAMPLE)
def test_the_picture_is_plain_svg(case_id: str) -> None:
    drawing = drawn(case_id)
    root = ElementTree.fromstring(drawing.svg)
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert tags <= {"svg", "title", "desc", "rect", "path", "text", "circle"}
    for element in root.iter():
        assert not {"style", "class", "href"} & set(element.attrib)
        assert not any(name.startswith("on") for name in element.attrib)
        for name in ("fill", "stroke"):
            assert element.attrib.get(name, "none") in ("none", "#000000", "#ffffff")
    width, height = (float(value) for value in root.attrib["viewBox"].split()[2:])
    for element in root.iter("{http://www.w3.org/2000/svg}text"):
        assert 0 <= float(element.attrib["x"]) <= width
        assert 0 < float(element.attrib["y"]) < height
    said = " ".join(element.text or "" for element in root.iter("{http://www.w3.org/2000/svg}text"))
    case = demo_cases()[case_id]
    assert all(str(tooth) in said for tooth in case_geometry(case).places)
    assert "patient" in said.lower()
    assert drawing.alt_text.startswith("Arch drawing")


def test_labels_do_not_cover_each_other() -> None:
    for case_id in SAMPLE[::2]:
        root = ElementTree.fromstring(drawn(case_id).svg)
        columns: dict[bool, list[float]] = {True: [], False: []}
        for element in root.iter("{http://www.w3.org/2000/svg}text"):
            x, size = float(element.attrib["x"]), float(element.attrib["font-size"])
            if size == 2.75 and (x == 1.0 or x == 133.0):
                columns[x < 50].append(float(element.attrib["y"]))
        for levels in columns.values():
            levels.sort()
            assert all(b - a > 2.7 for a, b in pairwise(levels))


@pytest.mark.parametrize(
    "case_id", ["harbour-0002", "harbour-0030", "harbour-0050", "harbour-0080", "harbour-0106"]
)
def test_what_is_proposed_can_be_drawn_as_soundly_as_what_was_made(
    case_id: str, rules_alone: "Recommender"
) -> None:
    case = demo_cases()[case_id]
    teeth = crowns(case)
    frameworks = rules_alone.recommend(case, 2).frameworks
    assert frameworks
    for framework in frameworks:
        drawing = arch_drawing(case, framework.design)
        metal = together(part for part in of_kind(drawing, "connector", "base") if part.detail != "resin")
        assert all(part.shape.distance(metal) < 0.6 for part in of_kind(drawing, "base"))
        assert all(part.shape.distance(metal) < 0.35 for part in of_kind(drawing, "minor_connector"))
        for part in of_kind(drawing, "retentive_arm", "bracing_arm", "bar", "rest"):
            own = unary_union([teeth[tooth] for tooth in part.teeth])
            assert part.shape.distance(own) < 0.3
            for tooth in standing(case) - set(part.teeth):
                assert part.shape.intersection(teeth[tooth]).area < 0.08
        rested = {part.teeth[0] for part in of_kind(drawing, "rest")}
        assert rested == {tooth for tooth, rest in framework.rests.items() if rest != "none"}
        assert {part.teeth[0] for part in of_kind(drawing, "indirect_retainer")} == {
            seat.tooth for seat in framework.indirect_retainers
        }
