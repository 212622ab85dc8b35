"""Every option that the vocabulary knows can be drawn, on front, middle and back teeth of both arches."""

from typing import Any

import pytest
from shapely.geometry import Point
from shapely.ops import unary_union

from recommender.documents.drawing import Drawing, arch_drawing
from recommender.domain import vocabulary as v
from recommender.domain.case import Case
from recommender.domain.catalogue import load
from tests.documents.geometry import crowns, drawn_crowns, of_kind, standing, together

INTERNAL = ("attachment", "double_crown", "stud")
BASES = ("lattice", "mesh", "loops", "nail_heads", "metal")


def build(arch: str, **design: Any) -> Case:
    """A bounded space on each side, its borders surveyed; invented."""
    tens = (1, 2) if arch == "maxilla" else (4, 3)
    missing = [tens[0] * 10 + 5, tens[0] * 10 + 6, tens[1] * 10 + 5, tens[1] * 10 + 6]
    bases = [{"teeth": missing[:2], "retention": "lattice"}, {"teeth": missing[2:], "retention": "lattice"}]
    connector = "anteroposterior_strap" if arch == "maxilla" else "lingual_bar"
    return Case.model_validate(
        {
            "format": 1,
            "id": "invented",
            "arch": arch,
            "missing": missing,
            "absent": [tens[0] * 10 + 8, tens[1] * 10 + 8],
            "design": {"connector": connector, "bases": bases} | design,
        }
    )


def draw(case: Case) -> Drawing:
    assert case.design is not None
    return arch_drawing(case, case.design)


@pytest.mark.parametrize("assembly", [name for name in v.RETAINERS if name != "none"])
@pytest.mark.parametrize(
    ("tooth", "approach"), [(14, "distal"), (27, "mesial"), (44, "distal"), (37, "mesial")]
)
def test_every_assembly(assembly: str, tooth: int, approach: str) -> None:
    arch = "maxilla" if tooth < 30 else "mandible"
    retainer = {"tooth": tooth, "assembly": assembly, "approach": approach}
    if assembly == "embrasure":
        retainer |= {"partner": tooth - 1, "approach": "mesial"}
    case = build(arch, retainers=[retainer])
    drawing = draw(case)
    teeth = drawn_crowns(drawing)
    metal = of_kind(drawing, "retentive_arm", "bar", "bracing_arm", *INTERNAL)
    assert metal
    assert all(part.shape.area > 0.5 for part in metal)
    for part in metal:
        own = unary_union([teeth[place] for place in part.teeth])
        assert part.shape.distance(own) < 0.3
        for other in standing(case) - set(part.teeth):
            assert part.shape.intersection(teeth[other]).area < 0.05
    tips = of_kind(drawing, "tip")
    holds = assembly not in (*INTERNAL, "rigid_rotational", "rest_only")
    assert len(tips) == int(holds)
    for tip in tips:
        crown = teeth[tip.teeth[0]]
        assert Point(tip.path[-1]).distance(crown.exterior) < (2.2 if assembly == "hairpin" else 1.0)
    if assembly in ("lingual_wrap", "proximal_undercut"):
        # Nothing lies on the facial of the tooth.
        from recommender.facts.mechanical import case_geometry

        facial = Point(case_geometry(case)[tooth].facial)
        assert all(part.shape.distance(facial) > 1.0 for part in metal)


FRONT = [
    (tooth, rest)
    for tooth in (13, 43)
    for rest in ("mesial", "distal", "mesial_distal", "cingulum", "incisal")
]
BACK = [
    (tooth, rest)
    for tooth in (14, 27, 34, 47)
    for rest in v.RESTS
    if rest not in ("none", "cingulum", "incisal")
]


@pytest.mark.parametrize(("tooth", "rest"), [*FRONT, *BACK])
def test_every_rest(tooth: int, rest: str) -> None:
    case = build("maxilla" if tooth < 30 else "mandible", rests={tooth: rest})
    drawing = draw(case)
    teeth = drawn_crowns(drawing)
    parts = of_kind(drawing, "rest")
    assert len(parts) == (2 if rest == "mesial_distal" else 1)
    for part in parts:
        assert part.shape.area > 0.5
        assert part.shape.within(teeth[tooth].buffer(0.02))
    if rest == "onlay":
        assert parts[0].shape.area > 0.6 * teeth[tooth].area


@pytest.mark.parametrize(
    "connector", [*v.connectors("maxilla"), *v.connectors("mandible")[:-1], "unilateral"]
)
def test_every_connector(connector: str) -> None:
    arch = "maxilla" if connector in v.connectors("maxilla") else "mandible"
    case = build(arch, connector=connector, rests={13: "cingulum"} if arch == "maxilla" else {43: "cingulum"})
    drawing = draw(case)
    metal = together(of_kind(drawing, "connector"))
    assert metal.area > 40
    assert {part.detail for part in of_kind(drawing, "connector")} >= {connector}
    low_x, _, high_x, _ = metal.bounds
    if connector == "unilateral":
        assert low_x * high_x > 0  # it stays on one side
    else:
        assert low_x < 0 < high_x
    assert f"Major connector: {load().options['connector'][connector].label}." in drawing.alt_text


@pytest.mark.parametrize("retention", [*BASES, None])
def test_every_base(retention: str | None) -> None:
    case = build("mandible", bases=[{"teeth": [45, 46], "retention": retention}])
    drawing = draw(case)
    (base,) = of_kind(drawing, "base")
    ridge = unary_union([crowns(case)[45], crowns(case)[46]])
    assert base.shape.intersection(ridge).area > 0.5 * base.shape.area
    assert base.shape.distance(together(of_kind(drawing, "connector"))) < 0.6


def test_what_was_not_recorded_is_not_drawn() -> None:
    case = build("mandible", bases=None, connector=None)
    drawing = draw(case)
    assert {part.kind for part in drawing.parts} == {"tooth", "missing_tooth", "absent_tooth"}
    bare = arch_drawing(case, case.design.model_copy(update={"replacements": None}))  # type: ignore[union-attr]
    assert "replacement tooth not chosen" in " ".join(one.words for one in bare.words)


def test_universal_numbers_stand_where_iso_numbers_stood() -> None:
    """ISO 14 is tooth 5 of the universal system, ISO 47 tooth 31 (American Dental Association)."""
    case = build("mandible", rests={47: "mesial"})
    assert case.design is not None
    said = [one.words for one in arch_drawing(case, case.design, numbering="universal").words]
    assert "31" in said
    assert "47" not in said
