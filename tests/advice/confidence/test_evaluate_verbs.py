"""``evaluate`` on the command line: calibration, worth, frameworks, prediction sets."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from recommender.cli.main import main
from recommender.curation.evaluation.mechanisms import invented_cases
from recommender.curation.evaluation.worth import OneField, WorthHeld
from recommender.domain.kennedy import classify
from recommender.resources import demo_library


def run(*arguments: str) -> str:
    result = CliRunner().invoke(main, ["evaluate", *arguments], catch_exceptions=False)
    assert result.exit_code == 0
    return result.stdout


def test_calibration_draws_its_curve_and_speaks_json() -> None:
    told = run("calibration", "--library", "none", "--cases", "invented", "--most", "1", "--masks", "1")
    assert "Brier score" in told
    assert "0.9 to 1.0" in told
    found = json.loads(
        run(
            "calibration",
            "--library",
            "none",
            "--cases",
            "published",
            "--most",
            "1",
            "--masks",
            "1",
            "--json",
        )
    )
    assert found["of"] == "published"
    assert found["decisions"] == sum(each["n"] for each in found["bins"])


def test_what_was_kept_is_taken_over_and_the_words_are_counted(tmp_path: Path) -> None:
    keep = tmp_path / "kept.jsonl"
    asked = ("standing", "--library", "none", "--cases", "invented", "--most", "1", "--keep", str(keep), "--json")
    found = json.loads(run(*asked))
    assert found["cases"] == 1
    assert sum(found["decisions"].values()) > 3
    assert sum(found["frameworks"].values()) == 1
    (line,) = keep.read_text(encoding="utf-8").splitlines()
    changed = json.loads(line)
    changed["found"]["decisions"] = {"open": 99}
    keep.write_text(json.dumps(changed) + '\n{"how": "cut of', encoding="utf-8")
    assert json.loads(run(*asked))["decisions"] == {"firm": 0, "firm_if": 0, "open": 99}
    assert keep.read_bytes().endswith(b"}\n")


def test_prediction_sets_say_what_they_lack(tmp_path: Path) -> None:
    for number in (12, 25):
        shutil.copy(demo_library() / f"harbour-{number:04d}.yaml", tmp_path)
    found = json.loads(run("prediction-sets", "--library", str(tmp_path), "--json"))
    assert found["cases"] == 2
    assert found["by_decision"] == {}


def test_worth_and_frameworks_are_held_against_working_out_again() -> None:
    found = json.loads(
        run("worth", "--library", "none", "--cases", "invented", "--most", "1", "--masked", "2", "--json")
    )
    assert found["cases"] == 1
    again = json.loads(
        run(
            "frameworks", "--library", "none", "--cases", "invented", "--most", "1", "--worlds", "1", "--json"
        )
    )
    assert again["worlds"] == 1
    assert 0.0 <= again["points_behind"] < 100.0


def test_ranks_and_first_named_by_hand() -> None:
    """Three fields worth over half a point, ranked alike but for one exchange: Spearman's rho is 0.5."""
    fields = [("a", 0.3, 0.4), ("b", 0.1, 0.2), ("c", 0.2, 0.1), ("d", 0.0, 0.001)]
    held = WorthHeld(1, tuple(OneField("x", *each) for each in fields), (("x", "b"),))
    assert held.rank_correlation == pytest.approx(0.5)
    assert held.first_among_two == (1, 1)


def test_invented_cases_are_the_same_for_the_same_seed_and_have_a_class() -> None:
    one, other = list(invented_cases(6, seed=3)), list(invented_cases(6, seed=3))
    assert one == other
    assert one != list(invented_cases(6, seed=4))
    assert all(classify(case).number for case in one)
