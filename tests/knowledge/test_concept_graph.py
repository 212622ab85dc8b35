"""The concept graph, and its answers against brute force over the rules and plain networkx calls."""

import networkx as nx
import pytest

from recommender.facts.values import Fact, Scope, known
from recommender.knowledge import queries
from recommender.knowledge.evidence import evaluate
from recommender.knowledge.graph import citations, concept_graph, option_node
from recommender.knowledge.in_force import knowledge
from recommender.knowledge.model import Knowledge

from .small import CITED, build, entry, small

KNOWLEDGE = [pytest.param(small, id="small"), pytest.param(knowledge, id="packaged")]


def every_option(base: Knowledge) -> list[tuple[str, str]]:
    return [(decision, name) for decision, known in base.catalogue.options.items() for name in known]


@pytest.mark.parametrize("source", KNOWLEDGE)
def test_every_concept_is_there_with_its_kind(source: object) -> None:
    base: Knowledge = source()  # type: ignore[operator]
    graph = concept_graph(base)
    assert all(
        about["kind"] == node[0] and about["name"] == node[1] for node, about in graph.nodes(data=True)
    )
    by_kind = {
        kind: set(queries.concepts(graph, kind)) for kind in ("rule", "fact", "family", "option", "criterion")
    }
    assert by_kind["rule"] == {rule.id for rule in base.rules}
    assert by_kind["fact"] == set(base.registry.facts)
    assert by_kind["family"] == set(base.catalogue.families)
    assert by_kind["option"] == {f"{decision}/{name}" for decision, name in every_option(base)}
    assert by_kind["criterion"] == set(base.criteria.labels)
    assert set(queries.concepts(graph, "atom")) == {
        atom.text for rule in base.rules for atom in rule.when.atoms
    } | {atom.text for shift in base.criteria.shifts for atom in shift.when.atoms}
    assert graph is concept_graph(base)


@pytest.mark.parametrize("source", KNOWLEDGE)
def test_why_and_why_not_are_the_rules_that_speak_of_the_option(source: object) -> None:
    base: Knowledge = source()  # type: ignore[operator]
    graph = concept_graph(base)
    for decision, name in every_option(base):
        node = option_node(decision, name)
        mine = [rule for rule in base.by_decision.get(decision, ()) if rule.speaks_of(name)]
        # a framework rule may name an option of another decision
        mine += [r for r in base.rules if r.decision not in base.catalogue.options and name in r.options]
        assert {line.id for line in queries.why(graph, node)} == {r.id for r in mine if r.effect == "favours"}
        against = {r.id for r in mine if r.effect in ("discourages", "blocks")}
        assert {line.id for line in queries.why_not(graph, node)} == against
        unlocking = {r.id: {(t.action, t.surface) for t in r.unlocked_by} for r in mine if r.unlocked_by}
        assert {u.rule.id: set(u.preparations) for u in queries.what_unlocks(graph, node)} == unlocking


@pytest.mark.parametrize("source", KNOWLEDGE)
def test_facts_that_can_change_an_option_are_those_its_rules_read(source: object) -> None:
    base: Knowledge = source()  # type: ignore[operator]
    graph = concept_graph(base)
    for decision, name in every_option(base):
        node = option_node(decision, name)
        mine = [rule for rule in base.by_decision.get(decision, ()) if rule.speaks_of(name)]
        mine += [r for r in base.rules if r.decision not in base.catalogue.options and name in r.options]
        expected = {fact for rule in mine for fact in rule.when.facts}
        assert set(queries.facts_that_can_change(graph, node, through_weights=False)) == expected
        weighed = set(base.criteria.base.get(decision, {}))
        shifting = {f for s in base.criteria.shifts if s.criterion in weighed for f in s.when.facts}
        found = queries.facts_that_can_change(graph, node)
        assert set(found) == expected | shifting
        # and the same by plain reachability in networkx
        reached = {each[1] for each in nx.ancestors(queries.influence(graph), node) if each[0] == "fact"}
        assert reached == set(found)


@pytest.mark.parametrize("source", KNOWLEDGE)
def test_rules_by_fact_and_by_source(source: object) -> None:
    base: Knowledge = source()  # type: ignore[operator]
    graph = concept_graph(base)
    for fact in sorted({fact for rule in base.rules for fact in rule.when.facts})[::7]:
        assert queries.rules_reading(graph, fact) == tuple(
            sorted(r.id for r in base.rules if fact in r.when.facts)
        )
    for cited in queries.sources_like(graph, ""):
        resting = {rule.id for rule in base.rules if cited in citations(rule.source)}
        assert set(queries.rules_resting_on(graph, cited)) == resting
    assert queries.rules_resting_on(graph, "no such source") == ()


def test_a_source_line_is_parted_into_its_sources() -> None:
    graph = concept_graph(small())
    assert queries.rules_resting_on(graph, "Book B, chapter 2") == ("open_is_clean",)
    assert "open_is_clean" in queries.rules_resting_on(graph, CITED)
    assert queries.sources_like(graph, "book b") == ("Book B, chapter 2",)


@pytest.mark.parametrize("source", KNOWLEDGE)
def test_the_way_from_a_fact_to_an_option_is_a_shortest_one(source: object) -> None:
    base: Knowledge = source()  # type: ignore[operator]
    graph = concept_graph(base)
    ways = queries.influence(graph)
    for decision, name in every_option(base)[::5]:
        node = option_node(decision, name)
        lengths = dict(nx.single_target_shortest_path_length(ways, node))
        for fact in sorted(base.registry.facts)[::11]:
            path = queries.path_between(graph, fact, node)
            if ("fact", fact) not in lengths:
                assert path == ()
                continue
            assert len(path) == lengths["fact", fact] + 1
            assert path[0] == ("fact", fact)
            assert path[-1] == node
            assert nx.is_path(ways, list(path))


def test_a_path_through_a_group() -> None:
    path = queries.path_between(concept_graph(small()), "abutment.mobility", ("option", "retainer/rest_only"))
    assert [kind for kind, _ in path] == ["fact", "atom", "condition", "rule", "option"]
    only_group = build(entry("loose", "count_abutments(abutment.mobility >= 2) >= 2", options=["ring"]))
    path = queries.path_between(concept_graph(only_group), "abutment.mobility", ("option", "retainer/ring"))
    assert [name for _, name in path] == [
        "abutment.mobility",
        "abutment.mobility >= 2",
        "count_abutments(abutment.mobility >= 2) >= 2",
        "count_abutments(abutment.mobility >= 2) >= 2",
        "loose",
        "retainer/ring",
    ]


@pytest.mark.parametrize("source", KNOWLEDGE)
def test_families_and_relations_follow_is_a(source: object) -> None:
    base: Knowledge = source()  # type: ignore[operator]
    graph = concept_graph(base)
    is_a = nx.DiGraph((a, b) for a, b, says in graph.edges(keys=True) if says == "is_a")
    for decision, name in every_option(base):
        node = option_node(decision, name)
        mine = nx.descendants(is_a, node) if node in is_a else set()
        assert {("family", family) for family in queries.families_of(graph, node)} == mine
        for other, share, family in queries.related(graph, node):
            theirs = nx.descendants(is_a, option_node(decision, other))
            assert ("family", family) in mine & theirs
            assert share == max(base.catalogue.families[each].share for _, each in mine & theirs)
    assert nx.is_directed_acyclic_graph(is_a)


def test_relation_in_the_small_base() -> None:
    graph = concept_graph(small())
    assert queries.related(graph, ("option", "retainer/i_bar")) == (
        ("t_bar", 0.5, "infrabulge"),
        ("ring", 0.1, "holds"),
    )


def test_a_fact_that_cannot_change_a_decision_changes_no_rule_of_it() -> None:
    """What the graph says of a fact is true of the rules: a fact it does not name moves none of them."""
    base = small()
    graph = concept_graph(base)
    named = queries.facts_that_can_change(graph, ("decision", "retainer"))
    facts: dict[str, Fact] = {"patient.hygiene": known("poor"), "abutment.mobility": known(3)}
    rules = base.by_decision["retainer"]
    before = evaluate(rules, Scope((facts,)))
    for name in ("patient.sex", "occlusion.load", "derived.kennedy"):
        assert name not in named
        assert evaluate(rules, Scope((facts, {name: known("x")}))) == before
    assert "patient.hygiene" in named
    assert evaluate(rules, Scope((facts, {"patient.hygiene": known("good")}))) != before


def test_options_are_found_by_either_name() -> None:
    graph = concept_graph(small())
    assert queries.options_named(graph, "ring") == [("option", "retainer/ring")]
    assert queries.options_named(graph, "retainer/ring") == [("option", "retainer/ring")]
    assert queries.options_named(graph, "ring", "connector") == []
