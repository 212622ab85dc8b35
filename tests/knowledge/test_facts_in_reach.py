"""Every fact that a packaged rule reads is one that the facts room works out where the rule is evaluated."""

from recommender.domain.case import Case
from recommender.domain.reader import read_text
from recommender.facts import option as options
from recommender.facts.derive import derive
from recommender.knowledge.in_force import knowledge

INVENTED = {
    "maxilla": "{format: 1, id: invented-upper, arch: maxilla, missing: [15, 16, 24], absent: [18, 28],"
    " abutments: [" + ", ".join(f"{{tooth: {tooth}, rest_seats: []}}" for tooth in (14, 17, 23, 25)) + "]}",
    "mandible": "{format: 1, id: invented-lower, arch: mandible, missing: [35, 36, 37, 46], absent: [38, 48],"
    " prescription: {connector: lingual_bar}}",
}


def names_by_decision(case: Case) -> dict[str, set[str]]:
    """Names of the facts in the layers that each decision's rules are evaluated over."""
    facts = derive(case)
    catalogue = knowledge().catalogue.options
    everywhere = {name for layer in facts.case_scope.layers for name in layer}
    found = {kind: set(everywhere) for kind in ("case", "connector", "replacement", "retainer", "rest")}
    for option in catalogue["connector"].values():
        if case.arch in option.arches:
            found["connector"].update(options.connector_layer(facts, option))
    for tooth in case.missing:
        found["replacement"].update(name for layer in facts.space(tooth).layers for name in layer)
        for option in catalogue["replacement"].values():
            found["replacement"].update(options.replacement_layer(facts, tooth, option))
    for tooth in facts.considered:
        for side in facts.approaches(tooth):
            here = {name for layer in facts.toward(tooth, side).layers for name in layer}
            found["retainer"] |= here
            found["rest"] |= here
            for option in catalogue["retainer"].values():
                found["retainer"].update(options.retainer_layer(facts, tooth, side, option))
            for option in catalogue["rest"].values():
                found["rest"].update(options.rest_layer(facts, tooth, side, option, "circumferential"))
    members = {"abutment": "tooth", "standing": "tooth", "span": "space"}
    for group in members:
        for scope in facts.case_scope.groups[group]:
            found.setdefault(group, set()).update(name for layer in scope.layers for name in layer)
    return found


def unreachable(names: dict[str, set[str]]) -> set[tuple[str, str]]:
    """(rule, fact) for each fact that a rule reads in its own scope and that is in no layer there."""
    found = set()
    for rule in knowledge().rules:
        if rule.stage != "framework" and rule.decision in names:
            found |= {(rule.id, fact) for fact in rule.when.own_facts - names[rule.decision]}
            for atom in rule.when.atoms:
                if atom.inner is not None:
                    found |= {(rule.id, fact) for fact in set(atom.facts) - names.get(atom.group, set())}
    return found


def test_no_rule_waits_for_a_fact_that_is_never_worked_out() -> None:
    upper, lower = (names_by_decision(read_text(text, arch)) for arch, text in INVENTED.items())
    together = {kind: upper[kind] | lower[kind] for kind in upper}
    # what the dentist asked for is a fact only where something was prescribed
    for names in together.values():
        names.add("option.prescribed")
    assert unreachable(together) == set()


def test_the_search_notices_facts_that_are_not_worked_out() -> None:
    assert len(unreachable({"retainer": set()})) > 100
