"""``explain`` from the outside."""

import json
from pathlib import Path

import jsonschema
import orjson
import pytest
from click.testing import CliRunner

from recommender.cli.main import main
from recommender.resources import demo_library, shared

CASE = str(demo_library() / "harbour-0012.yaml")


def run(*arguments: str, text: str | None = None) -> tuple[int, str, str]:
    result = CliRunner().invoke(main, ["explain", *arguments], input=text)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.stdout, result.stderr


@pytest.fixture(scope="module")
def schema() -> jsonschema.Draft202012Validator:
    loaded = json.loads(shared("schema", "explain.schema.json").read_text(encoding="utf-8"))
    return jsonschema.Draft202012Validator(loaded)


def test_text_tells_why_how_sure_and_what_would_change_it() -> None:
    code, out, err = run(CASE, "--for", "connector")
    assert (code, err) == (0, "")
    for head in ("Why, largest first", "How sure", "What would change it"):
        assert head in out
    assert "The prescribing dentist decides" in out
    assert " counting " in out


def test_contrast_in_text_names_both() -> None:
    code, out, _ = run(CASE, "--for", "retainer:35", "--why-not", "circumferential", "--changes")
    assert code == 0
    assert "Why not circumferential clasp" in out
    assert "PROVISIONAL" in out


def test_json_is_one_document_that_keeps_its_schema(schema: jsonschema.Draft202012Validator) -> None:
    code, out, err = run(CASE, "--for", "connector", "--why-not", "linguoplate", "--json")
    assert (code, err) == (0, "")
    assert out.count("\n") == 1
    document = orjson.loads(out)
    schema.validate(document)
    assert document["for"] == "connector"
    assert document["contrast"]["with"] == "linguoplate"
    lines = [line["points"] for line in document["contrast"]["lines"]]
    assert sum(lines) == pytest.approx(document["option"]["score"] - document["contrast"]["score"], abs=1e-9)
    assert document["changes"]["weights"]


def test_frameworks_are_contrasted(schema: jsonschema.Draft202012Validator) -> None:
    code, out, _ = run(CASE, "--for", "framework", "--json")
    assert code == 0
    document = orjson.loads(out)
    schema.validate(document)
    assert document["contrast"]["with"] == "framework:2"
    code, out, _ = run(CASE, "--for", "framework:2", "--why-not", "1", "--library", "none")
    assert code == 0
    assert "against framework:1" in out


def test_wrong_decisions_and_options_name_what_is_allowed() -> None:
    for arguments, found in (
        (("--for", "retainer:99"), "retainer:99"),
        (("--for", "connector", "--why-not", "palatal_strap"), "palatal_strap"),
        (("--for", "connector", "--option", "i_bar"), "i_bar"),
        (("--for", "framework", "--why-not", "lingual_bar"), "lingual_bar"),
    ):
        for form in ((), ("--json",)):
            code, out, err = run(CASE, *arguments, *form, "--library", "none")
            assert (code, out) == (2, "")
            assert found in err


def test_nothing_missing_says_so() -> None:
    code, out, err = run(
        "-",
        "--for",
        "connector",
        "--library",
        "none",
        text="format: 1\nid: whole\narch: maxilla\nmissing: []\n",
    )
    assert (code, out) == (1, "")
    assert "No tooth is to be replaced" in err


def test_the_question_is_required() -> None:
    assert run(CASE)[0] == 2


def test_without_a_library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, _ = run(CASE, "--for", "rest:44", "--library", "none", "--json")
    assert code == 0
    assert orjson.loads(out)["precedents"] == {"for": [], "against": []}
    assert list(tmp_path.iterdir()) == []
