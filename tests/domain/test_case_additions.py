"""Intervals, fields asked in vain, what was ruled out, provenance of a survey: read, refused, written, mirrored."""

from pathlib import Path

import pytest

from benchmarks.mirrored import mirror_case
from recommender.domain.case import Case
from recommender.domain.errors import CaseError
from recommender.domain.fields import asked_in_vain, get_field, recorded_fields, with_field
from recommender.domain.measures import Interval
from recommender.domain.reader import read_text, read_value
from recommender.precedents.store import cells, documents
from recommender.precedents.store.exporting import export as taking_out
from recommender.precedents.store.importing import columns, sheets
from recommender.precedents.store.importing import rows as incoming

HEAD = "format: 1\nid: made-1\narch: maxilla\nmissing: [15, 16]\n"
WHOLE = (
    HEAD
    + """asked: [patient.allergy, 'abutments[14].disease', 'spans[16].ridge']
patient: {antiresorptive: false, jaw_radiotherapy: true, incisor_display_mm: {low: -1, value: 0, high: 1}}
records: {cast: before_preparation, tilt_lateral_deg: {low: -1, value: 1, high: 2}}
spans:
- teeth: [15, 16]
  clearance_mm: {15: {low: 5, value: 5.5, high: 6}, 16: 4}
  months_since_extraction: {low: 2, value: 3, high: 6}
abutments:
- tooth: 14
  crown_height_mm: {low: 5, value: 6, high: 7}
  undercuts_mm: {mesial: {low: 0.2, value: 0.25, high: 0.3}, distofacial: 0.25}
  rest_clearance_mm: {mesial: {low: 1, value: 1.2, high: 1.4}}
palate: {length_mm: {low: 40, value: 45, high: 50}}
survey:
  scan: {unit: mm, unit_confirmed: true, side_confirmed: true, triangles: 300350}
  level: {by: three_points, confirmed: true}
  path:
    tilt_lateral_deg: -2.5
    chosen_by: search
    tripod: {points_mm: [[1, 2, 3], [-4, 5, 6], [0, 8, 9]], heights_level_mm: [1, 2, 3]}
  method: 1
  confirmed: [14]
prescription: {not: {retainers: {14: [any]}, connector: [u_shaped], replacements: {15: [tube_tooth]}}}
"""
)  # fmt: skip


def whole() -> Case:
    return read_text(WHOLE)


@pytest.mark.parametrize(
    ("text", "place", "field", "found", "allowed"),
    [
        ("abutments: [{tooth: 14, crown_height_mm: {low: 8, value: 6, high: 7}}]", "5:42",
         "abutments[14].crown_height_mm", "low 8, value 6, high 7", "an interval with low <= value <= high"),
        ("abutments: [{tooth: 14, crown_height_mm: {low: 8, value: 9, high: 300}}]", "5:67",
         "abutments[14].crown_height_mm.high", "300", "a number from 0 to 100"),
        ("abutments: [{tooth: 14, undercuts_mm: {mesial: {low: 0, value: 1, high: 4}}}]", "5:73",
         "abutments[14].undercuts_mm.mesial.high", "4", "at most 3"),
        ("abutments: [{tooth: 14, recession_mm: {low: .nan, value: 1, high: 4}}]", "5:45",
         "abutments[14].recession_mm.low", ".nan", "a finite number, or nothing where it was not recorded"),
        ("abutments: [{tooth: 14, recession_mm: {low: '1', value: 1, high: 4}}]", "5:45",
         "abutments[14].recession_mm.low", "1", "a number from 0 to 100"),
        ("abutments: [{tooth: 14, recession_mm: {low: 0, value: 1}}]", "5:39",
         "abutments[14].recession_mm.high", "nothing", "a number from 0 to 100"),
        ("abutments: [{tooth: 14, recession_mm: {low: 0, value: 1, high: 2, hi: 3}}]", "5:67",
         "abutments[14].recession_mm.hi", "the unknown key hi", "low, value, high"),
        ("abutments: [{tooth: 14, mobility: {low: 0, value: 1, high: 2}}]", "5:35",
         "abutments[14].mobility", "a mapping of 3 entries", "a whole number from 0 to 3"),
        ("patient: {allergy: []}\nasked: [patient.allergy]", "6:9", "asked[#1]",
         "patient.allergy, recorded as an empty list", "a field that is not recorded"),
        ("asked: ['abutments[15].tilt']", "5:9", "asked[#1]", "abutments[15].tilt",
         "a field of the case that may be asked for"),
        ("asked: [outcome.accepted]", "5:9", "asked[#1]", "outcome.accepted",
         "a field of the case that may be asked for"),
        ("asked: ['__class__.x']", "5:9", "asked[#1]", "__class__.x", "a field of the case that may be asked for"),
        ("asked: ['abutments[34].tilt']", "5:9", "asked[#1]", "34, a tooth of the mandible",
         "a tooth of the maxilla: 11-18, 21-28"),
        ("asked: ['abutments[14].crown_height_mm.low']", "5:9", "asked[#1]", "abutments[14].crown_height_mm.low",
         "a field of the case that may be asked for"),
        ("prescription: {not: {connector: [lingual_bar]}}", "5:34", "prescription.not.connector[#1]", "lingual_bar",
         "palatal_strap | anteroposterior_strap | u_shaped | complete_plate | metal_resin_plate | palatal_bar | "
         "anteroposterior_bar | unilateral"),
        ("prescription: {not: {retainers: {15: [any]}}}", "5:34", "prescription.not.retainers[15]", "15",
         "a tooth that stands (or an abutment of kind root or implant)"),
        ("prescription: {not: {replacements: {14: [tube_tooth]}}}", "5:37", "prescription.not.replacements[14]", "14",
         "a tooth that is in missing"),
        ("prescription: {connector: u_shaped, not: {connector: [u_shaped]}}", "5:55",
         "prescription.not.connector[#1]", "u_shaped", "a connector that the prescription does not ask for"),
        ("prescription: {not: {retainers: {14: [clasp]}}}", "5:39", "prescription.not.retainers[14][#1]", "clasp",
         None),
        ("survey: {scan: {sha256: ../x}}", "5:25", "survey.scan.sha256", "../x",
         "64 hexadecimal digits in lower case"),
        ("survey: {mesh: x}", "5:10", "survey.mesh", "the unknown key mesh", "scan, level, path, method, confirmed"),
        ("records: {cast: after}", "5:17", "records.cast", "after", "before_preparation | after_preparation"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_its_place(
    text: str, place: str, field: str, found: str, allowed: str | None
) -> None:
    with pytest.raises(CaseError) as error:
        read_text(HEAD + text, "a.yaml")
    problem = error.value.problems[0]
    assert (problem.at, problem.field, problem.found) == (f"a.yaml:{place}", field, found)
    assert allowed is None or problem.allowed == allowed
    assert len(error.value.problems) == 1


def test_any_rules_out_one_tooth_and_the_words_are_told() -> None:
    unwanted = whole().prescription
    assert unwanted is not None
    assert unwanted.ruled_out is not None
    assert unwanted.ruled_out.retainers == {14: ["any"]}
    with pytest.raises(CaseError, match=r"i_bar.*\| any"):
        read_text(HEAD + "prescription: {not: {retainers: {14: [ibar]}}}")


def test_asked_in_vain_is_known_by_any_tooth_of_a_space_and_ends_with_an_answer() -> None:
    case = whole()
    assert asked_in_vain(case, "spans[15].ridge")
    assert not asked_in_vain(case, "spans[15].ridge_loss")
    assert asked_in_vain(case, "patient.allergy")
    answered = with_field(case, "spans[15].ridge", "firm")
    assert answered.asked == ["patient.allergy", "abutments[14].disease"]
    # of a group of fields, those that were not answered remain asked
    group = read_text(HEAD + "asked: ['abutments[14].undercuts_mm']")
    one = with_field(group, "abutments[14].undercuts_mm.mesial", 0.25)
    assert asked_in_vain(one, "abutments[14].undercuts_mm.distal")
    assert not asked_in_vain(one, "abutments[14].undercuts_mm.mesial")
    assert read_value(documents.as_data(one)) == one


def test_universal_numbers_in_field_paths_are_converted() -> None:
    text = "format: 1\nid: a\narch: maxilla\nnumbering: universal\nmissing: [4, 3]\nasked: ['abutments[5].disease']\n"
    assert read_text(text).asked == ["abutments[14].disease"]


def test_an_interval_is_one_field() -> None:
    case = whole()
    assert "abutments[14].crown_height_mm" in recorded_fields(case)
    assert not any(path.endswith(("low", "value", "high")) for path in recorded_fields(case))
    assert not any(path.startswith(("asked", "survey")) for path in recorded_fields(case))
    with pytest.raises(ValueError, match="low"):
        get_field(case, "abutments[14].crown_height_mm.low")
    with pytest.raises(ValueError, match="low"):
        with_field(case, "abutments[14].crown_height_mm.low", 3.0)


def test_the_mirror_image_turns_paths_tilts_and_points() -> None:
    image = mirror_case(whole())
    assert image.asked == ["patient.allergy", "abutments[24].disease", "spans[26].ridge"]
    assert image.records is not None
    tilt = image.records.tilt_lateral_deg
    assert isinstance(tilt, Interval)
    assert (tilt.low, tilt.value, tilt.high) == (-2, -1, 1)
    assert image.survey is not None
    assert image.survey.confirmed == [24]
    assert image.survey.path is not None
    assert image.survey.path.tilt_lateral_deg == 2.5
    assert image.survey.path.tripod is not None
    assert image.survey.path.tripod.points_mm == [[-1, 2, 3], [4, 5, 6], [0, 8, 9]]
    assert read_value(documents.as_data(image)) == image
    assert mirror_case(image) == whole()


def test_every_way_out_and_in_is_exact(tmp_path: Path) -> None:
    case = whole()
    for form in ("yaml", "json"):
        taking_out.to_folder([case], tmp_path / form, form)
        assert [row.case for row in incoming.rows(tmp_path / form)] == [case]
        again = tmp_path / f"{form}-again"
        taking_out.to_folder([row.case for row in incoming.rows(tmp_path / form) if row.case], again, form)
        name = f"{case.id}.{form}"
        assert (again / name).read_bytes() == (tmp_path / form / name).read_bytes()
    for name, write in (("a.csv", taking_out.to_csv), ("a.xlsx", taking_out.to_xlsx)):
        write(lambda: iter([case]), tmp_path / name)
        found = columns.understand(str(tmp_path / name), sheets.headings(tmp_path / name), {})
        rows = list(sheets.rows(tmp_path / name, found))
        assert [row.problems for row in rows] == [()]
        assert [row.case for row in rows] == [case]


def test_an_interval_takes_three_columns_that_stand_together(tmp_path: Path) -> None:
    taking_out.to_csv(lambda: iter([whole()]), tmp_path / "a.csv")
    names = sheets.headings(tmp_path / "a.csv")
    at = names.index("abutments[1].crown_height_mm")
    assert names[at - 1 : at + 2] == tuple(
        f"abutments[1].crown_height_mm{end}" for end in ("_low", "", "_high")
    )
    with pytest.raises(cells.CellError):
        cells.place("abutments[1].mobility_low")


@pytest.mark.parametrize(
    ("row", "column", "found"),
    [
        ("a,maxilla,15,14,5,,7", None, "an interval without its abutments[1].crown_height_mm"),
        ("a,maxilla,15,14,,6,7", None, "an interval without its abutments[1].crown_height_mm_low"),
        ("a,maxilla,15,14,8,6,7", 6, "low 8, value 6, high 7"),
        ("a,maxilla,15,14,5,6,700", 7, "700"),
        ("a,maxilla,15,14,x,6,7", 5, '"x"'),
    ],
)
def test_a_faulty_interval_of_a_table_names_its_column(
    tmp_path: Path, row: str, column: int | None, found: str
) -> None:
    heads = ",".join(f"abutments[1].crown_height_mm{end}" for end in ("_low", "", "_high"))
    path = tmp_path / "a.csv"
    path.write_text(f"id,arch,missing,abutments[1].tooth,{heads}\n{row}\n", encoding="utf-8")
    read = list(sheets.rows(path, columns.understand(str(path), sheets.headings(path), {}), "iso"))
    problem = read[0].problems[0]
    assert problem.found == found
    assert problem.at == (f"{path}:2:{column}" if column else f"{path}:2")
    assert read[0].case is None
