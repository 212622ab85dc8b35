"""Reading rule files: what is right is read, what is wrong is told with file, line, rule and place."""

from pathlib import Path

import orjson
import pytest

from recommender.domain import limits, parsing
from recommender.domain.errors import CaseError, Problem
from recommender.domain.validation import read_model
from recommender.knowledge import packaged
from recommender.knowledge.figures.scoring import Scoring
from recommender.knowledge.in_force import knowledge
from recommender.knowledge.load import load_rules, read_packaged_criteria
from recommender.knowledge.registry import registry
from recommender.knowledge.rulefile import Setting, ancestry
from recommender.resources import shared
from tests.ends import ends_soon

from .small import CATALOGUE, CITED, CRITERIA, small

SETTING = Setting(registry(), CATALOGUE, CRITERIA.labels)
GOOD = f"""format: 1
rules:
- id: bar_likes_depth
  stage: option
  decision: retainer
  options: ["family:infrabulge", ring]
  when: >
    derived.mid_facial_mm >= 0.25
    and not patient.dry_mouth
  effect: favours
  criterion: retention
  points: 6
  why: An invented sentence.
  source: "{CITED}"
  found: memory
"""


def draft(folder: Path, text: str) -> Path:
    (folder / "draft.yaml").write_text(text, encoding="utf-8")
    return folder


def test_a_rule_is_read(tmp_path: Path) -> None:
    (rule,) = load_rules(draft(tmp_path, GOOD), SETTING)
    assert rule.options == ("i_bar", "t_bar", "ring")
    assert rule.families == ("infrabulge",)
    assert rule.when.text == "derived.mid_facial_mm >= 0.25 and patient.dry_mouth != true"
    assert (rule.stage, rule.points, rule.block, rule.place) == (
        "option",
        6.0,
        None,
        f"{tmp_path}/draft.yaml:3:3",
    )


def test_a_family_brings_the_families_under_it() -> None:
    rules = {rule.id: rule for rule in small().rules}
    assert rules["grip"].options == ("i_bar", "t_bar", "ring")
    assert ancestry(CATALOGUE, ("infrabulge",)) == ("infrabulge", "holds")


@pytest.mark.parametrize(
    ("old", "new", "line", "field", "says"),
    [
        ("decision: retainer", "decision: retianer", 5, "decision", "retianer"),
        ("effect: favours", "effect: likes", 10, "effect", "favours | discourages"),
        ("points: 6", "points: -6", 12, "points", "more than 0"),
        ("points: 6", "points: many", 12, "points", "a number"),
        ("criterion: retention", "criterion: grip", 11, "criterion", "retention | appearance"),
        ("  why: An invented sentence.\n", "", 3, "why", "a sentence"),
        ("found: memory", "found: hearsay", 15, "found", "page | memory"),
        ("ring]", "rign]", 6, "options", "did you mean ring?"),
        ("family:infrabulge", "family:infrabluge", 6, "options", "did you mean family:infrabulge?"),
        ("family:infrabulge", "family:open_behind", 6, "options", "with members"),
        ("derived.mid_facial_mm", "derived.mid_facail_mm", 7, "when", "did you mean derived.mid_facial_mm?"),
        ("patient.dry_mouth", "patient.smile_line == wide", 7, "when", "high | average | low"),
        ("not patient.dry_mouth", "span.clearance_mm > 3", 7, "when", "fact of a space"),
        ("not patient.dry_mouth", "not", 7, "when", "at column 38"),
        ("effect: favours", "efect: favours", 10, "efect", "did you mean \"effect\"?"),
        ("effect: favours", "effect: favours\n  block: safety", 11, "block", "left out"),
        ("found: memory", "found: memory\n  unlocked_by: [{action: crown, surface: near}]", 16,
         "unlocked_by", "left out"),
        ("id: bar_likes_depth", "id: Bar", 3, "id", "small letters"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_by_line_and_rule(
    tmp_path: Path, old: str, new: str, line: int, field: str, says: str
) -> None:
    assert old in GOOD
    with pytest.raises(CaseError) as caught:
        load_rules(draft(tmp_path, GOOD.replace(old, new)), SETTING)
    told = [p for p in caught.value.problems if p.field.endswith(f".{field}")]
    assert told, str(caught.value)
    assert any(says in str(problem) for problem in told), str(caught.value)
    assert told[0].at.startswith(f"{tmp_path}/draft.yaml:{line}:"), told[0].at


def blocks(more: str) -> str:
    lines = GOOD.replace("effect: favours", "effect: blocks").replace(
        "  criterion: retention\n  points: 6\n", ""
    )
    return lines + more


def test_a_disputed_rule_never_blocks_as_impossible_or_safety(tmp_path: Path) -> None:
    (rule,) = load_rules(
        draft(tmp_path, blocks("  block: advised_against\n  disputed: Schools differ.\n")), SETTING
    )
    assert rule.block == "advised_against"
    for kind in ("impossible", "safety"):
        with pytest.raises(CaseError, match="disputed rule never blocks"):
            load_rules(draft(tmp_path, blocks(f"  block: {kind}\n  disputed: Schools differ.\n")), SETTING)


def test_a_block_says_how_and_what_removes_it(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match=r"impossible \| safety"):
        load_rules(draft(tmp_path, blocks("")), SETTING)
    with pytest.raises(CaseError, match=r"surface: found up; allowed near"):
        load_rules(
            draft(tmp_path, blocks("  block: safety\n  unlocked_by: [{action: crown, surface: up}]\n")),
            SETTING,
        )
    (rule,) = load_rules(
        draft(tmp_path, blocks("  block: impossible\n  unlocked_by: [{action: crown, surface: crown}]\n")),
        SETTING,
    )
    assert [(each.action, each.surface) for each in rule.unlocked_by] == [("crown", "crown")]


def test_all_problems_of_all_files_come_at_once(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text(GOOD.replace("points: 6", "points: 0"), encoding="utf-8")
    (tmp_path / "b.yaml").write_text(GOOD.replace("found: memory", "found: no"), encoding="utf-8")
    (tmp_path / "c.yaml").write_text("format: 2\nrules: {}\n", encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        load_rules(tmp_path, SETTING)
    assert {Path(problem.at.split(":")[0]).name for problem in caught.value.problems} == {
        "a.yaml",
        "b.yaml",
        "c.yaml",
    }


def test_an_id_is_used_once(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text(GOOD, encoding="utf-8")
    (tmp_path / "b.yaml").write_text(GOOD, encoding="utf-8")
    with pytest.raises(CaseError, match="an id used once"):
        load_rules(tmp_path, SETTING)


@pytest.mark.parametrize(
    "text",
    [
        "rules: &a [*a]",
        "rules: " + "[" * 200_000,
        "a: &a [x, x]\nb: [*a, *a, *a]",
        "rules: !!python/object/apply:os.system [echo]",
        "format: 1\nformat: 1\nrules: []",
        "\x00",
        "",
        "- just\n- a list",
        "rules: [1, null, text, {}]",
    ],
)
def test_hostile_files_get_an_error(tmp_path: Path, text: str) -> None:
    with ends_soon(), pytest.raises(CaseError):
        load_rules(draft(tmp_path, text), SETTING)


def test_an_empty_folder_is_not_a_rule_set(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="no rule file"):
        load_rules(tmp_path, SETTING)


# ---- packaged data


def test_packaged_rules_are_read_with_their_criteria_and_figures() -> None:
    packaged_knowledge = knowledge()
    assert len(packaged_knowledge.rules) > 100
    assert len({rule.id for rule in packaged_knowledge.rules}) == len(packaged_knowledge.rules)
    for rules in packaged_knowledge.by_decision.values():
        assert all(rule.source and rule.why for rule in rules)
    assert set(packaged_knowledge.criteria.base) >= {"retainer", "rest", "connector", "replacement"}
    assert all(-1 <= worth <= 1 for worth in packaged_knowledge.scoring.outcome_values.values())
    assert packaged_knowledge.scoring.neighbours >= 1
    with pytest.raises(KeyError):
        packaged_knowledge.rule("no_such_rule")


def test_the_quick_reader_and_the_one_that_keeps_lines_agree() -> None:
    for name in packaged.inputs():
        text = limits.decode(limits.read_bytes(shared(name)), name)
        assert packaged.read_yaml(shared(name)) == parsing.parse(text, name).value, name


def test_the_compiled_form_is_current_where_there_is_one() -> None:
    path = packaged.compiled_path()
    if not path.is_file():
        pytest.skip("no compiled form is packaged")
    stored = orjson.loads(path.read_bytes())
    assert stored["digest"] == packaged.digest(), "run: rpd-casebook rules check --write-compiled"
    for name in packaged.inputs():
        assert stored["documents"][name] == packaged.read_yaml(shared(name)), name


def test_the_compiled_form_is_used_while_it_fits_and_left_when_it_does_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "rules").mkdir()
    (tmp_path / "rules" / "draft.yaml").write_text(GOOD, encoding="utf-8")
    monkeypatch.setattr(packaged, "shared", lambda *parts: tmp_path.joinpath(*parts))
    packaged.forget()
    try:
        assert packaged.compiled() is None
        from_yaml = packaged.document("rules/draft.yaml")
        packaged.write_compiled()
        assert packaged.compiled() == {"rules/draft.yaml": from_yaml}
        assert packaged.document("rules/draft.yaml") == from_yaml
        (tmp_path / "rules" / "draft.yaml").write_text(
            GOOD.replace("points: 6", "points: 7"), encoding="utf-8"
        )
        packaged.forget()
        assert packaged.compiled() is None
        assert packaged.document("rules/draft.yaml")["rules"][0]["points"] == 7
        assert [path.name for path in (tmp_path / "compiled").iterdir()] == ["knowledge.json"]
    finally:
        monkeypatch.undo()
        packaged.forget()


def test_the_digest_follows_every_byte(tmp_path: Path) -> None:
    (tmp_path / "rules").mkdir()
    (tmp_path / "rules" / "a.yaml").write_text("a: 1\n", encoding="utf-8")
    first = packaged.digest(tmp_path)
    (tmp_path / "rules" / "a.yaml").write_text("a: 2\n", encoding="utf-8")
    second = packaged.digest(tmp_path)
    (tmp_path / "rules" / "b.yaml").write_text("a: 2\n", encoding="utf-8")
    assert len({first, second, packaged.digest(tmp_path)}) == 3


def test_faulty_criteria_and_figures_are_refused() -> None:
    criteria = {
        "format": 1,
        "criteria": [{"id": "retention", "label": "retention"}],
        "base": {"retainer": {"retention": 1, "grip": 1}},
        "shifts": [{"criterion": "retention", "when": "abutment.mobility > 1", "add": 1, "why": "x"}],
    }
    with pytest.raises(CaseError) as caught:
        read_packaged_criteria(criteria)
    assert {problem.field for problem in caught.value.problems} == {"base.retainer.grip", "shifts[#1].when"}
    problems: list[Problem] = []
    read_model(
        Scoring,
        {
            "format": 1,
            "neighbours": 0,
            "lambda": 1,
            "kappa": "x",
            "outcome_values": {"worn": 2},
            "worn_months": {"some": 12, "long": 36},
            "event_speaks_to": {},
        },
        lambda path: "scoring.yaml",
        problems,
    )
    assert {problem.field for problem in problems} == {
        "neighbours",
        "kappa",
        "outcome_values.worn",
    }
