"""Facts of a case: near and far, three-valued counting, and what follows from the dentition."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.mirrored import mirror_case
from recommender.domain.case import Case
from recommender.domain.fields import recorded_fields, without_field
from recommender.facts.derive import CaseFacts, derive, derive_again
from recommender.facts.logic import any_of, count_of, largest, least
from recommender.facts.values import Fact, between, known, not_recorded
from tests.advice.strategies import cases


def facts_of(**fields: Any) -> CaseFacts:
    raw = {"format": 1, "id": "made-1", "arch": "mandible", "missing": [36], **fields}
    return derive(Case.model_validate(raw))


def value(facts: CaseFacts, tooth: int, side: str, name: str) -> object:
    return facts.toward(tooth, side).fact(name).value


def test_near_and_far_turn_round_with_the_side_of_the_space() -> None:
    undercuts = {"mesiofacial": 0.25, "distofacial": 0.0}
    facts = facts_of(
        abutments=[{"tooth": 35, "undercuts_mm": undercuts}, {"tooth": 37, "undercuts_mm": undercuts}]
    )
    # 35 stands in front of its space: far is mesial. 37 stands behind it: far is distal.
    assert value(facts, 35, "distal", "derived.far_facial_mm") == 0.25
    assert value(facts, 37, "mesial", "derived.far_facial_mm") == 0.0
    assert value(facts, 35, "distal", "derived.border_far_end") == "front"
    assert value(facts, 37, "mesial", "derived.border_far_end") == "behind"


def test_a_tooth_between_two_spaces_is_seen_from_both() -> None:
    facts = facts_of(missing=[34, 36])
    assert facts.sides(35) == ("mesial", "distal")
    assert facts.tooth(35).fact("derived.between_spaces").value is True
    assert facts.tooth(35).fact("derived.isolated").value is True


@pytest.mark.parametrize(
    ("tilt", "seen"), [("mesial", "away_from_space"), ("distal", "toward_space"), ("facial", "facial")]
)
def test_tilt_is_told_from_the_space(tilt: str, seen: str) -> None:
    facts = facts_of(abutments=[{"tooth": 35, "tilt": tilt}])
    assert value(facts, 35, "distal", "derived.tilt") == seen


def test_support_and_extension_follow_the_format() -> None:
    facts = facts_of(missing=[36, 37, 46], absent=[38, 48])
    assert value(facts, 35, "distal", "derived.support") == "extension"
    assert value(facts, 45, "distal", "derived.support") == "tooth"
    assert value(facts, 33, "distal", "derived.support") == "none"
    assert facts.case_scope.fact("derived.extension_sides").value == 1
    assert facts.case_scope.fact("derived.last_abutment_type").value == "premolar"


def test_one_measured_zone_bounds_the_largest_from_below() -> None:
    facts = facts_of(abutments=[{"tooth": 35, "undercuts_mm": {"midfacial": 0.25}}])
    fact = facts.tooth(35).fact("derived.facial_max_mm")
    assert (fact.value, fact.low, fact.high) == (None, 0.25, None)
    assert "abutments[35].undercuts_mm.distofacial" in fact.gaps


def test_weak_teeth_are_counted_within_bounds() -> None:
    facts = facts_of(abutments=[{"tooth": 35, "bone_support": "poor"}, {"tooth": 37}])
    fact = facts.case_scope.fact("derived.reduced_abutment_count")
    assert (fact.low, fact.high) == (1.0, 2.0)


def test_teeth_considered_are_those_listed_and_those_that_border() -> None:
    facts = facts_of(abutments=[{"tooth": 33}])
    assert facts.considered == (33, 35, 37)


def test_the_provisional_axis_runs_through_the_terminal_teeth() -> None:
    facts = facts_of(missing=[36, 37, 46, 47], absent=[38, 48])
    assert facts.tooth(33).fact("derived.ahead_of_fulcrum").value is True
    assert facts.tooth(35).fact("derived.ahead_of_fulcrum").value is False
    bounded = facts_of()
    assert bounded.tooth(33).fact("derived.ahead_of_fulcrum").value is False


def test_age_over_eighty_nine_is_a_bound_and_not_a_number() -> None:
    fact = facts_of(patient={"age": "90+"}).case_scope.fact("patient.age")
    assert (fact.value, fact.low, fact.high) == (None, 90.0, None)


def test_rest_room_of_one_site_says_nothing_of_another() -> None:
    facts = facts_of(abutments=[{"tooth": 35, "rest_clearance_mm": {"mesial": 0.5}}])
    assert value(facts, 35, "distal", "derived.far_rest_room_mm") == 0.5
    assert value(facts, 35, "distal", "derived.near_rest_room_mm") is None
    assert facts.tooth(35).fact("abutment.rest_clearance_mm").high == 0.5


def test_what_a_smile_shows_is_known_only_from_the_record() -> None:
    assert facts_of().space(36).fact("derived.span_shows").value is None
    assert facts_of(patient={"lower_display": "none"}).space(36).fact("derived.span_shows").value is False
    upper = facts_of(arch="maxilla", missing=[15], patient={"last_tooth_in_smile": 24})
    assert upper.space(15).fact("derived.span_shows").value is False


YES, NO, OPEN = known(True, "a"), known(False, "b"), not_recorded("c")


@pytest.mark.parametrize(
    ("answers", "expected"),
    [((YES, OPEN), True), ((NO, OPEN), None), ((NO, NO), False), ((), False), ((OPEN, YES, NO), True)],
)
def test_any_of_is_kleenes_or(answers: tuple[Fact, ...], expected: bool | None) -> None:
    pairs = [(None if fact.value is None else bool(fact.value), fact) for fact in answers]
    assert any_of(*pairs).value is expected


@given(st.lists(st.one_of(st.none(), st.floats(0, 10)), min_size=1, max_size=6))
def test_extremes_bound_every_completion(measured: list[float | None]) -> None:
    facts = [not_recorded("x") if m is None else known(m, "x") for m in measured]
    filled = [5.0 if m is None else m for m in measured]
    high, low = largest(facts, "mm"), least(facts, "mm")
    assert high.low is None or high.low <= max(filled)
    assert low.high is None or low.high >= min(filled)
    if None not in measured:
        assert high.value == max(filled)
        assert low.value == min(filled)


@given(st.lists(st.sampled_from([True, False, None]), max_size=8))
def test_counting_bounds_every_completion(answers: list[bool | None]) -> None:
    fact = count_of([(a, between(None, None)) for a in answers], "teeth")
    assert fact.low == sum(a is True for a in answers)
    assert fact.high == sum(a is not False for a in answers)


@settings(max_examples=25, deadline=None)
@given(case=cases())
def test_a_mirrored_case_has_the_same_facts(case: Case) -> None:
    from recommender.domain.dentition import mirror

    here, there = derive(case), derive(mirror_case(case))
    for tooth in here.considered:
        for side in here.approaches(tooth):
            first, second = here.toward(tooth, side), there.toward(mirror(tooth), side)
            for layer in first.layers:
                for name, fact in layer.items():
                    if name == "derived.tooth_number":
                        continue
                    other = second.fact(name)
                    assert (fact.value, fact.possible) == (other.value, other.possible), (tooth, name)
                    assert fact.low == pytest.approx(other.low) if fact.low is not None else other.low is None


@settings(max_examples=25, deadline=None)
@given(case=cases(), data=st.data())
def test_deleting_a_field_only_ever_widens_facts(case: Case, data: st.DataObject) -> None:
    paths = [p for p in recorded_fields(case) if not p.endswith((".kind", ".set_teeth"))]
    if not paths:
        return
    path = data.draw(st.sampled_from(paths))
    thinner = without_field(case, path)
    before, after = derive(case), derive_again(thinner, derive(case), path)
    fresh = derive(thinner)
    for tooth in before.considered:
        for side in before.approaches(tooth):
            full, thin, anew = (f.toward(tooth, side) for f in (before, after, fresh))
            for layer in full.layers:
                for name, fact in layer.items():
                    less = thin.fact(name)
                    assert less == anew.fact(name), (name, path)
                    if less.value is not None:
                        assert less.value == fact.value, (name, path)
                    if less.low is not None:
                        assert fact.low is not None
                        assert less.low <= fact.low + 1e-12, (name, path)
                    if less.high is not None:
                        assert fact.high is not None
                        assert less.high >= fact.high - 1e-12, (name, path)


def test_a_rule_about_any_space_looks_at_every_tooth_of_it() -> None:
    """Clearance is recorded by tooth, and a space may begin with a canine and end with an incisor."""
    case = facts_of(
        arch="maxilla", missing=[13, 12], spans=[{"teeth": [13, 12], "clearance_mm": {13: 6.0, 12: 1.2}}]
    ).case
    for one in (case, mirror_case(case)):
        members = CaseFacts(one).case_scope.groups["span"]
        assert {str(member.fact("derived.missing_type").value) for member in members} == {"canine", "incisor"}
        assert min(float(str(member.fact("span.clearance_mm").value)) for member in members) == 1.2


@pytest.mark.parametrize(
    ("missing", "abutments", "sides"),
    [
        ([36, 37, 46, 47], [], (0, 2)),
        ([33, 34, 35, 36, 37, 46, 47], [], (0, 1)),
        ([33, 34, 35, 36, 37], [{"tooth": 43, "disease": "none", "mobility": 0, "preparable": True}], (1, 1)),
        ([35, 36, 37], [{"tooth": t, "disease": "periodontal"} for t in (33, 34)], (0, 1)),
        ([35, 36, 37], [{"tooth": t, "preparable": False, "rest_seats": []} for t in (33, 34)], (0, 1)),
    ],
)
def test_a_plate_finds_its_rests_on_canines_and_first_premolars(
    missing: list[int], abutments: list[dict[str, object]], sides: tuple[int, int]
) -> None:
    """Carr AB, Brown DT. McCracken's Removable Partial Prosthodontics, 12th ed., 2011, ch. 5 (from memory)."""
    scope = facts_of(arch="mandible", missing=missing, absent=[38, 48], abutments=abutments).case_scope
    found = scope.fact("derived.plate_rest_sides")
    assert (found.low, found.high) == sides


def test_the_side_with_fewer_teeth_and_what_stands_behind_the_canines() -> None:
    scope = facts_of(arch="maxilla", missing=[11, 12, 13, 14, 15, 16], absent=[18, 28]).case_scope
    assert scope.fact("derived.fewest_on_a_side").value == 1
    assert scope.fact("derived.remaining_posteriors").value == 5
