"""The verbs that give advice, end to end: the contract of the result format, exit status, and nothing written."""

import json
import os
import subprocess
import sys
from math import fsum
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from recommender.resources import demo_library, shared

CASE = """
format: 1
id: made-0001
arch: maxilla
missing: [15, 16, 24]
absent: [18, 28]
patient: {age: 58, smile_line: average, aesthetic_priority: high, hygiene: good}
spans:
- {teeth: [15, 16], clearance_mm: 6.5, ridge: firm}
abutments:
- {tooth: 14, undercuts_mm: {mesiofacial: 0.25, distofacial: 0.0}, mobility: 0}
- {tooth: 17}
"""


def run(*arguments: str, text: str = "", cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    environment = {key: value for key, value in os.environ.items() if not key.startswith("RPD_")}
    return subprocess.run(
        [sys.executable, "-m", "recommender", *arguments],
        input=text, capture_output=True, text=True, check=False, cwd=cwd, env=environment,
    )  # fmt: skip


def validate(name: str, document: Any) -> None:
    schema = json.loads(shared("schema", f"{name}.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(document)


@pytest.fixture(scope="module")
def answer() -> dict[str, Any]:
    done = run("recommend", "-", "--json", text=CASE)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert len(lines) == 1
    found: dict[str, Any] = json.loads(lines[0])
    return found


def decisions(answer: dict[str, Any]) -> list[dict[str, Any]]:
    groups = (answer["retainers"], answer["rests"], answer["replacements"])
    return [answer["connector"], *(decision for group in groups for decision in group.values())]


def test_the_answer_keeps_the_published_schema(answer: dict[str, Any]) -> None:
    validate("recommend", answer)


def test_every_tooth_considered_and_every_missing_tooth_has_a_key(answer: dict[str, Any]) -> None:
    assert set(answer["retainers"]) == set(answer["rests"]) == {"14", "17", "23", "25"}
    assert set(answer["replacements"]) == {"15", "16", "24"}


def test_lines_add_up_to_the_unrounded_score(answer: dict[str, Any]) -> None:
    for decision in decisions(answer):
        for option in decision["ranked"]:
            assert abs(fsum(line["points"] for line in option["contributions"]) - option["score"]) < 1e-9


def test_ranking_order_is_status_then_score_then_identifier(answer: dict[str, Any]) -> None:
    order = ["open", "needs_preparation", "advised_against", "excluded"]
    for decision in decisions(answer):
        keys = [(order.index(o["status"]), -o["score"], o["option"]) for o in decision["ranked"]]
        assert keys == sorted(keys)


def test_every_option_of_the_vocabulary_is_ranked(answer: dict[str, Any]) -> None:
    from recommender.domain import vocabulary

    assert {o["option"] for o in answer["connector"]["ranked"]} == set(vocabulary.connectors("maxilla"))
    for decision in answer["retainers"].values():
        assert {o["option"] for o in decision["ranked"]} == set(vocabulary.RETAINERS)
    for decision in answer["rests"].values():
        assert {o["option"] for o in decision["ranked"]} == set(vocabulary.RESTS)
    for decision in answer["replacements"].values():
        assert {o["option"] for o in decision["ranked"]} == set(vocabulary.REPLACEMENTS)


def test_a_framework_is_a_design_that_reads_back(answer: dict[str, Any]) -> None:
    from recommender.domain.reader import read_text

    assert answer["frameworks"]
    for framework in answer["frameworks"]:
        document = json.loads(json.dumps(CASE_DOCUMENT)) | {"design": framework["design"]}
        case = read_text(json.dumps(document), "framework.json")
        assert case.design is not None
        assert case.design.connector == framework["connector"]


CASE_DOCUMENT = {
    "format": 1, "id": "made-0001", "arch": "maxilla", "missing": [15, 16, 24], "absent": [18, 28],
}  # fmt: skip


def test_one_line_for_each_case_and_an_error_document_for_a_bad_one(tmp_path: Path) -> None:
    good, bad = tmp_path / "good.yaml", tmp_path / "bad.yaml"
    good.write_text(CASE)
    bad.write_text(CASE.replace("maxilla", "upper"))
    done = run("recommend", str(bad), str(good), "--json", "--library", "none", "--top", "1")
    assert done.returncode == 1
    first, second = (json.loads(line) for line in done.stdout.splitlines())
    validate("recommend", first)
    problem = first["error"][0]
    assert problem["field"] == "arch"
    assert problem["at"].startswith(f"{bad}:4:")
    assert "maxilla" in problem["allowed"]
    assert second["case"] == "made-0001"


def test_nothing_is_written_by_asking(tmp_path: Path) -> None:
    (tmp_path / "case.yaml").write_text(CASE)
    run("recommend", "case.yaml", "--json", "--library", "none", cwd=tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["case.yaml"]


def test_the_same_input_gives_the_same_bytes() -> None:
    first = run("recommend", "-", "--json", "--top", "2", text=CASE)
    second = run("recommend", "-", "--json", "--top", "2", text=CASE)
    assert first.stdout == second.stdout


def test_a_case_is_never_its_own_precedent(tmp_path: Path) -> None:
    import yaml

    stored = demo_library() / "harbour-0001.yaml"
    done = run("precedents", str(stored), "-k", "50", "--json")
    found = json.loads(done.stdout)
    validate("precedents", found)
    assert all(n["case"] != "harbour-0001" for near in found["precedents"].values() for n in near)
    # The same content under another name, without its design and outcome, is the same case still.
    raw = yaml.safe_load(stored.read_text(encoding="utf-8"))
    findings = {k: v for k, v in raw.items() if k not in ("design", "outcome", "review", "dentist_answer")}
    other = tmp_path / "other.yaml"
    other.write_text(yaml.safe_dump(findings | {"id": "another-name"}))
    found = json.loads(run("precedents", str(other), "-k", "50", "--json").stdout)
    assert all(n["case"] != "harbour-0001" for near in found["precedents"].values() for n in near)


def test_precedents_account_adds_up() -> None:
    done = run("precedents", "-", "--for", "retainer:14", "-k", "3", "--json", text=CASE)
    found = json.loads(done.stdout)
    validate("precedents", found)
    near = found["precedents"]["retainer:14"]
    assert len(near) == 3
    for neighbour in near:
        total = fsum(line["weight"] * (1 - line["difference"]) for line in neighbour["account"])
        assert total == pytest.approx(neighbour["similarity"], abs=1e-3)


def test_text_output_names_the_class_and_defers_to_the_dentist() -> None:
    done = run("recommend", "-", "--library", "none", "--top", "2", text=CASE)
    assert done.returncode == 0
    assert "Class III, modification 1" in done.stdout
    assert "prescribing dentist" in done.stdout
    assert "PROVISIONAL" in done.stdout


@pytest.mark.parametrize("arguments", [("recommend",), ("recommend", "--top", "0", "-"), ("nothing",)])
def test_wrong_use_is_status_two(arguments: tuple[str, ...]) -> None:
    assert run(*arguments, text=CASE).returncode == 2


def test_a_decision_that_the_case_does_not_have_is_told() -> None:
    done = run("precedents", "-", "--for", "retainer:11", text=CASE)
    assert done.returncode == 2
    assert "retainer:14" in done.stderr


def test_an_arch_with_nothing_to_replace_says_so() -> None:
    whole = "format: 1\nid: whole-1\narch: maxilla\nmissing: []\n"
    done = run("recommend", "-", "--json", text=whole)
    document = json.loads(done.stdout)
    validate("recommend", document)
    assert document["kennedy"]["class"] is None
    assert document["frameworks"] == []


def test_classify_keeps_its_schema() -> None:
    validate("classify", json.loads(run("classify", "-", "--json", text=CASE).stdout))


def test_feature_weights_may_be_changed_for_one_call() -> None:
    plain = json.loads(run("precedents", "-", "-k", "3", "--json", text=CASE).stdout)["precedents"]
    changed = json.loads(
        run("precedents", "-", "-k", "3", "--weight", "patient.smile_line=500", "--json", text=CASE).stdout
    )["precedents"]
    assert changed["retainer:14"] != plain["retainer:14"]
    first = changed["retainer:14"][0]["account"]
    line = next(line for line in first if line["feature"] == "patient.smile_line")
    assert line["verdict"] == "alike"
    assert line["weight"] > 0.5
    wrong = run("precedents", "-", "--weight", "patient.shoe_size=2", text=CASE)
    assert wrong.returncode == 2
    assert "patient.smile_line" in wrong.stderr
