"""The check of a rule set finds what is wrong with it, and nothing where nothing is."""

from dataclasses import replace
from pathlib import Path

import pytest

from recommender.domain.options import Catalogue, Family
from recommender.knowledge.check import Finding, check, check_folder
from recommender.knowledge.conditions import parse
from recommender.knowledge.model import CriterionShift, Knowledge
from recommender.knowledge.packaged import document

from .small import CATALOGUE, RULES, build, entry, small

MOLAR = "derived.tooth_type == molar"
GUIDE = document("rule_guide.yaml")
MOST, MOST_DISPUTED = GUIDE["most_points"], GUIDE["most_disputed_points"]
NEVER = "patient.age > 60 and patient.age < 50"


def kinds(knowledge: Knowledge, level: str = "") -> set[tuple[str, str]]:
    return {(f.kind, f.subject) for f in check(knowledge) if level in ("", f.level)}


def with_rule(*entries: dict[str, object]) -> Knowledge:
    return build(*RULES, *entries)


def test_a_sound_rule_set_has_no_error() -> None:
    assert kinds(small(), "error") == set()
    assert kinds(small(), "warning") == set()


@pytest.mark.parametrize(
    ("added", "level", "kind"),
    [
        (entry("never", "abutment.mobility >= 2 and abutment.mobility < 1"), "error", "unreachable"),
        (entry("half", "arch == maxilla or abutment.mobility > 3"), "warning", "dead_part"),
        (entry("no_if", "arch == maxilla or arch == mandible"), "warning", "no_condition"),
        (entry("twice", MOLAR, options=["ring"], points=3), "error", "duplicate"),
        (entry("mixed", MOLAR, options=["ring", "i_bar"]), "warning", "duplicate"),
        (entry("opposed", MOLAR, "discourages", options=["ring"]), "error", "contradiction"),
        (entry("heavy", "patient.age > 60", points=MOST + 1), "information", "points"),
        (entry("debated", "arch == maxilla", points=MOST_DISPUTED + 1, disputed="No."), "warning", "disputed_points"),
        (entry("steep", "derived.mid_facial_mm >= 0.5", options=["i_bar"]), "information", "stacks"),
        (entry("idle", "patient.age > 60", criterion="hygiene"), "error", "no_weight"),
        (entry("thin", "patient.age > 60", source="A book"), "warning", "source"),
        (entry("mismatch", "patient.age > 60", found="common_practice"), "warning", "source"),
        (entry("elsewhere", "space.left_mm < 0"), "warning", "other_decision"),
        (entry("by_silence", "not_recorded(patient.age)"), "error", "asks_whether_recorded"),
        (
            entry("habit", "abutment.crown_height_mm < 4", "blocks", block="impossible",
                  source="common practice, no source", found="common_practice"),
            "information",
            "habit_blocks",
        ),
    ],
)  # fmt: skip
def test_each_fault_is_found(added: dict[str, object], level: str, kind: str) -> None:
    knowledge = with_rule(added)
    assert (kind, added["id"]) in kinds(knowledge, level)
    assert {found for found in kinds(knowledge, "error") if found[1] != added["id"]} == set()


def test_rules_that_ask_for_different_work_are_no_duplicates() -> None:
    far = entry("far_seat", "derived.near_rest_seat == false", "prepares",
                preparation={"action": "rest_seat", "surface": "far_occlusal"})  # fmt: skip
    assert ("duplicate", "far_seat") not in kinds(with_rule(far))


def test_a_disputed_safety_block_is_an_error_however_it_came_about() -> None:
    knowledge = small()
    rules = tuple(
        replace(rule, disputed="Some do.") if rule.id == "grip" else rule for rule in knowledge.rules
    )
    assert ("disputed_block", "grip") in kinds(replace(knowledge, rules=rules), "error")
    rules = tuple(replace(rule, block=None) if rule.id == "grip" else rule for rule in knowledge.rules)
    assert ("block_kind", "grip") in kinds(replace(knowledge, rules=rules), "error")


def test_options_families_and_shifts_are_checked() -> None:
    knowledge = small()
    options = {decision: dict(known) for decision, known in CATALOGUE.options.items()}
    ring = options["retainer"]["ring"]
    options["retainer"]["ring"] = replace(ring, starts={"retention": 120, "speed": 1}, families=("nowhere",))
    options["retainer"]["lonely"] = replace(ring, id="lonely", families=())
    families = {**CATALOGUE.families, "empty": Family("empty", "retainer", "x", 2.0, "missing_above")}
    shift = CriterionShift("retention", parse("patient.age > 60 and patient.age < 50"), 1.0, "x")
    faulty = replace(
        knowledge,
        catalogue=Catalogue(options, families),
        criteria=replace(knowledge.criteria, shifts=(shift,)),
    )
    errors = kinds(faulty, "error")
    assert {
        ("criterion", "retainer/ring"),
        ("start", "retainer/ring"),
        ("family", "retainer/ring"),
        ("family", "empty"),
        ("unreachable", "shifts[#1]"),
    } <= errors
    warnings = kinds(faulty, "warning")
    assert {("empty_family", "empty"), ("empty_family", "suprabulge"), ("start", "retainer/ring")} <= warnings
    assert ("nothing_speaks", "retainer/lonely") in warnings
    assert ("nothing_speaks", "retainer/i_bar") not in warnings


def test_facts_that_no_rule_reads_are_named() -> None:
    found = kinds(small(), "information")
    assert ("unread_fact", "patient.sex") in found
    assert ("unread_fact", "abutment.mobility") not in found


def test_errors_come_first() -> None:
    found = check(with_rule(entry("never", NEVER)))
    levels = [finding.level for finding in found]
    assert levels == sorted(levels, key=["error", "warning", "information"].index)


def test_a_draft_folder_is_checked_with_places(tmp_path: Path) -> None:
    (tmp_path / "draft.yaml").write_text(
        "format: 1\nrules:\n- id: never_true\n  decision: retainer\n  when: " + NEVER + "\n"
        "  effect: caution\n  why: x\n  source: common practice, no source\n  found: common_practice\n"
        "- id: broken\n  decision: retainer\n  when: patient.agee > 60\n  effect: caution\n  why: x\n"
        "  source: common practice, no source\n  found: common_practice\n",
        encoding="utf-8",
    )
    found = [f for f in check_folder(tmp_path) if f.level == "error"]
    assert Finding(
        "error", "unreachable", "never_true",
        f"the condition can never be true: {NEVER}", f"{tmp_path}/draft.yaml:3:3",
    ) in found  # fmt: skip
    assert ("unreadable", "rules[broken].when") in {(f.kind, f.subject) for f in found}


def test_the_packaged_rules_have_no_error() -> None:
    assert [finding for finding in check_folder() if finding.level == "error"] == []
