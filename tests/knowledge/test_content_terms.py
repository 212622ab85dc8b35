"""Cautions that must speak, and the terms that the rule files keep."""

import csv
from typing import Any, get_args

import pytest
import yaml

from recommender.domain.vocabulary import REPLACEMENTS, Connector
from recommender.facts.derive import CaseFacts
from recommender.knowledge.in_force import knowledge
from recommender.knowledge.model import Rule
from recommender.resources import shared

from .by_hand import case_of, one_space

FILES = (
    "connectors_both", "connectors_maxilla", "connectors_mandible", "replacements", "bases", "preparation",
    "cautions", "alloys",
)  # fmt: skip


def cautions(facts: CaseFacts) -> set[str]:
    return {
        rule.id
        for rule in knowledge().rules
        if rule.effect in ("caution", "question")
        and rule.stage == "case"
        and rule.when.evaluate(facts.case_scope)
    }


def test_cautions_of_a_bare_case() -> None:
    found = cautions(case_of("maxilla", [15]))
    assert {"com_draft_not_diagnosis", "com_design_approval", "com_allergy_not_asked"} <= found
    assert not found & {
        "caution_allergy_metal",
        "caution_mobility",
        "caution_unmounted",
        "caution_swallowing",
    }


@pytest.mark.parametrize(
    ("more", "rule"),
    [
        ({"patient": {"allergy": ["nickel"]}}, "caution_allergy_metal"),
        ({"patient": {"allergy": ["cobalt"]}}, "alloy_wrought_wire"),
        ({"patient": {"swallowing_risk": True}}, "caution_swallowing"),
        ({"patient": {"dry_mouth": True}}, "caution_dry_mouth"),
        ({"records": {"mounting": "none"}}, "caution_unmounted"),
        ({"planned_extractions": [18]}, "caution_planned_extractions"),
        ({"abutments": [{"tooth": 14, "mobility": 2}]}, "caution_mobility"),
        ({"abutments": [{"tooth": 14, "mobility": 3}]}, "caution_mobility_3"),
        ({"abutments": [{"tooth": 14, "bone_support": "poor"}]}, "caution_poor_bone"),
        ({"abutments": [{"tooth": 14, "disease": "periapical"}]}, "caution_disease"),
        ({"spans": one_space([15, 16, 17], clearance_mm=1.0)}, "clearance_return_to_dentist"),
    ],
)
def test_caution_is_raised_by_what_it_warns_of(more: dict[str, Any], rule: str) -> None:
    plain = cautions(case_of("maxilla", [15, 16, 17], absent=[18]))
    assert rule not in plain
    assert rule in cautions(case_of("maxilla", [15, 16, 17], absent=[18], **more))


def own_rules() -> list[Rule]:
    return [rule for rule in knowledge().rules if any(f"/{name}.yaml" in rule.place for name in FILES)]


def test_rules_keep_their_own_terms() -> None:
    rules = own_rules()
    assert len(rules) > 250
    for rule in rules:
        assert abs(rule.points) <= 25, rule.id
        if rule.disputed and rule.effect in ("favours", "discourages"):
            assert abs(rule.points) <= 8, rule.id
        if rule.disputed:
            assert rule.block not in ("impossible", "safety"), rule.id
        if rule.source == "common practice, no source":
            assert rule.found == "common_practice", rule.id


def test_every_source_is_listed() -> None:
    entries = yaml.safe_load(shared("sources.yaml").read_text("utf-8"))["sources"]
    listed = [entry["citation"] for entry in entries]
    assert len({entry["key"] for entry in entries}) == len(set(listed)) == len(listed)
    for rule in knowledge().rules:
        assert any(citation in rule.source for citation in listed), (rule.id, rule.source)
    for rule in own_rules():
        for part in rule.source.split("; "):
            assert any(part.startswith(citation) or part in citation for citation in listed), (rule.id, part)


def test_every_connector_and_replacement_starts_on_every_criterion() -> None:
    data = knowledge()
    names = set(data.criteria.labels)
    assert set(data.catalogue.options["connector"]) == set(get_args(Connector))
    assert set(data.catalogue.options["replacement"]) == set(REPLACEMENTS)
    for kind in ("connector", "replacement"):
        for option in data.catalogue.options[kind].values():
            assert set(option.starts) == names, option.id
            assert all(0 <= start <= 100 for start in option.starts.values()), option.id
            assert option.families, option.id
            assert set(option.families) <= set(data.catalogue.families), option.id


def test_the_starts_of_every_option_have_their_reason_and_source() -> None:
    listed = [entry["citation"] for entry in yaml.safe_load(shared("sources.yaml").read_text("utf-8"))["sources"]]
    for options in knowledge().catalogue.options.values():
        for option in options.values():
            assert option.because.endswith("."), option.id
            assert len(option.because) > 30, option.id
            for part in option.because_source.split("; "):
                known = any(part.startswith(citation) or part in citation for citation in listed)
                assert known or part in option.source or part == "common practice, no source", (option.id, part)


def test_dispositions_name_existing_rules() -> None:
    known = {rule.id for rule in knowledge().rules}
    with shared("rules", "dispositions_other.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len({row["candidate"] for row in rows}) == len(rows) == 119
    for row in rows:
        assert row["verdict"] in {"kept", "mended", "merged", "rejected", "in_code"}
        assert row["reason"].strip()
        named = row["rules"].split()
        assert set(named) <= known, row["candidate"]
        assert bool(named) == (row["verdict"] not in {"in_code", "rejected"}), row["candidate"]


def test_each_proposed_rule_was_decided_once() -> None:
    decided: list[str] = []
    for name in ("dispositions_retainers.csv", "dispositions_other.csv"):
        with shared("rules", name).open(encoding="utf-8", newline="") as stream:
            decided += [row["candidate"] for row in csv.DictReader(stream)]
    assert len(decided) == len(set(decided)) == 234
