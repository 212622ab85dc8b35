"""Checks across fields: every contradiction is found, every exception of the case format is let through."""
# ruff: noqa: E501 (a table of messages reads best with one case a line)

import pytest
import yaml

from recommender.domain.errors import CaseError
from recommender.domain.reader import read_text
from recommender.resources import shared

UPPER = "format: 1\nid: a\narch: maxilla\nmissing: [15, 16, 24]\nabsent: [18, 28]\n"
LOWER = "format: 1\nid: a\narch: mandible\nmissing: [36, 37]\nabsent: [38]\n"

WRONG = [
    (UPPER, "planned_extractions: [17]", "planned_extractions[#1]", "missing or absent"),
    (UPPER, "future_loss_likely: [15]", "future_loss_likely[#1]", "a tooth that stands"),
    (UPPER, "future_loss_likely: [17, 17]", "future_loss_likely[#2]", "each entry once"),
    (UPPER, "patient: {allergy: [nickel, nickel]}", "patient.allergy[#2]", "each entry once"),
    (UPPER, "patient: {last_tooth_in_smile: 35}", "patient.last_tooth_in_smile", "a tooth of the maxilla"),
    (UPPER, "abutments: [{tooth: 15}]", "abutments[15].tooth", "not in missing"),
    (UPPER, "abutments: [{tooth: 18}]", "abutments[18].tooth", "not in absent"),
    (UPPER, "abutments: [{tooth: 18, kind: root}]", "abutments[18].tooth", "not in absent"),
    (UPPER, "abutments: [{tooth: 15, kind: tooth}]", "abutments[15].tooth", "not in missing"),
    (UPPER, "abutments: [{tooth: 14}, {tooth: 14}]", "abutments[14].tooth", "each abutment once"),
    (UPPER, "abutments: [{tooth: 19}]", "abutments[19].tooth", "a tooth of the maxilla"),
    (UPPER, "abutments: [{tooth: 14, rest_seats: [mesial, mesial]}]", "abutments[14].rest_seats[#2]", "each entry once"),
    (UPPER, "spans: [{teeth: [15, 17]}]", "spans[15].teeth[#2]", "in missing"),
    (UPPER, "spans: [{teeth: [15, 24]}]", "spans[15].teeth", "follow each other"),
    (UPPER, "spans: [{teeth: [15, 16]}, {teeth: [16]}]", "spans[16].teeth[#1]", "one span only"),
    (UPPER, "spans: [{teeth: [15, 16], clearance_mm: {14: 5}}]", "spans[15].clearance_mm[14]", "of this span"),
    (UPPER, "spans: [{teeth: [15, 16], clearance_mm: 26}]", "spans[15].clearance_mm", "at most 25"),
    (UPPER, "spans: [{teeth: [15, 16], clearance_mm: {15: 26}}]", "spans[15].clearance_mm[15]", "at most 25"),
    (UPPER, "spans: [{teeth: [15, 16], clearance_mm: -1}]", "spans[15].clearance_mm", "0 to 100"),
    (UPPER, "abutments: [{tooth: 14, crown_height_mm: 21}]", "abutments[14].crown_height_mm", "0.5 to 20"),
    (UPPER, "abutments: [{tooth: 14, undercuts_mm: {mesial: 4}}]", "abutments[14].undercuts_mm.mesial", "at most 3"),
    (UPPER, "floor: {depth_mm: 9}", "floor", "mandible"),
    (LOWER, "palate: {torus: none}", "palate", "maxilla"),
    (LOWER, "floor: {depth_mm: {molar: 40}}", "floor.depth_mm.molar", "at most 30"),
    (LOWER, "prescription: {connector: palatal_strap}", "prescription.connector", "lingual_bar"),
    (UPPER, "design: {connector: lingual_bar}", "design.connector", "palatal_strap"),
    (UPPER, "prescription: {retainers: {15: i_bar}}", "prescription.retainers[15]", "a tooth that stands"),
    (UPPER, "prescription: {rests: {18: mesial}}", "prescription.rests[18]", "a tooth that stands"),
    (UPPER, "prescription: {replacements: {18: metal_tooth}}", "prescription.replacements[18]", "in missing"),
    (UPPER, "design: {retainers: [{tooth: 16, assembly: ring}]}", "design.retainers[16].tooth", "a tooth that stands"),
    (UPPER, "design: {retainers: [{tooth: 26, assembly: embrasure, partner: 26}]}", "design.retainers[26].partner", "another tooth"),
    (UPPER, "design: {rests: {24: mesial}}", "design.rests[24]", "a tooth that stands"),
    (UPPER, "design: {indirect_retainers: [{tooth: 24, rest: mesial}]}", "design.indirect_retainers[24].tooth", "a tooth that stands"),
    (UPPER, "design: {plating: [{teeth: [13, 24]}]}", "design.plating[13].teeth[#2]", "a tooth that stands"),
    (UPPER, "design: {bases: [{teeth: [15, 14]}]}", "design.bases[15].teeth[#2]", "missing or absent"),
    (UPPER, "outcome: {events: [{event: relined, tooth: 36}]}", "outcome.events[36].tooth", "a tooth of the maxilla"),
]  # fmt: skip


@pytest.mark.parametrize(("head", "text", "field", "allowed"), WRONG, ids=[text for _, text, _, _ in WRONG])
def test_contradictions(head: str, text: str, field: str, allowed: str) -> None:
    with pytest.raises(CaseError) as caught:
        read_text(head + text + "\n", "c.yaml")
    (problem,) = caught.value.problems
    assert problem.field == field
    assert allowed in problem.allowed
    assert problem.at.startswith("c.yaml:6:")


RIGHT = [
    (UPPER, "abutments: [{tooth: 15, kind: root}, {tooth: 16, kind: implant}, {tooth: 14}]"),
    (UPPER, "abutments: [{tooth: 15, kind: root}]\nprescription: {retainers: {15: stud}}"),
    (UPPER, "planned_extractions: [24, 28]"),
    (UPPER, "spans: [{teeth: [16, 15], clearance_mm: {15: 5}}, {teeth: [24]}]"),
    (UPPER, "design: {bases: [{teeth: [16, 15]}], plating: [{teeth: [13, 23]}]}"),
    (UPPER, "design: {connector: unilateral}\nprescription: {connector: unilateral}"),
    (LOWER, "design: {connector: unilateral}"),
    (LOWER, "design: {retainers: [{tooth: 35, assembly: i_bar, partner: null}]}"),
    (LOWER, "occlusion: {contacts: {36: [closing], 35: [lateral]}}"),
]


@pytest.mark.parametrize(("head", "text"), RIGHT)
def test_what_the_format_allows(head: str, text: str) -> None:
    assert read_text(head + text + "\n").id == "a"


def test_a_span_skips_absent_teeth_whose_space_closed() -> None:
    text = "format: 1\nid: a\narch: mandible\nmissing: [34, 36]\nabsent: [35]\nspans: [{teeth: [34, 36]}]\n"
    assert read_text(text).spans is not None


def test_missing_and_absent_exclude_each_other() -> None:
    with pytest.raises(CaseError, match="one of the two lists"):
        read_text("format: 1\nid: a\narch: mandible\nmissing: [36]\nabsent: [36]\n")


def test_an_edentulous_arch_is_refused() -> None:
    teeth = [*range(11, 19), *range(21, 28)]
    with pytest.raises(CaseError, match="standing tooth"):
        read_text(f"format: 1\nid: a\narch: maxilla\nmissing: {teeth}\nabsent: [28]\n")
    with pytest.raises(CaseError, match="standing tooth"):
        read_text(f"format: 1\nid: a\narch: maxilla\nmissing: {[*teeth, 28]}\nplanned_extractions: [11]\n")
    assert read_text(f"format: 1\nid: a\narch: maxilla\nmissing: {teeth}\n").missing == teeth


def test_nothing_missing_is_a_case() -> None:
    assert read_text("format: 1\nid: a\narch: maxilla\nmissing: []\n").missing == []


def test_every_range_names_a_field_and_a_reason() -> None:
    """A range that reaches no field would check nothing."""
    from recommender.domain.shape import Shape, case_shape

    for entry in yaml.safe_load(shared("ranges.yaml").read_text(encoding="utf-8"))["ranges"]:
        shape: Shape | None = case_shape()
        for step in entry["field"].replace("[]", "").removesuffix(".*").split("."):
            assert shape is not None
            if shape.kind == "list":
                shape = shape.item
            assert shape is not None
            shape = shape.fields.get(step)
        assert shape is not None, entry["field"]
        assert entry["why"]
        assert {"least", "most"} & set(entry)
