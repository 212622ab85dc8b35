"""On how few options the evidence rests: counted by hand."""

from recommender.curation.load import load


def test_counted_by_hand() -> None:
    found = load({"a": 5, "b": 3, "c": 1, "d": 1, "e": 0})
    assert (found.uses, found.options, found.lone) == (10, 4, ("c", "d"))
    assert found.lead_share == 0.9
    assert load({}).lead_share == 0.0
