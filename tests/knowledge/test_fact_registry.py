"""The registry of facts, and what it refuses in a condition."""

import pytest

from recommender.domain.reader import read_text
from recommender.facts.derive import derive
from recommender.facts.values import Fact
from recommender.knowledge.conditions import parse
from recommender.knowledge.registry import registry, visible_scopes

AN_INVENTED_CASE = """
format: 1
id: invented-registry-case
arch: mandible
missing: [35, 36, 37, 46]
absent: [38, 48]
patient: {age: 61, allergy: [nickel], smile_line: low}
spans: [{teeth: [46], clearance_mm: 6.0}]
abutments:
- {tooth: 34, mobility: 1, undercuts_mm: {midfacial: 0.25}}
- {tooth: 45}
- {tooth: 47}
"""


def said(text: str, stage: str = "option", decision: str = "retainer") -> list[str]:
    found = registry().complaints(parse(text), visible_scopes(stage, decision))
    return [complaint.message for complaint in found]


def test_every_fact_that_is_derived_is_registered_with_its_type() -> None:
    facts = derive(read_text(AN_INVENTED_CASE, "invented"))
    scopes = [facts.case_scope, facts.space(46)]
    scopes += [facts.toward(tooth, side) for tooth in facts.considered for side in facts.approaches(tooth)]
    seen: dict[str, Fact] = {}
    for scope in scopes:
        for layer in scope.layers:
            seen |= {name: fact for name, fact in layer.items() if fact.recorded or name not in seen}
    assert len(seen) > 100
    kinds = {"bool": bool, "word": str, "words": frozenset, "number": (int, float)}
    for name, fact in seen.items():
        assert name in registry(), name
        spec = registry()[name]
        if fact.value is not None:
            assert isinstance(fact.value, kinds[spec.type]), name
            assert spec.type != "number" or not isinstance(fact.value, bool), name
            if spec.type == "word":
                assert not spec.values or fact.value in spec.values, name


def test_fields_of_the_case_carry_words_and_bounds() -> None:
    facts = registry()
    assert facts["patient.smile_line"].values == ("high", "average", "low")
    assert (facts["abutment.mobility"].low, facts["abutment.mobility"].high) == (0, 3)
    assert facts["abutment.undercuts_mm.midfacial"].unit == "mm"
    assert facts["patient.allergy"].type == "words"
    assert facts["span.clearance_mm"].scope == "space"
    assert facts["patient.age"].type == "number"
    assert facts["patient.age"].high is None  # 90+ has no upper bound
    assert facts["abutment.contour_height"].type == "word"
    assert "occlusion.contacts" not in facts
    assert "abutment.tooth" not in facts


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("patient.smile_lin == low", "unknown fact patient.smile_lin"),
        ("patient.smile_line == medium", "patient.smile_line cannot be medium"),
        ("patient.smile_line in [low, medium]", "cannot be medium"),
        ("patient.smile_line >= 2", "is a word, compared with 2"),
        ("abutment.mobility == low", "is a number, compared with low"),
        ("abutment.mobility == true", "is a number, compared with true"),
        ("patient.dry_mouth == low", "is true or false, compared with low"),
        ("patient.allergy == nickel", "is a set"),
        ("gold in patient.allergy", "patient.allergy cannot be gold"),
        ("low in patient.smile_line", "is one word, not a set"),
        ("span.clearance_mm < 5", "is a fact of a space and is not known here"),
        ("any_abutment(span.clearance_mm < 5)", "not known inside abutment(..)"),
        ("any_abutment(derived.support == tooth)", "not known inside abutment(..)"),
        ("framework.rest_count >= 3", "is a fact of a framework"),
        ("abutment.mobility < abutment.tilt", "number abutment.mobility compared with word abutment.tilt"),
        ("arm.engaged_mm < arm.force_n", "is in mm"),
        ("abutment.tilt < derived.tilt", "has no order"),
    ],
)
def test_what_a_condition_cannot_say(text: str, says: str) -> None:
    assert len(said(text)) >= 1
    assert any(says in message for message in said(text))


@pytest.mark.parametrize(
    ("text", "stage", "decision"),
    [
        ("derived.support == tooth and arm.engaged_mm < arm.least_mm", "option", "retainer"),
        ("span.clearance_mm < 5 and space.left_mm < 0", "option", "replacement"),
        ("any_span(span.clearance_mm < 5) and connector.room_left_mm < 0", "option", "connector"),
        ("count_abutments(abutment.mobility >= 2) >= 2 and nickel in patient.allergy", "case", "case"),
        ("framework.retained_sides < 2", "framework", "framework"),
        ("recorded(patient.age) and arch == maxilla", "case", "case"),
        ("all_standing(patient.hygiene == poor and abutment.bone_support == poor)", "case", "case"),
    ],
)
def test_what_it_can_say(text: str, stage: str, decision: str) -> None:
    assert said(text, stage, decision) == []


def test_scopes_follow_stage_and_decision() -> None:
    assert said("abutment.mobility == 3", "case", "case") != []
    assert said("span.clearance_mm < 5", "option", "connector") != []
    assert said("arm.engaged_mm < arm.least_mm", "case", "retainer") != []


def test_a_misspelt_fact_gets_a_suggestion() -> None:
    (complaint,) = registry().complaints(parse("patient.smile_lin == low"), {"case"})
    assert complaint.allowed[0] == "patient.smile_line"
