"""A recommendation as the JSON document of the result format, version 1 (``shared/schema/``)."""

from collections.abc import Mapping
from typing import Any

from recommender.advice.analysis import nothing_said
from recommender.advice.model import (
    BlockedBy,
    Contribution,
    DecisionResult,
    Framework,
    Gap,
    OptionResult,
    PreparationStep,
    Recommendation,
    Seat,
)
from recommender.documents.results.stated import listed, stated
from recommender.domain.case import Case
from recommender.domain.kennedy import Classification, classify
from recommender.domain.measures import Interval
from recommender.wording.words import Words

FORMAT = 1


def recommendation_document(words: Words, answer: Recommendation, top: int | None = None) -> dict[str, Any]:
    """The whole answer; ``top`` keeps only the first options of each decision (all when ``None``)."""
    return {
        "format": FORMAT,
        "case": answer.case.id,
        "kennedy": kennedy_document(words, answer.kennedy),
        "provisional": answer.provisional,
        "facts": {tooth: dict(facts) for tooth, facts in answer.facts.items()},
        "connector": decision_document(words, answer.connector, top),
        "retainers": _by_tooth(words, answer.retainers, top),
        "replacements": _by_tooth(words, answer.replacements, top),
        "rests": _by_tooth(words, answer.rests, top),
        "indirect_retainers": [seat_document(words, seat) for seat in answer.indirect_retainers],
        "frameworks": [framework_document(words, framework) for framework in answer.frameworks],
        "no_framework": {
            **listed(words, "reasons", answer.no_framework.reasons),
            **listed(words, "ways_out", answer.no_framework.ways_out),
        }
        if answer.no_framework
        else None,
        "preparation": [step_document(step) for step in answer.preparation],
        **listed(words, "cautions", answer.cautions),
        "not_recorded": [gap_document(gap) for gap in answer.not_recorded],
    }


def kennedy_document(words: Words, found: Classification) -> dict[str, Any]:
    """The class, and which of Applegate's rules decided what."""
    return {
        "class": found.number,
        "modifications": found.modifications,
        "label": found.label,
        "steps": [
            {"rule": step.rule, **stated(words, step.statement), "teeth": [str(t) for t in step.teeth]}
            for step in found.steps
        ],
    }


def nothing_to_advise(words: Words, case: Case) -> dict[str, Any]:
    """The answer for an arch without a Kennedy class: no advice, the words for it, and what to ask."""
    found = classify(case)
    return {
        "format": FORMAT,
        "case": case.id,
        "kennedy": kennedy_document(words, found),
        "provisional": bool(found.questions),
        "facts": {},
        "connector": {"precedent_weight": 0.0, "ranked": []},
        **{kind: {} for kind in ("retainers", "replacements", "rests")},
        **{kind: [] for kind in ("indirect_retainers", "frameworks", "preparation")},
        "no_framework": None,
        **listed(
            words, "cautions", [nothing_said(case), *(question.statement for question in found.questions)]
        ),
        "not_recorded": [],
    }


def _by_tooth(words: Words, results: Mapping[int, DecisionResult], top: int | None) -> dict[str, Any]:
    return {str(tooth): decision_document(words, result, top) for tooth, result in results.items()}


def decision_document(words: Words, result: DecisionResult, top: int | None = None) -> dict[str, Any]:
    """One decision: the weight of its precedents and every option, ranked."""
    document: dict[str, Any] = {"precedent_weight": result.precedent_weight}
    if result.given is not None:
        document["given"] = result.given
    document["ranked"] = [option_document(words, option) for option in result.ranked[:top]]
    return document


def option_document(words: Words, option: OptionResult) -> dict[str, Any]:
    """One option with the lines of its score, its blocks and what would remove them."""
    return {
        "option": option.option,
        "status": option.status,
        "score": option.score,
        "range": [option.low, option.high],
        "rank": option.rank,
        "approach": option.approach,
        "provisional": option.provisional,
        "unverified": list(option.unverified),
        "blend": {
            "rules": option.rules_score,
            "precedents": option.precedents_score,
            "precedent_weight": option.precedent_weight,
        },
        "contributions": [contribution_document(words, line) for line in option.contributions],
        "blocked_by": [block_document(words, block) for block in option.blocked_by],
        "unlocked_by": [_place(step) for step in option.unlocked_by],
        "preparation": [step_document(step) for step in option.preparation],
        "facts": {name: _plain(value) for name, value in option.facts.items()},
        **listed(words, "steps", option.steps),
        **listed(words, "cautions", option.cautions),
    }


def contribution_document(words: Words, line: Contribution) -> dict[str, Any]:
    """One line of a score; keys that say nothing for its kind are left out."""
    document: dict[str, Any] = {"kind": line.kind, "id": line.id}
    if line.criterion is not None:
        document["criterion"] = line.criterion
    if line.similarity is not None:
        document["similarity"] = line.similarity
    document |= {"points": line.points, **stated(words, line.statement)}
    if line.source is not None:
        document["source"] = line.source
    if line.kind in ("rule", "house"):
        document["because"] = {
            path: {"value": _plain(cited.value), "without_this": cited.without_this}
            for path, cited in line.because.items()
        }
        document["given"] = {name: _plain(value) for name, value in line.given.items()}
    return document


def block_document(words: Words, block: BlockedBy) -> dict[str, Any]:
    """A block. A safety block shows no price: nothing that would remove it."""
    document: dict[str, Any] = {
        "id": block.id,
        "kind": block.kind,
        **stated(words, block.statement),
        "source": block.source,
    }
    if block.kind != "safety" and block.unlocked_by:
        document["unlocked_by"] = [_place(step) for step in block.unlocked_by]
    return document


def _place(step: PreparationStep) -> dict[str, Any]:
    return {
        "tooth": str(step.tooth), "surface": step.surface, "action": step.action, "permitted": step.permitted
    }  # fmt: skip


def step_document(step: PreparationStep) -> dict[str, Any]:
    """A preparation with what it unlocks."""
    return _place(step) | {"routine": step.routine, "unlocks": list(step.unlocks)}


def seat_document(words: Words, seat: Seat) -> dict[str, Any]:
    """A seat for an indirect retainer."""
    return {
        "tooth": str(seat.tooth), "rest": seat.rest, "lever_mm": seat.lever_mm, "score": seat.score,
        "provisional": seat.provisional, **listed(words, "reasons", seat.reasons),
    }  # fmt: skip


def gap_document(gap: Gap) -> dict[str, Any]:
    """An unrecorded field and the decisions that it could change."""
    found: dict[str, Any] = {"field": gap.field, "would_change": list(gap.would_change)}
    return {**found, "asked": True} if gap.asked else found


def framework_document(words: Words, framework: Framework) -> dict[str, Any]:
    """A whole framework, its design in the form of the case format."""
    return {
        "score": framework.score,
        "provisional": framework.provisional,
        "connector": framework.connector,
        "retainers": _keys(framework.retainers),
        "replacements": _keys(framework.replacements),
        "rests": _keys(framework.rests),
        "indirect_retainers": [seat_document(words, seat) for seat in framework.indirect_retainers],
        "preparation": [step_document(step) for step in framework.preparation],
        "checks": [
            {
                "id": check.id,
                "outcome": check.outcome,
                **stated(words, check.statement),
                "source": check.source,
            }
            for check in framework.checks
        ],
        "metal_on_show": framework.metal_on_show,
        **listed(words, "cautions", framework.cautions),
        **listed(words, "gives_up", framework.gives_up),
        "terms": dict(framework.terms),
        **listed(words, "steps", framework.steps),
        "departures": [
            {"decision": one.decision, "instead_of": one.instead_of, **stated(words, one.statement)}
            for one in framework.departures
        ],
        **listed(words, "drawn_in", framework.drawn_in),
        "design": framework.design.model_dump(mode="json", exclude_none=True),
    }


def _keys(parts: Mapping[int, str]) -> dict[str, str]:
    return {str(tooth): part for tooth, part in parts.items()}


def _plain(value: object) -> object:
    if isinstance(value, Interval):
        return value.model_dump()
    if isinstance(value, (frozenset, set)):
        return sorted(value)
    if isinstance(value, tuple):
        return list(value)
    return value
