"""``review`` from the outside."""

import json
from pathlib import Path

import jsonschema
import orjson
from click.testing import CliRunner

from recommender.cli.main import main
from recommender.resources import demo_library, shared

CASE = str(demo_library() / "harbour-0012.yaml")
ASKED = """format: 1
id: made-0005
arch: maxilla
missing: [15, 16]
absent: [18, 28]
patient: {allergy: [nickel]}
abutments:
- {tooth: 14, undercuts_mm: {mesiofacial: 0.25, midfacial: 0.0, distofacial: 0.0}, tissue_undercut: true}
- {tooth: 17, mobility: 0}
prescription: {retainers: {14: i_bar}, connector: u_shaped, alloy: nickel_chromium}
"""


def run(*arguments: str, text: str | None = None) -> tuple[int, str, str]:
    result = CliRunner().invoke(main, ["review", *arguments], input=text)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout, result.stderr


def schema() -> jsonschema.Draft202012Validator:
    loaded = json.loads(shared("schema", "review.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(loaded)
    return jsonschema.Draft202012Validator(loaded)


def test_json_keeps_its_schema_and_tells_prescription_from_design() -> None:
    for arguments, subject in (((CASE,), "prescription"), ((CASE, "--design"), "design")):
        code, out, err = run(*arguments, "--json")
        assert (code, err) == (0, "")
        document = orjson.loads(out)
        schema().validate(document)
        if orjson.loads(out)["reviewed"] != subject:
            assert "prescription" not in Path(CASE).read_text(encoding="utf-8").split("design:")[0]


def test_conflicts_are_told_courteously() -> None:
    code, out, err = run("-", "--library", "none", text=ASKED)
    assert (code, err) == (0, "")
    assert "made-0005: prescription reviewed" in out
    assert "Retainer on 14: conflicts" in out
    assert "Alloy of the framework: conflicts" in out
    assert "The decision is yours" in out
    assert "The prescribing dentist decides" in out


def test_the_document_of_a_prescription() -> None:
    _, out, _ = run("-", "--json", "--library", "none", text=ASKED)
    document = orjson.loads(out)
    schema().validate(document)
    items = {item["for"]: item for item in document["items"]}
    assert items["retainer:14"]["verdict"] == "conflicts"
    assert items["retainer:14"]["asked"] == "i_bar"
    assert items["alloy"]["verdict"] == "conflicts"
    assert items["replacement:15"]["verdict"] == "left_out"


def test_nothing_missing_and_nothing_asked() -> None:
    code, out, _ = run("-", "--library", "none", text="format: 1\nid: whole\narch: maxilla\nmissing: []\n")
    assert code == 0
    assert "nothing to review" in out
    code, out, _ = run(
        "-", "--json", text="format: 1\nid: open\narch: maxilla\nmissing: [16]\nabsent: [18]\n"
    )
    assert code == 0
    document = orjson.loads(out)
    schema().validate(document)
    assert document["reviewed"] == "nothing"
    assert {item["verdict"] for item in document["items"]} == {"left_out"}
