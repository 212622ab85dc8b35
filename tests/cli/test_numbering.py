"""Every verb that names a tooth names it as the reader counts: the same teeth, whatever the system."""

import re

import pytest
from click.testing import CliRunner

from recommender.cli.main import main
from recommender.domain.dentition import is_tooth
from recommender.domain.numbering import to_iso
from recommender.resources import demo_library

UPPER = str(demo_library() / "harbour-0025.yaml")
LOWER = str(demo_library() / "harbour-0012.yaml")
# a number that stands where a tooth is named in these verbs' text
_TOOTH = re.compile(r"\b(?:on|for|at|tooth|teeth|molars?) (\d{1,2})\b(?! of|%| mm|\.\d)")


def run(*arguments: str) -> str:
    found = CliRunner(env={"COLUMNS": "1000"}).invoke(main, arguments)
    assert found.exit_code in (0, 1), found.output
    return found.stdout


@pytest.mark.parametrize(
    "arguments",
    [
        ("classify", UPPER),
        ("classify", LOWER),
        ("review", LOWER, "--library", "none"),
        ("recommend", LOWER, "--library", "none"),
        ("precedents", LOWER, "--for", "connector", "-k", "2"),
        ("exercise", "set", "--learner", "blue heron", "--case", "harbour-0012"),
    ],
    ids=lambda arguments: " ".join(arguments[:1]),
)
def test_both_systems_name_the_same_teeth_in_the_same_order(arguments: tuple[str, ...]) -> None:
    iso = [int(number) for number in _TOOTH.findall(run(*arguments))]
    universal = [int(number) for number in _TOOTH.findall(run(*arguments, "--numbering", "universal"))]
    assert len(universal) == len(iso)
    named = [(here, there) for here, there in zip(iso, universal, strict=True) if is_tooth(here)]
    assert all(to_iso(there) == here for here, there in named)
    assert all(here == there for here, there in zip(iso, universal, strict=True) if not is_tooth(here))
    assert named or arguments[0] in ("precedents", "exercise")


def test_a_decision_is_asked_for_in_the_readers_numbering() -> None:
    # ISO 44 is 28 in the universal system (ADA)
    iso = run("explain", LOWER, "--for", "retainer:44", "--library", "none")
    universal = run("explain", LOWER, "--for", "retainer:28", "--library", "none", "--numbering", "universal")
    assert "retainer on 44" in iso
    assert "retainer on 28" in universal
    refused = CliRunner().invoke(main, ["explain", LOWER, "--for", "retainer:44", "--numbering", "universal"])
    assert refused.exit_code == 2
    assert "retainer:28" in refused.output


def test_an_answer_is_given_in_the_readers_numbering() -> None:
    shown = run("exercise", "set", "--learner", "blue heron", "--case", "harbour-0012", "--numbering", "universal")
    name = re.search(r"Exercise (ex-\w+)", shown)
    assert name
    asked = re.search(r"\((retainer:\d+)\)", shown)
    assert asked
    said = run("exercise", "answer", name[1], f"{asked[1]}=i_bar", "--learner", "heron", "--numbering", "universal")
    assert f"Retainer on {asked[1].partition(':')[2]}" in said
