"""Numbers in sentences: bands, never a bare computed number."""

from recommender.facts.computed_words import band_words, computed_words

from recommender.facts.values import Scope, between, known


def test_the_resin_sentence_carries_room_and_need():
    """Hand-worked: 4.2 mm over a ridge against layers of 4.1 to 7.6 mm leaves -3.4 to 0.1 mm."""
    scope = Scope(({"span.clearance_mm": known(4.2, "spans[15].clearance_mm", unit="mm")},))
    words = computed_words({"space.left_mm": between(-3.4, 0.1, unit="mm")}, scope)
    assert words == "the layers need 4.1 to 7.6 mm; 4.2 mm are there"


def test_forces_are_spoken_as_bands():
    facts = {"arm.force_n": between(2.66, 28.07), "arm.tip_travel_mm": between(-0.36, -0.03)}
    words = computed_words(facts, Scope(()))
    assert "2.7 to 28.1 N" in words
    assert "-0.36 to -0.03 mm" in words


def test_open_bands_say_so_and_other_facts_are_left_alone():
    assert band_words(2.0, None, 1) == "at least 2.0"
    assert band_words(None, 2.0, 1) == "at most 2.0"
    assert band_words(-0.01, 0.01, 1) == "0.0"
    assert computed_words({"derived.support": known("tooth", "missing")}, Scope(())) == ""
