"""Drafts of the rules: a copy that may be changed, told what is wrong with it, tried, and adopted whole."""

import os
import random
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from pydantic import ValidationError

from recommender.domain.case import Case
from recommender.domain.errors import CaseError
from recommender.facts.derive import CaseFacts, derive
from recommender.facts.option import retainer_layer
from recommender.facts.values import Fact
from recommender.knowledge import adopted, drafts
from recommender.knowledge.differences import differences
from recommender.knowledge.drafts import DraftError
from recommender.knowledge.figures.files import FILES, NAMES
from recommender.knowledge.in_force import knowledge
from recommender.knowledge.load import packaged_knowledge
from recommender.knowledge.packaged import RULES_ENVIRONMENT
from recommender.resources import shared


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "mine"
    drafts.start(made)
    return made


def _scored(text: str) -> str:
    return next(rule.id for rule in packaged_knowledge().rules if rule.effect == text and rule.points)


def _points(entry: str, points: float) -> str:
    lines = entry.splitlines(keepends=True)
    return "".join(
        f"  points: {points:g}\n" if line.lstrip().startswith("points:") else line for line in lines
    )


def test_a_new_draft_judges_as_the_packaged_rules_do(folder: Path) -> None:
    found = drafts.read(folder)
    assert found.problems == ()
    assert found.knowledge is not None
    assert differences(packaged_knowledge(), found.knowledge).none
    assert [rule.id for rule in found.knowledge.rules] == [rule.id for rule in packaged_knowledge().rules]


def test_a_draft_never_goes_over_something_that_is_there(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").write_text("keep me")
    with pytest.raises(DraftError, match="not an empty folder"):
        drafts.start(tmp_path / "mine")
    assert (tmp_path / "mine" / "letter.txt").read_text() == "keep me"
    with pytest.raises(DraftError, match="does not exist"):
        drafts.start(tmp_path / "nowhere" / "mine")


def test_every_rule_is_found_where_it_stands(folder: Path) -> None:
    listed = [entry.rule_id for path in drafts.rule_files(folder) for entry in drafts.entries(path)]
    assert listed == [rule.id for rule in packaged_knowledge().rules]
    for path in drafts.rule_files(folder):
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        for entry in drafts.entries(path):
            assert entry.text.lstrip().startswith("- ")
            assert f"id: {entry.rule_id}" in lines[entry.first]


def test_changing_one_rule_leaves_the_rest_byte_for_byte(folder: Path) -> None:
    name = _scored("favours")
    before = drafts.entry(folder, name)
    whole = before.path.read_text(encoding="utf-8")
    drafts.change_rule(folder, name, _points(before.text, 3.5))
    assert before.path.read_text(encoding="utf-8") == whole.replace(before.text, _points(before.text, 3.5))
    found = drafts.read(folder)
    assert found.knowledge is not None
    assert found.knowledge.rule(name).points == 3.5
    changed = differences(packaged_knowledge(), found.knowledge)
    assert (changed.changed, changed.added, changed.removed, changed.weights) == ((name,), (), (), ())
    drafts.change_rule(folder, name, before.text)
    assert before.path.read_text(encoding="utf-8") == whole


def test_a_rule_is_taken_out_and_put_back(folder: Path) -> None:
    name = _scored("discourages")
    entry = drafts.entry(folder, name)
    drafts.change_rule(folder, name, "")
    found = drafts.read(folder)
    assert found.knowledge is not None
    assert differences(packaged_knowledge(), found.knowledge).removed == (name,)
    drafts.add_rule(folder, "own.yaml", entry.text)
    again = drafts.read(folder)
    assert again.knowledge is not None
    assert differences(packaged_knowledge(), again.knowledge).none
    assert again.knowledge.rule(name).place.startswith(str(folder / "rules" / "own.yaml"))


@pytest.mark.parametrize(
    "text", ["- id: a\n- id: b\n", "id: a\n", "- just words\n", "- {id: a, id: b}\n", "- [\n"]
)
def test_text_that_is_not_one_rule_is_refused(folder: Path, text: str) -> None:
    name = _scored("favours")
    before = drafts.entry(folder, name)
    with pytest.raises(DraftError):
        drafts.change_rule(folder, name, text)
    assert drafts.entry(folder, name) == before


@pytest.mark.parametrize("name", ["../own.yaml", "own.txt", "deeper/own.yaml", "/own.yaml"])
def test_a_new_rule_goes_into_a_file_of_the_draft_only(folder: Path, name: str) -> None:
    with pytest.raises(DraftError):
        drafts.add_rule(folder, name, "- id: some_rule\n")


def test_problems_name_file_rule_and_place(folder: Path) -> None:
    name = _scored("favours")
    entry = drafts.entry(folder, name)
    drafts.change_rule(folder, name, _points(entry.text, 99))
    [problem] = drafts.read(folder).problems
    line = entry.first + 1 + next(n for n, text in enumerate(entry.text.splitlines()) if "points:" in text)
    assert problem.at.startswith(f"{entry.path}:{line}:")
    assert problem.field == f"rules[{name}].points"
    assert "at most 50" in problem.allowed


def test_weights_and_shifts_keep_their_comments(folder: Path) -> None:
    before = (folder / "criteria.yaml").read_text(encoding="utf-8")
    drafts.set_weight(folder, "retainer", "appearance", 20.5)
    drafts.set_shift(folder, 1, -3)
    after = (folder / "criteria.yaml").read_text(encoding="utf-8")
    assert [line for line in after.splitlines() if "#" in line] == [
        line for line in before.splitlines() if "#" in line
    ]
    found = drafts.read(folder)
    assert found.knowledge is not None
    assert found.knowledge.criteria.base["retainer"]["appearance"] == 20.5
    assert found.knowledge.criteria.shifts[1].add == -3
    old = packaged_knowledge().criteria.base["retainer"]["appearance"]
    changed = differences(packaged_knowledge(), found.knowledge)
    assert changed.weights == (("retainer", "appearance", old, 20.5),)
    assert changed.shifts


@pytest.mark.parametrize(
    ("old", "new", "field", "allowed"),
    [
        ("{support: 6,", "{support: -1,", "base.retainer.support", "from 0"),
        ("{support: 6,", "{suport: 6,", "base.retainer.suport", "support"),
        ("  retainer:", "  clasp:", "base", "retainer"),
        ("  add: 3", "  add: lots", "shifts[#1].add", "from -100"),
        (
            "when: patient.smile_line == high",
            "when: patient.beauty == high",
            "shifts[#1].when",
            "patient.",
        ),
        ("format: 1", "format: 2", "format", "1"),
        ("- {id: support, label: support,", "- {id: support, label: '',", "criteria[support].label", "label"),
    ],
)
def test_faulty_criteria_are_told_with_their_place(
    folder: Path, old: str, new: str, field: str, allowed: str
) -> None:
    path = folder / "criteria.yaml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    found = drafts.read(folder)
    assert found.knowledge is None
    told = [problem for problem in found.problems if problem.field == field]
    assert told, found.problems
    assert told[0].at.startswith(f"{path}:")
    assert allowed in told[0].allowed


def test_adopting_takes_the_draft_as_it_then_stood(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drafts.set_weight(folder, "connector", "comfort", 30)
    made = adopted.adopt(folder, who="educator", why="comfort first")
    assert (made.number, made.who, made.why) == ("0001", "educator", "comfort first")
    drafts.set_weight(folder, "connector", "comfort", 5)  # not adopted
    monkeypatch.setenv(RULES_ENVIRONMENT, str(folder))
    assert knowledge().criteria.base["connector"]["comfort"] == 30
    assert packaged_knowledge().criteria.base["connector"]["comfort"] != 30
    adopted.adopt(folder, who="educator", why="less after all")
    assert knowledge().criteria.base["connector"]["comfort"] == 5
    adopted.adopt_again(folder, "0001", who="educator", why="the first was better")
    assert knowledge().criteria.base["connector"]["comfort"] == 30
    assert [(each.number, each.why) for each in adopted.history(folder)] == [
        ("0003", "the first was better"), ("0002", "less after all"), ("0001", "comfort first"),
    ]  # fmt: skip
    assert (shared("criteria.yaml")).read_text(encoding="utf-8").count("comfort: 30") == 0


def test_a_faulty_draft_is_not_adopted(folder: Path) -> None:
    name = _scored("favours")
    drafts.change_rule(folder, name, _points(drafts.entry(folder, name).text, -4))
    with pytest.raises(DraftError, match="nothing was adopted"):
        adopted.adopt(folder, who="educator", why="try")
    assert adopted.current(folder) is None
    assert not list(folder.glob("adopted/*"))


@pytest.mark.parametrize(("who", "why"), [("", "x"), ("educator", "  "), ("Tom\nSmith", "x"),
                                           ("Anna Schmidt", "x"), ("educator", "as Mrs Ashcombe asked")])  # fmt: skip
def test_an_adoption_says_who_and_why(folder: Path, who: str, why: str) -> None:
    with pytest.raises(DraftError):
        adopted.adopt(folder, who=who, why=why)
    assert adopted.current(folder) is None


def test_adopted_files_that_were_changed_are_refused(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(RULES_ENVIRONMENT, str(folder))
    with pytest.raises(CaseError, match="nothing was adopted"):
        knowledge()
    made = adopted.adopt(folder, who="educator", why="as packaged")
    assert differences(packaged_knowledge(), knowledge()).none
    with (made.folder / "criteria.yaml").open("a", encoding="utf-8") as stream:
        stream.write("# later\n")
    adopted.forget()
    with pytest.raises(CaseError, match="changed since they were adopted"):
        knowledge()
    (folder / "adopted" / "current").write_text("../..", encoding="utf-8")
    with pytest.raises(CaseError, match="the number of an adoption"):
        knowledge()


# -- figures ------------------------------------------------------------------------------------------------


def test_a_draft_holds_every_file_of_figures_and_may_change_any(folder: Path) -> None:
    assert [name for name, _ in drafts.figure_files(folder)] == list(NAMES)
    assert drafts.read(folder).knowledge is not None
    before = packaged_knowledge()
    changes: list[tuple[str, tuple[str | int, ...], float]] = [
        ("frameworks.yaml", ("weights", "retainer"), 0.4),
        ("confidence.yaml", ("share_carried",), 0.6),
        ("review.yaml", ("agrees_within",), 2.0),
        ("scoring.yaml", ("kappa",), 45.0),
        ("rule_guide.yaml", ("most_points",), 24.0),
        ("preparation_costs.yaml", ("actions", "crown", "enamel_mm"), 1.3),
        ("similarity.yaml", ("kinds", "connector", "weights", "derived.kennedy", "weight"), 11.0),
        ("display.yaml", ("recent_extraction_months",), 7.0),
        ("mechanics.yaml", ("withdrawal", "friction"), 0.3),
        ("curation/conflicts.yaml", ("alike",), 0.9),
        ("curation/coverage.yaml", ("thin_below",), 4.0),
        ("curation/exercises.yaml", ("close",), 6.0),
        ("curation/survival.yaml", ("confidence",), 0.9),
        ("plausible/judgement.yaml", ("weights",), 0.25),
        ("plausible/standing.yaml", ("firm",), 0.9),
        ("plausible/patient.yaml", ("fields", 5, "normal", "mean"), 0.8),
        ("plausible/teeth.yaml", ("fields", 8, "normal", "mean"), 9.0),
        ("plausible/spaces.yaml", ("fields", 5, "normal", "mean"), 5.0),
        ("survey.yaml", ("path", "plateau"), 0.05),
        ("curation/house.yaml", ("ridge",), 0.6),
    ]
    assert {name for name, *_ in changes} == set(NAMES)
    for name, steps, number in changes:
        drafts.set_figure(folder, name, steps, number)
    found = drafts.read(folder)
    assert found.problems == ()
    assert found.knowledge is not None
    told = {name: (path, new) for name, path, _, new in differences(before, found.knowledge).figures}
    assert told == {name: (_path(steps), number) for name, steps, number in changes}
    assert found.knowledge.scoring.kappa == 45.0
    assert found.knowledge.models is not None
    assert before.models is None


def _numbers(value: object, steps: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], float]]:
    """Every number of a file of figures, by its path."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in inside:
        yield from _numbers(inner, (*steps, key))
    if isinstance(value, (int, float)) and not isinstance(value, bool) and steps != ("format",):
        yield steps, value


def _with(value: Any, steps: tuple[str | int, ...], number: object) -> Any:
    if not steps:
        return number
    copy = value.copy()
    copy[steps[0]] = _with(value[steps[0]], steps[1:], number)
    return copy


@pytest.mark.parametrize("name", NAMES)
def test_every_figure_of_every_file_reaches_the_model(name: str) -> None:
    """A figure moved a little, or by one, is another figure in ``Knowledge``, or is read and refused (shares that add
    up to 1): none is read past. All of them under ``RPD_LONG=1``."""
    model = next(model for file, model in FILES.values() if file == name)
    held = yaml.safe_load(shared(*name.split("/")).read_text(encoding="utf-8"))
    numbers = [(steps, number) for steps, number in _numbers(held)]
    assert numbers
    some = numbers if os.environ.get("RPD_LONG") else random.Random(name).sample(numbers, min(8, len(numbers)))
    plain = model.model_validate(held)
    for steps, number in some:
        for other in {number * 1.001, number * 0.999, number + 1, number - 1} - {number}:
            try:
                changed = model.model_validate(_with(held, steps, other))
            except ValidationError:
                continue
            assert changed != plain, (name, steps)


def _path(steps: tuple[str | int, ...]) -> str:
    """A path as differences tell it: places of a list from 1."""
    return "".join(f"[#{step + 1}]" if isinstance(step, int) else f".{step}" for step in steps).lstrip(".")


def test_a_file_of_figures_that_is_left_out_counts_as_packaged(folder: Path) -> None:
    shutil.rmtree(folder / drafts.FIGURES)
    found = drafts.read(folder)
    assert found.knowledge is not None
    assert differences(packaged_knowledge(), found.knowledge).none
    drafts.set_figure(folder, "display.yaml", ("recent_extraction_months",), 9)
    assert [name for name, _ in drafts.figure_files(folder)] == ["display.yaml"]


@pytest.mark.parametrize(
    ("name", "old", "new", "field", "allowed"),
    [
        ("frameworks.yaml", "retainer: 0.48", "retainer: 48", "weights.retainer", "from 0 to 1"),
        ("mechanics.yaml", "friction: 0.2", "friction: slippery", "withdrawal.friction", "from 0 to 2"),
        ("mechanics.yaml", "rise: [5.0, 6.5, 8.0]", "rise: [5.0, 6.5]", "arms.bar.rise", "a list"),
        ("mechanics.yaml", "{layer: relief, row: SPC-017}", "{layer: relief}",
         "replacement_layers.resin_tooth_lattice[#1]", "either row or mm"),
        ("display.yaml", "recent_extraction_months", "recent_months", "recent_months", "recent_extraction_months"),
        ("scoring.yaml", "kappa: 30.0", "kappa: 0", "kappa", "1e-09"),
        ("scoring.yaml", "{some: 12, long: 36}", "{some: 40, long: 36}", "worn_months", "some before long"),
        ("similarity.yaml", "scale: numeric, unit: mm, from: 0, to: 1.25", "scale: numeric, unit: mm, to: 1.25",
         "features.derived.near_facial_mm", "from, to, step, span"),
        ("preparation_costs.yaml", "enamel_mm: 1.0", "enamel_mm: -1.0", "actions.rest_seat.enamel_mm", "from 0"),
        ("curation/survival.yaml", "confidence: 0.95", "confidence: .nan", "confidence", "a finite number"),
    ],
)  # fmt: skip
def test_faulty_figures_are_told_with_file_line_and_field(
    folder: Path, name: str, old: str, new: str, field: str, allowed: str
) -> None:
    path = folder / drafts.FIGURES / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    found = drafts.read(folder)
    assert found.knowledge is None
    told = [problem for problem in found.problems if problem.field == field]
    assert told, found.problems
    line = 1 + text[: text.index(old)].count("\n")
    place = int(told[0].at.removeprefix(f"{path}:").split(":")[0])
    assert abs(place - line) <= 3, told[0].at  # a part that lacks something is told where the part begins
    assert allowed in told[0].allowed


def test_figures_are_adopted_with_the_rules(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drafts.set_figure(folder, "scoring.yaml", ("kappa",), 60.0)
    adopted.adopt(folder, who="educator", why="precedents weigh less")
    monkeypatch.setenv("RPD_CASEBOOK_RULES", str(folder))
    assert knowledge().scoring.kappa == 60.0
    path = folder / "adopted" / "0001" / drafts.FIGURES / "scoring.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("kappa: 60", "kappa: 61"), encoding="utf-8")
    adopted.forget()
    with pytest.raises(CaseError, match="changed since they were adopted"):
        knowledge()


def test_changed_models_are_worked_with_and_the_packaged_ones_stay(folder: Path) -> None:
    """A grade of mobility and a shape of the arm moved in a draft move the facts of its own analysis only."""
    case = Case.model_validate(
        {
            "format": 1, "id": "made-1", "arch": "mandible", "missing": [36],
            "abutments": [
                {"tooth": 35, "mobility": 1, "bone_support": "good", "undercuts_mm": {"mesiofacial": 0.25}},
                {"tooth": 37, "mobility": 0, "bone_support": "good"},
            ],
        }
    )  # fmt: skip
    plain = derive(case)
    drafts.set_figure(folder, "display.yaml", ("doubtful_tooth", "weak_mobility"), 1)
    drafts.set_figure(folder, "mechanics.yaml", ("withdrawal", "friction"), 0.6)
    models = drafts.read(folder).knowledge.models  # type: ignore[union-attr]
    other = derive(case, models)
    option = packaged_knowledge().catalogue.options["retainer"]["circumferential"]

    def told(facts: CaseFacts) -> tuple[Fact, Fact]:
        tooth = facts.considered[0]
        layer = retainer_layer(facts, tooth, facts.approaches(tooth)[0], option)
        return facts.case_scope.fact("derived.weak_abutment_count"), layer["arm.force_n"]

    before, after, again = told(plain), told(other), told(derive(case))
    assert after[0].low != before[0].low
    assert after[1].high != before[1].high
    assert again == before
