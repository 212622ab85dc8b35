"""What can never be true, against trying it out."""

import pytest
from hypothesis import given, settings

from recommender.facts.values import Scope
from recommender.knowledge.conditions import parse
from recommender.knowledge.reasoning import alternatives, always_true, can_be_true, dead_parts, implies
from recommender.knowledge.registry import FactSpec, Registry, registry

from .condition_strategies import conditions, narrowing

NOTHING_KNOWN = Registry({})


@settings(max_examples=200, deadline=None)
@given(conditions, narrowing())
def test_a_condition_that_was_seen_true_is_never_called_impossible(
    text: str, pair: tuple[Scope, Scope]
) -> None:
    condition = parse(text)
    for here in pair:
        if condition.evaluate(here) is True:
            assert can_be_true(condition.root, NOTHING_KNOWN)
        if condition.evaluate(here) is False:
            assert not always_true(condition.root, NOTHING_KNOWN)


@pytest.mark.parametrize(
    "text",
    [
        "derived.far_facial_mm >= 0.5 and derived.far_facial_mm < 0.5",
        "derived.far_facial_mm == 0.25 and derived.far_facial_mm != 0.25",
        "derived.far_facial_mm in [0.25, 0.5] and derived.far_facial_mm > 0.5",
        "derived.support == tooth and derived.support == extension",
        "derived.support not in [tooth, extension, none]",
        "patient.dry_mouth == true and patient.dry_mouth == false",
        "nickel in patient.allergy and nickel not in patient.allergy",
        "recorded(patient.age) and not_recorded(patient.age)",
        "not_recorded(patient.hygiene) and patient.hygiene == poor",
        "abutment.mobility > 3",  # the case format allows 0 to 3
        "derived.span_count > 2 and derived.span_count < 3",  # spaces are counted in whole numbers
        "derived.longest_span < 0",
        "arm.engaged_mm < arm.least_mm and arm.least_mm < arm.engaged_mm",
        "arm.engaged_mm < arm.least_mm and arm.engaged_mm >= 1 and arm.least_mm <= 1",
        "any_abutment(abutment.mobility >= 2 and abutment.mobility < 2)",
        "all_abutments(abutment.mobility < 2) and any_abutment(abutment.mobility >= 2)",
        "all_abutments(abutment.mobility < 2) and count_abutments(abutment.mobility >= 2) >= 1",
        "count_abutments(abutment.mobility >= 2) < 0",
        "not always",
        "(arch == maxilla and arch == mandible) or (patient.age > 60 and patient.age < 50)",
    ],
)
def test_contradictions_are_found(text: str) -> None:
    root = parse(text).root
    assert not can_be_true(root, registry())
    assert always_true(parse(f"not ({text})").root, registry())


@pytest.mark.parametrize(
    "text",
    [
        "derived.far_facial_mm >= 0.5 and derived.far_facial_mm <= 0.5",
        "derived.support != tooth and derived.support != extension",
        "not_recorded(derived.far_facial_mm) and derived.far_facial_mm >= 0.25",  # bounds may decide
        "derived.span_count > 2 and derived.span_count < 4",
        # true where there is no abutment at all
        "all_abutments(abutment.mobility < 2) and all_abutments(abutment.mobility >= 2)",
        "any_abutment(abutment.mobility < 2) and any_abutment(abutment.mobility >= 2)",
        "arm.engaged_mm <= arm.least_mm and arm.engaged_mm >= arm.least_mm",
        "always",
    ],
)
def test_what_is_possible_is_not_called_impossible(text: str) -> None:
    assert can_be_true(parse(text).root, registry())


@pytest.mark.parametrize(
    ("first", "second", "holds"),
    [
        ("abutment.mobility >= 2", "abutment.mobility >= 1", True),
        ("abutment.mobility >= 1", "abutment.mobility >= 2", False),
        ("patient.hygiene == poor", "patient.hygiene in [fair, poor]", True),
        ("patient.hygiene == poor and arch == maxilla", "arch != mandible", True),
        ("derived.span_count > 2", "derived.span_count >= 3", True),  # whole numbers
        ("arm.force_n > 2", "arm.force_n >= 3", False),
        ("all_abutments(abutment.mobility == 0)", "not any_abutment(abutment.mobility >= 1)", True),
    ],
)
def test_what_follows_from_what(first: str, second: str, holds: bool) -> None:
    assert implies(parse(first).root, parse(second).root, registry()) is holds


def test_dead_alternatives_are_named() -> None:
    root = parse("derived.support == tooth or (arch == maxilla and arch == mandible)").root
    assert [str(part.run is not None) for part in dead_parts(root, registry())] == ["True"]
    assert can_be_true(root, registry())


def test_too_many_alternatives_are_left_alone() -> None:
    text = " and ".join(f"(n.a{i} > 1 or n.b{i} > 1)" for i in range(20))
    assert alternatives(parse(text).root) is None
    assert can_be_true(parse(text).root, NOTHING_KNOWN)


def test_alternatives_are_a_disjunctive_normal_form() -> None:
    found = alternatives(parse("(n.a > 1 or n.b > 1) and (n.c > 1 or n.d > 1)").root)
    assert found is not None
    assert {tuple(atom.text for atom in atoms) for atoms in found} == {
        ("n.a > 1", "n.c > 1"),
        ("n.a > 1", "n.d > 1"),
        ("n.b > 1", "n.c > 1"),
        ("n.b > 1", "n.d > 1"),
    }


def test_words_come_from_the_registry() -> None:
    only = Registry({"w.a": FactSpec("w.a", "case", "word", values=("low", "high"))})
    assert not can_be_true(parse("w.a != low and w.a != high").root, only)
    assert can_be_true(parse("w.a != low").root, only)
