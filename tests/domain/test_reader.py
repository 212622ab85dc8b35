"""Reading cases: values, messages, places, and what the format leaves out."""

from pathlib import Path

import orjson
import pytest

from recommender.domain.case import Case
from recommender.domain.errors import CaseError, Problem
from recommender.domain.reader import case_files, read_bytes, read_case, read_folder, read_text, read_value

HEAD = "format: 1\nid: harbour-0012\narch: maxilla\nmissing: [15, 16]\n"


def problems(text: str) -> list[Problem]:
    with pytest.raises(CaseError) as caught:
        read_text(text, "c.yaml")
    return list(caught.value.problems)


def problem(text: str) -> Problem:
    found = problems(text)
    assert len(found) == 1, found
    return found[0]


def test_the_shortest_case_records_nothing_else() -> None:
    case = read_text(HEAD)
    assert case == Case(format=1, id="harbour-0012", arch="maxilla", missing=[15, 16])
    assert case.abutments is None
    assert case.patient is None


def test_left_out_is_not_zero_none_or_no() -> None:
    case = read_text(HEAD + "patient: {dry_mouth: null, allergy: [], age: ~}\n")
    assert case.patient is not None
    assert (case.patient.dry_mouth, case.patient.allergy, case.patient.age) == (None, [], None)


def test_yaml_and_json_give_the_same_case() -> None:
    yaml_case = read_text(HEAD + 'title: "Zürich 😀"\nocclusion: {contacts: {15: [closing]}}\n')
    value = yaml_case.model_dump(mode="json", exclude_none=True)
    value["occlusion"]["contacts"] = {"15": ["closing"]}
    for text in (orjson.dumps(value).decode(), ascii_json(value)):
        assert read_text(text, "c.json") == yaml_case
    assert read_value(value) == yaml_case


def ascii_json(value: object) -> str:
    import json

    return json.dumps(value, indent="\t")


def test_a_byte_order_mark_and_windows_line_ends_are_read() -> None:
    assert read_bytes(b"\xef\xbb\xbf" + HEAD.replace("\n", "\r\n").encode()) == read_text(HEAD)


@pytest.mark.parametrize(
    ("text", "at", "field", "found", "allowed", "hint"),
    [
        ("patient: {smile_line: hihg}", "5:23", "patient.smile_line", "hihg", "high | average | low", "high"),
        ("patient: {smile_lin: high}", "5:11", "patient.smile_lin", "unknown key", "smile_line", "smile_line"),
        ("patient: {age: 94}", "5:16", "patient.age", "94", "0 to 89", '"90+"'),
        ("patient: {age: 58.5}", "5:16", "patient.age", "58.5", "whole number", ""),
        ("patient: {gag_reflex: yes}", "5:23", "patient.gag_reflex", "yes", "true | false", "write true"),
        ("patient: {gag_reflex: 1}", "5:23", "patient.gag_reflex", "1", "true | false", ""),
        ("patient: {allergy: nickel}", "5:20", "patient.allergy", "nickel", "a list of", "[nickel]"),
        ("spans: [{teeth: [15], clearance_mm: -3}]", "5:37", "spans[15].clearance_mm", "-3", "0 to 100", ""),
        ("spans: [{teeth: [15], width_mm: 5 mm}]", "5:33", "spans[15].width_mm", "5 mm", "a number", "write 5"),
        ("spans: [{teeth: [15], width_mm: .inf}]", "5:33", "spans[15].width_mm", ".inf", "finite", ""),
        ("spans: [{teeth: [15], width_mm: 1e999}]", "5:33", "spans[15].width_mm", "1e999", "18 digits", ""),
        ("abutments: [{tooth: 14, mobility: 4}]", "5:35", "abutments[14].mobility", "4", "0 to 3", ""),
        (
            "abutments:\n- tooth: 14\n  contour_height: {mesiofacial: gingivl}",
            "7:33", "abutments[14].contour_height.mesiofacial", "gingivl", "gingival | middle", "gingival",
        ),
        ("abutments: [{mobility: 1}]", "5:13", "abutments[#1].tooth", "nothing", "a tooth number", ""),
        ("occlusion: {contacts: {35: [closing]}}", "5:24", "occlusion.contacts[35]", "mandible", "maxilla", ""),
        ("design: {connector: palatal_strep}", "5:21", "design.connector", "palatal_strep", "u_shaped", "strap"),
        ("title: [a]", "5:8", "title", "[a]", "a text", ""),
        ("id: second", "5:1", "id", "second time", "once", "line 2"),
    ],
)  # fmt: skip
def test_one_clear_message(text: str, at: str, field: str, found: str, allowed: str, hint: str) -> None:
    told = problem(HEAD + text + "\n")
    assert told.at == f"c.yaml:{at}"
    assert told.field == field
    assert found in told.found
    assert allowed in told.allowed
    assert hint in told.hint
    assert str(told).startswith(f"c.yaml:{at}: {field}: found ")


def test_all_problems_of_a_file_at_once_in_order() -> None:
    text = """format: 1
id: x y
arch: maxilla
missing: [15]
absent: [15]
patient: {smile_line: hihg, age: 94}
abutments:
- {tooth: 14, mobility: 9}
- {tooth: 14, mobility: 2, mobility: 3}
"""
    told = problems(text)
    assert [entry.field for entry in told] == [
        "id", "absent[#1]", "patient.smile_line", "patient.age", "abutments[14].mobility", "abutments[14].tooth",
        "abutments[14].mobility",
    ]  # fmt: skip
    assert [entry.at.split(":")[1] for entry in told] == ["2", "5", "6", "6", "8", "9", "9"]


def test_a_number_that_looks_like_an_id_keeps_its_zeros() -> None:
    told = problem("format: 1\nid: 0012\narch: maxilla\nmissing: [15]\n")
    assert told.found.startswith("0012")
    assert told.hint == 'put the id in quotes: "0012"'
    assert read_text('format: 1\nid: "0012"\narch: maxilla\nmissing: [15]\n').id == "0012"
    assert problem("format: 1\nid: 12\narch: maxilla\nmissing: [15]\n").hint == 'put the id in quotes: "12"'


def test_required_fields() -> None:
    told = problems("title: nothing else\n")
    assert {entry.field for entry in told} == {"format", "id", "arch", "missing"}
    assert "missing: []" in problem("format: 1\nid: a\narch: maxilla\nmissing:\n").hint


def test_the_error_document() -> None:
    with pytest.raises(CaseError) as caught:
        read_text(HEAD + "palate: {torus: huge}\n", "c.yaml")
    assert caught.value.document() == {
        "format": 1,
        "case": "harbour-0012",
        "error": [
            {
                "at": "c.yaml:5:17",
                "field": "palate.torus",
                "found": "huge",
                "allowed": "none | small | large | large_posterior",
            }
        ],
    }


def test_a_value_without_text_names_no_line() -> None:
    with pytest.raises(CaseError) as caught:
        read_value({"format": 1, "id": "a", "arch": "maxilla", "missing": [35]}, "upload")
    assert caught.value.problems[0].at == "upload"


def test_folders_are_read_in_order_and_faulty_files_do_not_stop_them(tmp_path: Path) -> None:
    for name, text in {
        "b.yaml": HEAD,
        "a.yml": "[",
        "sub/c.json": "{}",
        ".hidden.yaml": "x",
        "d.txt": "x",
    }.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert [path.name for path in case_files(tmp_path)] == ["a.yml", "b.yaml", "c.json"]
    first, second, third = read_folder(tmp_path)
    assert isinstance(first, CaseError)
    assert isinstance(second, Case)
    assert isinstance(third, CaseError)


def test_a_missing_file_is_an_error_that_names_it(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="no such file"):
        read_case(tmp_path / "none.yaml")
    with pytest.raises(CaseError, match="a folder"):
        read_case(tmp_path)


def test_a_written_case_reads_back_the_same() -> None:
    import yaml

    case = read_text(
        HEAD + "patient: {age: 90+, sex: female}\nspans: [{teeth: [15, 16], clearance_mm: {15: 5}}]\n"
    )
    dumped = yaml.safe_dump(case.model_dump(exclude_none=True), sort_keys=False)
    assert read_text(dumped) == case
