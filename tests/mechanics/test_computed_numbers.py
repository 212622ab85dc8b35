"""Numbers behind a rule: bands, never a bare computed number."""

from recommender.facts.computed_numbers import computed
from recommender.facts.values import Scope, between, known
from recommender.wording.words import Words


def test_the_resin_sentence_carries_room_and_need():
    """Hand-worked: 4.2 mm over a ridge against layers of 4.1 to 7.6 mm leaves -3.4 to 0.1 mm."""
    scope = Scope(({"span.clearance_mm": known(4.2, "spans[15].clearance_mm", unit="mm")},))
    (said,) = computed({"space.left_mm": between(-3.4, 0.1, unit="mm")}, scope)
    assert Words().text(said) == "the layers need 4.1 to 7.6 mm; 4.2 mm are there"


def test_forces_are_said_as_bands():
    facts = {"arm.force_n": between(2.66, 28.07), "arm.tip_travel_mm": between(-0.36, -0.03)}
    force, travel = Words().lines(computed(facts, Scope(())))
    assert "2.7 to 28.1 N" in force
    assert "-0.36 to -0.03 mm" in travel


def test_other_facts_are_left_alone():
    assert not list(computed({"derived.support": known("tooth", "missing")}, Scope(())))
