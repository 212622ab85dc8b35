"""Field paths, copies without a field, and mirror images."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.mirrored import mirror_case
from recommender.domain import vocabulary as v
from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, mirror
from recommender.domain.fields import get_field, recorded_fields, split, with_field, without_field
from recommender.domain.kennedy import classify, spaces
from recommender.domain.labels import field_label, field_unit
from recommender.domain.reader import read_text, read_value

FULL = read_text("""
format: 1
id: full
arch: maxilla
missing: [15, 16, 24]
absent: [18]
future_loss_likely: [17]
patient: {age: 58, allergy: [], last_tooth_in_smile: 14}
occlusion: {contacts: {15: [closing, lateral], 14: []}}
records: {tilt_lateral_deg: 3}
spans: [{teeth: [15, 16], clearance_mm: {15: 5.0, 16: 6.5}, ridge: firm}]
abutments:
- {tooth: 14, undercuts_mm: {mesiofacial: 0.25}, contour_height: {midfacial: middle}, rest_clearance_mm: 1.5}
- {tooth: 15, kind: root, mobility: 1}
palate: {torus: none}
prescription: {retainers: {14: i_bar}}
design: {retainers: [{tooth: 14, assembly: i_bar}], plating: [{teeth: [13, 23]}]}
dentist_answer: [{item: "retainer:14", answer: accepted}]
outcome: {events: [{event: relined, tooth: 14}]}
""")


def test_recorded_fields_are_the_evidence() -> None:
    assert recorded_fields(FULL) == [
        "future_loss_likely",
        "patient.age",
        "patient.last_tooth_in_smile",
        "patient.allergy",
        "occlusion.contacts[15]",
        "occlusion.contacts[14]",
        "records.tilt_lateral_deg",
        "spans[16].clearance_mm[15]",
        "spans[16].clearance_mm[16]",
        "spans[16].ridge",
        "abutments[14].undercuts_mm.mesiofacial",
        "abutments[14].contour_height.midfacial",
        "abutments[14].rest_clearance_mm",
        "abutments[15].mobility",
        "palate.torus",
    ]


@pytest.mark.parametrize("path", recorded_fields(FULL))
def test_a_field_taken_out_is_not_recorded_and_nothing_else_changes(path: str) -> None:
    without = without_field(FULL, path)
    assert get_field(FULL, path) is not None
    assert get_field(without, path) is None
    assert recorded_fields(without) == [other for other in recorded_fields(FULL) if other != path]
    back = with_field(without, path, get_field(FULL, path))
    assert sorted(recorded_fields(back)) == sorted(recorded_fields(FULL))
    assert get_field(back, path) == get_field(FULL, path)
    assert classify(without) == classify(FULL)


def test_values_by_path() -> None:
    assert get_field(FULL, "abutments[14].undercuts_mm.mesiofacial") == 0.25
    assert (
        get_field(FULL, "spans[15].clearance_mm[16]") == get_field(FULL, "spans[16].clearance_mm[16]") == 6.5
    )
    assert get_field(FULL, "abutments[27].mobility") is None
    assert get_field(FULL, "floor.depth_mm") is None


def test_fields_are_added_where_nothing_was_recorded() -> None:
    bare = read_value({"format": 1, "id": "b", "arch": "mandible", "missing": [36, 37, 46]})
    for path, value in {
        "floor.depth_mm": 9.0,
        "abutments[35].undercuts_mm.distofacial": 0.5,
        "spans[37].clearance_mm": 6.0,
        "occlusion.contacts[36]": ["closing"],
        "patient.age": 70,
    }.items():
        changed = with_field(bare, path, value)
        assert get_field(changed, path) == value
        assert get_field(bare, path) is None
    assert [span.teeth for span in with_field(bare, "spans[37].clearance_mm", 6.0).spans or ()] == [[36, 37]]


def test_nothing_changes_where_nothing_was_recorded() -> None:
    assert without_field(FULL, "floor.depth_mm") is FULL
    assert without_field(FULL, "abutments[27].mobility") is FULL
    assert without_field(FULL, "spans[24].ridge") is FULL


@pytest.mark.parametrize(
    "path", ["patient.shoe_size", "abutments[14]", "missing", "abutments[14].tooth", "", "a..b"]
)
def test_what_is_no_field_or_cannot_be_left_out(path: str) -> None:
    with pytest.raises(ValueError, match=r"field|without|entry"):
        without_field(FULL, path)


def test_paths() -> None:
    assert split("abutments[14].undercuts_mm.distofacial") == ("abutments", 14, "undercuts_mm", "distofacial")


def test_labels_of_fields() -> None:
    assert field_label("abutments[14].undercuts_mm.distofacial") == "tooth 14, undercut, distofacial"
    assert field_label("abutments[14].mobility", "universal") == "tooth 5, mobility grade"
    assert field_label("abutments[14].tooth") == "tooth 14, listed as an abutment"
    assert field_label("design.rests.14", "universal") == "tooth 5, design, rests"
    assert field_label("no_such[14].field") == "no_such[14].field"
    assert field_label("spans[16].clearance_mm[15]") == "space at 16, tooth 15, vertical clearance"
    assert (field_unit("patient.age"), field_unit("abutments[14].mobility")) == ("years", "")


def test_mirror_image_of_a_full_case() -> None:
    other = mirror_case(FULL)
    assert other.missing == [25, 26, 14]
    assert get_field(other, "records.tilt_lateral_deg") == -3
    assert get_field(other, "occlusion.contacts") == {25: ["closing", "lateral"], 24: []}
    assert get_field(other, "spans[25].clearance_mm") == {25: 5.0, 26: 6.5}
    assert get_field(other, "patient.last_tooth_in_smile") == 24
    assert other.dentist_answer is not None
    assert other.dentist_answer[0].item == "retainer:24"
    assert other.prescription is not None
    assert other.prescription.retainers == {24: "i_bar"}
    assert mirror_case(other) == FULL
    numbers, mirrored = (
        [
            int(n)
            for n in re.findall(
                r"(?<![.\d])[1-4][1-8](?!\d)", c.model_dump_json(exclude={"patient": {"age"}})
            )
        ]
        for c in (FULL, other)
    )
    assert len(numbers) == 20
    assert mirrored == [mirror(n) for n in numbers]


@st.composite
def cases(draw: st.DrawFn) -> Case:
    """Cases with any dentition that leaves a tooth, and some findings."""
    arch = draw(st.sampled_from(["maxilla", "mandible"]))
    letters = draw(
        st.lists(st.sampled_from("SSSMA"), min_size=16, max_size=16).filter(lambda row: "S" in row)
    )
    order = ARCH_ORDER[arch]
    standing = [t for t, letter in zip(order, letters, strict=True) if letter == "S"]
    listed = draw(st.none() | st.lists(st.sampled_from(standing), unique=True))
    depth = st.none() | st.sampled_from([0.0, 0.25, 0.5])
    value = {
        "format": 1,
        "id": "drawn",
        "arch": arch,
        "missing": [t for t, letter in zip(order, letters, strict=True) if letter == "M"],
        "absent": [t for t, letter in zip(order, letters, strict=True) if letter == "A"],
        "records": {"tilt_lateral_deg": draw(st.none() | st.floats(-45, 45))},
        "abutments": None
        if listed is None
        else [
            {
                "tooth": tooth,
                "undercuts_mm": {zone: draw(depth) for zone in v.ZONES},
                "mobility": draw(st.none() | st.integers(0, 3)),
            }
            for tooth in listed
        ],
    }
    return read_value(value)


@given(cases())
@settings(max_examples=100, deadline=None)
def test_a_case_mirrored_twice_is_the_same(case: Case) -> None:
    other = mirror_case(case)
    assert mirror_case(other) == case
    here, there = classify(case), classify(other)
    assert (here.label, [q.otherwise for q in here.questions]) == (
        there.label,
        [q.otherwise for q in reversed(there.questions)],
    )
    assert {frozenset(map(mirror, s.teeth)) for s in spaces(case)} == {
        frozenset(s.teeth) for s in spaces(other)
    }
    assert len(recorded_fields(case)) == len(recorded_fields(other))


@given(cases(), st.data())
@settings(max_examples=100, deadline=None)
def test_taking_out_and_putting_back_any_field(case: Case, data: st.DataObject) -> None:
    fields = recorded_fields(case)
    if not fields:
        return
    path = data.draw(st.sampled_from(fields))
    without = without_field(case, path)
    assert path not in recorded_fields(without)
    assert with_field(without, path, get_field(case, path)) == case
