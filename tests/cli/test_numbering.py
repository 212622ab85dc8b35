"""Every verb that names a tooth names it as the reader counts: the same teeth, whatever the system."""

import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
import yaml
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


# Verbs that name no tooth: rules and facts, lists and files of cases (the case format is ISO 3950), counts.
NAMING_NONE = {
    "rules", "app", "library init", "library export", "library list", "library show", "library edit",
    "library history", "library restore", "library outcome", "library turn-down", "library retire",
    "library reopen", "library screen-text", "library looked-at", "library redact", "library coverage",
    "library survival", "library index", "library people", "library backup", "library restore-backup",
    "library repair", "library migrate", "exercise forget", "exercise progress", "exercise results",
    "evaluate calibration", "evaluate prediction-sets", "evaluate standing", "evaluate worth",
    "evaluate frameworks", "profile adopt", "profile take-back",
}  # fmt: skip


def verbs(command: click.Command, path: tuple[str, ...] = ()) -> Iterator[tuple[str, click.Command]]:
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            assert inner is not None
            yield from verbs(inner, (*path, name))
    else:
        yield " ".join(path), command


def test_every_verb_that_names_a_tooth_takes_a_numbering() -> None:
    found = dict(verbs(main))
    without = {name for name, verb in found.items() if not any("--numbering" in each.opts for each in verb.params)}
    assert len(found) > 60
    assert {name for name in without if not any((name + " ").startswith(known + " ") for known in NAMING_NONE)} == set()


def test_what_stands_in_the_way_of_approval_is_told_in_the_readers_numbering(tmp_path: Path) -> None:
    # ISO 35 and 42 are 20 and 26 in the universal system (ADA)
    case = yaml.safe_load(Path(LOWER).read_text(encoding="utf-8"))
    for part in case["design"]["retainers"]:
        part["assembly"] = "ring"
    case |= {"id": "against-rules", "review": {"status": "draft"}}
    (tmp_path / "case.yaml").write_text(yaml.safe_dump(case), encoding="utf-8")
    library = ("--library", str(tmp_path / "cases.db"))
    run("library", "init", library[1])
    run("library", "import", str(tmp_path / "case.yaml"), *library, "--apply", "all", "--who", "tutor")
    asked = ("--who", "tutor", *library, "--numbering")
    refused = CliRunner().invoke(main, ["library", "approve", "against-rules", *asked, "universal"])
    for told in (refused.output, run("library", "bulk", "approve", "--status", "draft", *asked, "universal")):
        assert {"20", "26"} <= set(re.findall(r"etainer on (\d+)", told))
        assert not {"35", "42"} & set(re.findall(r"etainer on (\d+)", told))
    assert "etainer on 42" in run("library", "bulk", "approve", "--status", "draft", *asked, "iso")
