"""Measured numbers known within bounds: what follows from them contains what follows from every number inside."""

from collections.abc import Iterator

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchmarks.mirrored import mirror_case
from recommender.domain.case import Case
from recommender.domain.fields import get_field, recorded_fields, split, with_field, without_field
from recommender.domain.measures import Interval
from recommender.domain.shape import declared
from recommender.facts.derive import CaseFacts, derive
from recommender.facts.option import connector_layer, replacement_layer, retainer_layer
from recommender.facts.values import Fact
from recommender.knowledge.comparisons import run_number, run_recorded
from recommender.knowledge.in_force import knowledge
from tests.advice.strategies import blurred, cases, interval_shape, measured_fields

MODEST = settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)


def all_facts(facts: CaseFacts) -> Iterator[tuple[str, Fact]]:
    """Every fact of every scope, options included."""
    catalogue = knowledge().catalogue.options
    for name, fact in facts.case_layer.items():
        yield name, fact
    for tooth in facts.considered:
        for side in facts.approaches(tooth):
            for layer in facts.toward(tooth, side).layers[1:]:
                yield from ((f"{tooth} {side} {name}", fact) for name, fact in layer.items())
            for option in catalogue["retainer"].values():
                layer = retainer_layer(facts, tooth, side, option)
                yield from ((f"{tooth} {side} {option.id} {name}", fact) for name, fact in layer.items())
    for space in facts.spaces:
        for tooth in space.teeth:
            for name, fact in facts.space(tooth).layers[-1].items():
                yield f"{tooth} {name}", fact
            for option in catalogue["replacement"].values():
                layer = replacement_layer(facts, tooth, option)
                yield from ((f"{tooth} {option.id} {name}", fact) for name, fact in layer.items())
    for option in catalogue["connector"].values():
        if facts.case.arch in option.arches:
            layer = connector_layer(facts, option)
            yield from ((f"{option.id} {name}", fact) for name, fact in layer.items())


def contains(wide: Fact, narrow: Fact) -> bool:
    """Whether everything that the narrow fact may be is something that the wide one may be."""
    if wide.value is not None and not isinstance(wide.value, (int, float)):
        return narrow.value == wide.value
    if wide.possible is not None:
        return (
            narrow.possible is not None and narrow.possible <= wide.possible
        ) or narrow.value in wide.possible
    if wide.low is not None and (narrow.low is None or narrow.low < wide.low - 1e-9):
        return False
    return not (wide.high is not None and (narrow.high is None or narrow.high > wide.high + 1e-9))


@MODEST
@given(case=cases(), seed=st.integers(0, 10**6))
def test_bounds_contain_the_answer_for_every_number_inside(case: Case, seed: int) -> None:
    wide, within, _ = blurred(case, seed)
    narrow = dict(all_facts(derive(within)))
    for name, fact in all_facts(derive(wide)):
        assert contains(fact, narrow[name]), (name, fact, narrow[name])


@MODEST
@given(case=cases(), seed=st.integers(0, 10**6))
def test_deleting_an_interval_only_widens(case: Case, seed: int) -> None:
    wide, _, changed = blurred(case, seed)
    facts = dict(all_facts(derive(wide)))
    for path in changed[:3]:
        for name, fact in all_facts(derive(without_field(wide, path))):
            assert contains(fact, facts[name]), (path, name, fact, facts[name])


@MODEST
@given(case=cases())
def test_a_point_interval_equals_the_number(case: Case) -> None:
    pointed = case
    for path in measured_fields(case):
        shape, now = interval_shape(declared(split(path))), float(get_field(case, path))
        assert shape is not None
        assert shape.model is not None
        pointed = with_field(pointed, path, shape.model(low=now, value=now, high=now))
    assert dict(all_facts(derive(pointed))) == dict(all_facts(derive(case)))


@MODEST
@given(case=cases(), seed=st.integers(0, 10**6))
def test_mirror_images_of_intervals(case: Case, seed: int) -> None:
    wide, _, changed = blurred(case, seed)
    assert mirror_case(mirror_case(wide)) == wide
    assert sum(
        isinstance(get_field(mirror_case(wide), p), Interval) for p in recorded_fields(mirror_case(wide))
    ) == len(changed)


def test_a_straddling_interval_decides_nothing() -> None:
    """The contract: wholly below a gauge is too shallow, wholly above it holds, one that straddles is open."""
    raw = {"format": 1, "id": "made-1", "arch": "mandible", "missing": [36]}
    for low, high, holds in ((0.1, 0.2, False), (0.25, 0.3, True), (0.2, 0.3, None)):
        depth = {"low": low, "value": (low + high) / 2, "high": high}
        case = Case.model_validate(
            {**raw, "abutments": [{"tooth": 35, "undercuts_mm": {"mesiofacial": depth}}]}
        )
        scope = derive(case).toward(35, "distal")
        assert run_number("derived.far_facial_mm", ">=", 0.25)(scope.fact, scope.groups) is holds
        assert run_number("derived.far_facial_mm", "<", 0.25)(scope.fact, scope.groups) is (
            None if holds is None else not holds
        )
        assert run_recorded("derived.far_facial_mm", True)(scope.fact, scope.groups) is True
        if holds is None:
            assert scope.fact("derived.far_facial_mm").gaps == ("abutments[35].undercuts_mm.mesiofacial",)
