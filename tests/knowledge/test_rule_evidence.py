"""Rules applied to the options of a decision: the quick way against evaluating every rule anew."""

from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.facts.values import Fact, Scope, between, known
from recommender.knowledge.evidence import Layer, RuleSet, evaluate
from recommender.knowledge.in_force import knowledge
from recommender.knowledge.model import Rule

from .small import small


def naive(rules: tuple[Rule, ...], base: Scope, option: str, layer: Layer) -> tuple[list[str], list[str]]:
    fired, undecided = [], []
    for rule in rules:
        if rule.options and option not in rule.options:
            continue
        truth = rule.when.evaluate(base.extended(layer))
        if truth is True:
            fired.append(rule.id)
        if truth is None:
            undecided.append(rule.id)
    return fired, undecided


SMALL = small()
OPTIONS = tuple(SMALL.catalogue.options["retainer"])
depths = st.sampled_from(
    [Fact(), known(0.0), known(0.25), known(0.5), between(0.25, None), between(0.0, 0.3)]
)
flags = st.sampled_from([Fact(), known(True), known(False)])
layers = st.fixed_dictionaries(
    {},
    optional={
        "arm.engaged_mm": depths,
        "arm.least_mm": depths,
        "derived.mid_facial_mm": depths,  # an option's layer may stand over a fact of the tooth
    },
)
bases = st.fixed_dictionaries(
    {},
    optional={
        "derived.mid_facial_mm": depths,
        "abutment.tissue_undercut": flags,
        "derived.near_rest_seat": flags,
        "abutment.mobility": st.sampled_from([Fact(), known(0), known(3)]),
        "patient.hygiene": st.sampled_from([Fact(), known("poor"), known("good")]),
        "patient.caries_risk": st.sampled_from([Fact(), known("high"), known("low")]),
    },
)


@settings(max_examples=150, deadline=None)
@given(bases, bases, st.dictionaries(st.sampled_from(OPTIONS), layers), st.lists(bases, max_size=3))
def test_sharing_changes_no_outcome(
    lower: Layer, upper: Layer, options: dict[str, Layer], group: list[Layer]
) -> None:
    base = Scope((lower, upper), {"abutment": [Scope((member,)) for member in group]})
    rules = RuleSet.for_decision("retainer", SMALL)
    found = rules.evaluate(base, options)
    assert list(found) == list(options)
    for option, layer in options.items():
        ids = ([r.id for r in found[option].fired], [r.id for r in found[option].undecided])
        assert ids == naive(rules.rules, base, option, layer)


def test_a_rule_reaches_only_the_options_that_it_names() -> None:
    base = Scope(({"derived.tooth_type": known("molar"), "abutment.mobility": known(3)},))
    found = RuleSet.for_decision("retainer", SMALL).evaluate(base, {"ring": {}, "i_bar": {}})
    assert [rule.id for rule in found["ring"].fired] == ["ring_on_molars", "loose_tooth"]
    assert [rule.id for rule in found["i_bar"].fired] == ["loose_tooth"]


def test_what_was_prepared_is_reused_and_right() -> None:
    ready = RuleSet.for_decision("retainer", SMALL).prepare(Scope(({"abutment.mobility": known(3)},)))
    first = ready.evaluate({"ring": {}})
    assert ready.evaluate({"ring": {}}) == first
    least = {"arm.least_mm": known(0.25)}
    deep = ready.evaluate({"i_bar": {"arm.engaged_mm": known(0.5), **least}})["i_bar"]
    shallow = ready.evaluate({"i_bar": {"arm.engaged_mm": known(0.1), **least}})["i_bar"]
    assert "grip" not in {rule.id for rule in deep.fired}
    assert "grip" in {rule.id for rule in shallow.fired}


def test_one_scope_for_all_rules() -> None:
    outcome = evaluate(SMALL.rules, Scope(({"patient.hygiene": known("poor")},)))
    assert {rule.id for rule in outcome.fired} == {"ring_covers", "open_is_clean"}
    assert "bar_needs_room" in {rule.id for rule in outcome.undecided}


def test_decisions_take_their_own_rules() -> None:
    packaged = knowledge()
    for kind in ("retainer", "rest", "connector", "replacement", "framework", "case"):
        rules = RuleSet.for_decision(kind).rules
        assert rules == tuple(
            rule
            for rule in packaged.rules
            if rule.decision == kind and (kind == "framework" or rule.stage != "framework")
        )
