"""``classify`` from the outside: text, JSON Lines, error documents, exit status."""

import subprocess
import sys
from pathlib import Path

import orjson
import pytest
from click.testing import CliRunner

from recommender.cli.main import main

GOOD = "format: 1\nid: good\narch: mandible\nmissing: [36, 37, 46]\nabsent: [38, 48]\n"
BAD = "format: 1\nid: bad\narch: mandible\nmissing: [16]\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "1_good.yaml").write_text(GOOD, encoding="utf-8")
    (tmp_path / "2_bad.yaml").write_text(BAD, encoding="utf-8")
    (tmp_path / "3_more.json").write_text(
        '{"format": 1, "id": "more", "arch": "maxilla", "missing": [11, 21]}', encoding="utf-8"
    )
    return tmp_path


def run(*arguments: str, text: str | bytes | None = None) -> tuple[int, str, str]:
    result = CliRunner().invoke(main, ["classify", *arguments], input=text)
    return result.exit_code, result.stdout, result.stderr


def test_text(folder: Path) -> None:
    code, out, err = run(str(folder / "1_good.yaml"))
    assert (code, err) == (0, "")
    assert out.splitlines()[0] == "good (mandible): Class II, modification 1"
    assert "[Applegate rule 5]" in out
    assert "[Applegate rule 6]" in out


def test_json_is_one_document_a_line_in_order_and_errors_do_not_stop_it(folder: Path) -> None:
    code, out, err = run(str(folder), "--json")
    assert (code, err) == (1, "")
    first, second, third = (orjson.loads(line) for line in out.splitlines())
    assert first["kennedy"]["class"] == "II"
    assert first["kennedy"]["modifications"] == 1
    assert first["kennedy"]["label"] == "Class II, modification 1"
    assert [step["rule"] for step in first["kennedy"]["steps"]] == [2, 5, 6, 7]
    assert first["spaces"][1] == {
        "teeth": ["36", "37"], "support": "extension", "borders": ["35"], "crosses_midline": False
    }  # fmt: skip
    assert second == {
        "format": 1,
        "case": "bad",
        "error": [
            {
                "at": f"{folder / '2_bad.yaml'}:4:11",
                "field": "missing[#1]",
                "found": "16, a tooth of the maxilla",
                "allowed": "a tooth of the mandible: 31-38, 41-48",
            }
        ],
    }
    assert third["case"] == "more"
    assert third["kennedy"]["label"] == "Class IV"


def test_errors_as_text_go_to_standard_error(folder: Path) -> None:
    code, out, err = run(str(folder / "2_bad.yaml"), str(folder / "1_good.yaml"))
    assert code == 1
    assert out.startswith("good (mandible)")
    assert err.startswith(f"{folder / '2_bad.yaml'}:4:11: missing[#1]: found 16")


def test_standard_input() -> None:
    code, out, _ = run("-", "--json", text=GOOD)
    assert code == 0
    assert orjson.loads(out)["case"] == "good"
    code, out, _ = run("-", "--json", text=b"\xff\xfe\x00")
    assert code == 1
    assert orjson.loads(out)["error"][0]["at"] == "standard input"


def test_a_question_is_asked() -> None:
    code, out, _ = run(
        "-", text="format: 1\nid: q\narch: mandible\nmissing: [37]\nabutments: [{tooth: 36}]\n"
    )
    assert code == 0
    assert "To ask: Is third molar 38 to be used as an abutment? Then the case is Class III." in out


def test_universal_numbers_in_the_text(folder: Path) -> None:
    _, out, _ = run(str(folder / "1_good.yaml"), "--numbering", "universal")
    assert "The hindmost space (19, 18) is an extension" in out


def test_misuse_and_missing_files(tmp_path: Path) -> None:
    assert run()[0] == 2
    assert run("--colour", "x.yaml")[0] == 2
    code, out, _ = run(str(tmp_path / "none.yaml"), "--json")
    assert code == 1
    assert orjson.loads(out)["error"][0]["found"] == "no such file"
    code, out, _ = run(str(tmp_path), "--json")
    assert code == 1
    assert "without case files" in orjson.loads(out)["error"][0]["found"]


def test_nothing_missing_says_so() -> None:
    code, out, _ = run("-", text="format: 1\nid: whole\narch: maxilla\nmissing: []\n")
    assert code == 0
    assert "no class" in out
    assert "nothing to advise" in out


def test_nothing_is_written(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)
    before = {path: path.read_bytes() for path in folder.iterdir()}
    run(str(folder), "--json")
    assert {path: path.read_bytes() for path in folder.iterdir()} == before


def test_same_input_same_output(folder: Path) -> None:
    assert run(str(folder), "--json") == run(str(folder), "--json")


def test_help_brings_nothing_heavy() -> None:
    script = "import sys\nfrom recommender.cli.main import main\ntry: main()\nexcept SystemExit: print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", script, "--help"], capture_output=True, text=True, check=True)
    assert "classify" in done.stdout
    heavy = {"numpy", "pandas", "pydantic", "networkx", "sklearn", "streamlit", "recommender.advice"}
    loaded = set(done.stdout.splitlines()[-1].split())
    assert "recommender.cli.main" in loaded
    assert not heavy & loaded


def test_one_case_from_an_argument(folder: Path) -> None:
    from recommender.cli.output import read_one
    from recommender.domain.errors import CaseError

    assert read_one(str(folder / "1_good.yaml")).id == "good"
    with pytest.raises(CaseError, match="tooth of the maxilla"):
        read_one(str(folder / "2_bad.yaml"))
    with pytest.raises(CaseError, match="a folder of 3 cases"):
        read_one(str(folder))


def test_colour_is_left_out_of_pipes_and_tables_fit_a_width(monkeypatch: pytest.MonkeyPatch) -> None:
    from recommender.cli import output

    assert output.style("Class I", bold=True) == "Class I"
    monkeypatch.setenv("COLUMNS", "wide")
    assert output.console().width == 120
    monkeypatch.setenv("COLUMNS", "90")
    assert output.console().width == 90
