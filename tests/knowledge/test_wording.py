"""Conditions in words: every rule has a reading, and the small words do not turn its sense."""

import pytest

from recommender.knowledge.conditions import parse
from recommender.knowledge.load import packaged_knowledge
from recommender.knowledge.registry import registry
from recommender.knowledge.wording import in_words


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("always", "always"),
        ("derived.far_facial_mm >= 0.25", "is at least 0.25 mm"),
        ("derived.far_facial_mm < 0.25", "is less than 0.25 mm"),
        ("patient.dry_mouth", "is yes"),
        ("not patient.dry_mouth", "is no"),
        ("nickel in patient.allergy", "includes nickel"),
        ("nickel not in patient.allergy", "does not include nickel"),
        ("not_recorded(patient.age)", "is not recorded"),
        ("patient.hygiene not in [poor, fair]", "is not fair nor poor"),
        ("count_abutments(abutment.mobility >= 2) >= 2", "the number of abutments at which [“mobility” is at least 2]"),
        ("all_abutments(abutment.mobility >= 2)", "at every abutment: ["),
        ("any_span(span.clearance_mm < 4)", "at any tooth to be replaced: ["),
    ],
)  # fmt: skip
def test_small_words(text: str, words: str) -> None:
    said = in_words(parse(text).root, registry())
    order = words if words in said else words.replace("fair nor poor", "poor nor fair")
    assert order in said


def test_or_inside_and_is_bracketed() -> None:
    said = in_words(parse("patient.gag_reflex and (patient.age > 80 or patient.dry_mouth)").root, registry())
    assert said.count("(“") == 1
    assert ", and (“" in said
    assert ", or “" in said


def test_every_packaged_rule_has_a_reading_without_raw_names() -> None:
    known = packaged_knowledge()
    for rule in known.rules:
        said = in_words(rule.when.root, known.registry)
        assert said
        # the dotted name of a fact with a label is never shown
        assert not any(name in said for name in rule.when.facts if "." in name and known.registry[name].label)
