"""Explanations: lines, the paths behind them in the concept graph, precedents, and the document's schema."""

import json
from math import fsum

import jsonschema
import orjson
import pytest

from recommender.advice.explanation.explain import explain, line_key
from recommender.advice.explanation.paths import path_of
from recommender.advice.model import Decision
from recommender.advice.recommend import Recommender
from recommender.documents.results.explanation import explanation_document
from recommender.domain.case import Case
from recommender.domain.fields import without_field
from recommender.domain.reader import read_case
from recommender.knowledge.graph import concept_graph
from recommender.resources import demo_library, shared
from recommender.wording.words import Words


def demo(name: str = "harbour-0012") -> Case:
    return read_case(demo_library() / f"{name}.yaml")


def validator(verb: str, part: str) -> jsonschema.Draft202012Validator:
    schema = json.loads(shared("schema", f"{verb}.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator({**schema, "anyOf": [{"$ref": f"#/$defs/{part}"}]})


def test_every_sentence_has_a_path_whose_steps_are_edges_of_the_graph(with_demo: Recommender) -> None:
    analysis = with_demo.work(demo())
    graph = concept_graph(with_demo.engine.knowledge)
    seen = 0
    for decision in analysis.decisions():
        for option in analysis.decide(decision).ranked[:3]:
            found = explain(analysis, decision, option.option, changes=False)
            for line in found.lines:
                path = found.paths.get(line_key(line))
                if line.kind not in ("start", "rule"):
                    assert path is None
                    continue
                assert path is not None
                assert all(node in graph for node in path.nodes)
                assert path.sources
                if line.kind == "rule":
                    rule, here = ("rule", path.rule), ("option", path.option)
                    assert graph.has_edge(rule, here, key=path.effect)
                    assert graph.has_edge(rule, ("condition", path.condition), key="fires_when")
                    assert graph.has_edge(rule, ("criterion", path.criterion), key="on_criterion")
                    assert all(graph.has_edge(rule, ("source", s), key="cites") for s in path.sources)
                    assert path.criterion == line.criterion
                    seen += 1
    assert seen > 100


def test_a_path_that_the_graph_does_not_hold_is_refused(rules_alone: Recommender) -> None:
    base = rules_alone.engine.knowledge
    rule = next(r for r in base.rules if r.decision == "retainer" and r.options == ("i_bar",))
    assert path_of(base, "retainer", "i_bar", rule.id).rule == rule.id
    with pytest.raises(KeyError):
        path_of(base, "retainer", "circumferential", rule.id)


def test_the_leader_is_explained_by_default(with_demo: Recommender) -> None:
    analysis = with_demo.work(demo())
    decision = Decision("retainer", 44)
    found = explain(analysis, decision)
    assert found.option.option == found.leader == analysis.leader(decision)
    assert found.contrast is None
    assert abs(fsum(line.points for line in found.lines) - found.option.score) < 1e-9
    sizes = [abs(line.points) for line in found.lines]
    assert sizes == sorted(sizes, reverse=True)
    document = explanation_document(Words(), analysis.case.id, found)
    validator("explain", "explanation").validate(orjson.loads(orjson.dumps(document)))


def test_cited_facts_carry_the_score_without_them(with_demo: Recommender) -> None:
    case = demo()
    decision = Decision("connector")
    found = explain(with_demo.work(case), decision, changes=False)
    cited = [(path, c.without_this) for line in found.lines for path, c in line.because.items()]
    assert cited
    for path, claimed in cited[:6]:
        again = Recommender(with_demo.engine.library).work(without_field(case, path)).decide(decision)
        assert again.option(found.option.option).score == claimed


def test_why_not_says_what_blocks_and_what_unlocks(with_demo: Recommender) -> None:
    analysis = with_demo.work(demo("harbour-0050"))
    found = explain(analysis, Decision("retainer", 44), why_not="reverse_circumferential")
    assert found.contrast is not None
    assert found.other is not None
    assert found.contrast.settled_by_status
    assert abs(found.contrast.points - (found.option.score - found.other.score)) < 1e-9
    assert all(f"block/{block.id}" in found.other_paths for block in found.other.blocked_by)
    assert found.changes is not None
    assert any(plan.option == "reverse_circumferential" and plan.reached for plan in found.changes.plans)
    document = explanation_document(Words(), analysis.case.id, found)
    validator("explain", "explanation").validate(orjson.loads(orjson.dumps(document)))
    assert (
        document["contrast"]["blocked_by"][0]["path"]["rule"] == document["contrast"]["blocked_by"][0]["id"]
    )


def test_precedents_say_what_the_score_holds(with_demo: Recommender) -> None:
    analysis = with_demo.work(demo())
    decision = Decision("retainer", 35)
    found = explain(analysis, decision, changes=False)
    lines = [line.points for line in found.lines if line.kind == "precedent"]
    assert lines
    assert fsum(one.points for one in found.precedents) == pytest.approx(fsum(lines), abs=1e-12)
    assert len(found.precedents) == len(lines)


def test_rules_alone_explain_too(rules_alone: Recommender) -> None:
    analysis = rules_alone.work(demo())
    found = explain(analysis, Decision("rest", 44))
    assert found.given == analysis.leader(Decision("retainer", 44))
    assert found.precedents == ()
    validator("explain", "explanation").validate(
        orjson.loads(orjson.dumps(explanation_document(Words(), analysis.case.id, found)))
    )


def test_unknown_options_are_key_errors(rules_alone: Recommender) -> None:
    analysis = rules_alone.work(demo())
    with pytest.raises(KeyError):
        explain(analysis, Decision("connector"), "palatal_strap", changes=False)
    with pytest.raises(KeyError):
        explain(analysis, Decision("connector"), why_not="i_bar", changes=False)
