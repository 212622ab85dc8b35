"""An explanation as the JSON document of the ``explain`` verb (``shared/schema/explain.schema.json``)."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from recommender.advice.explanation.confidence import Grading
from recommender.advice.explanation.contrast import (
    Contrast,
    Difference,
    FrameworkContrast,
    FrameworkDifference,
    decision_of,
)
from recommender.advice.explanation.explain import Explanation, Neighbouring, line_key
from recommender.advice.explanation.paths import SentencePath
from recommender.documents.results.changes import changes_document
from recommender.documents.results.recommendation import (
    block_document,
    contribution_document,
    option_document,
)
from recommender.documents.results.stated import listed, stated
from recommender.precedents.outcome_value import verdict
from recommender.wording.words import Words


def explanation_document(words: Words, case_id: str, found: Explanation) -> dict[str, Any]:
    """The whole explanation; nothing is rounded."""
    option = option_document(words, found.option)
    del option["contributions"]
    option["blocked_by"] = [
        block_document(words, block) | _path(found.paths, f"block/{block.id}")
        for block in found.option.blocked_by
    ]
    return {
        "format": 1,
        "case": case_id,
        "for": found.decision.key,
        "given": found.given,
        "leader": found.leader,
        "option": option,
        "reasons": [
            contribution_document(words, line) | _path(found.paths, line_key(line)) for line in found.lines
        ],
        "precedents": {
            "for": [_said(words, one) for one in found.precedents if one.points > 0],
            "against": [_said(words, one) for one in found.precedents if one.points < 0],
        },
        "contrast": None if found.contrast is None else _contrast(words, found, found.contrast),
        "sure": sure_document(words, found.sure),
        "changes": None if found.changes is None else changes_document(found.changes),
    }


def sure_document(words: Words, sure: Grading) -> dict[str, Any]:
    """How sure, as JSON values."""
    document = {field.name: getattr(sure, field.name) for field in fields(sure)}
    return document | listed(words, "reasons", sure.reasons) | listed(words, "words", sure.words)


def _said(words: Words, one: Neighbouring) -> dict[str, Any]:
    return {
        "case": one.case_id, "site": str(one.site) if one.site else None, "choice": one.choice,
        "similarity": one.similarity, "worth": one.worth, "fared": words.text(verdict(one.verdict)),
        "points": one.points,
    }  # fmt: skip


def _contrast(words: Words, found: Explanation, difference: Contrast) -> dict[str, Any]:
    second = difference.second
    return {
        "with": second.option,
        "status": second.status,
        "score": second.score,
        "points": difference.points,
        "settled_by_status": difference.settled_by_status,
        "lines": [_line(words, found, line) for line in difference.lines],
        "blocked_by": [
            block_document(words, block) | _path(found.other_paths, f"block/{block.id}")
            for block in second.blocked_by
        ],
    }


def _line(words: Words, found: Explanation, line: Difference) -> dict[str, Any]:
    key = f"{line.kind}/{line.criterion if line.kind == 'start' else line.id}"
    here = _path(found.paths, key)
    there = _path(found.other_paths, key)
    document: dict[str, Any] = {
        "kind": line.kind, "id": line.id, "criterion": line.criterion, **stated(words, line.statement),
        "source": line.source, "first": line.first, "second": line.second, "points": line.points,
    }  # fmt: skip
    return document | (here or there)


def _path(paths: Mapping[str, SentencePath], key: str) -> dict[str, Any]:
    path = paths.get(key)
    if path is None:
        return {}
    return {
        "path": {
            "facts": [{"name": name, "label": label} for name, label in path.facts],
            "condition": path.condition,
            "rule": path.rule,
            "effect": path.effect,
            "criterion": path.criterion,
            "option": path.option,
            "sources": list(path.sources),
        }
    }


def _place(words: Words, line: FrameworkDifference) -> str:
    """Where two frameworks differ, in words."""
    decision = decision_of(line.place)
    if decision is not None:
        return words.choice(decision)
    return line.place.replace("_", " ")


def _part(words: Words, line: FrameworkDifference, part: str | None) -> str:
    decision = decision_of(line.place)
    return words.option(decision.kind if decision is not None else "", part)


def framework_contrast_document(words: Words, found: FrameworkContrast) -> dict[str, Any]:
    """The contrast of two frameworks as JSON values."""
    return {
        "points": found.points,
        "lines": [
            {
                "place": line.place, "place_words": _place(words, line), "took": line.took, "instead": line.instead,
                "took_words": _part(words, line, line.took), "instead_words": _part(words, line, line.instead),
                "first": line.first,
                "second": line.second, "points": line.points,
                "reasons": []
                if line.parts is None
                else [
                    {"id": part.id, "kind": part.kind, **stated(words, part.statement), "points": part.points}
                    for part in line.parts.lines
                ],
            }
            for line in found.lines
        ],
    }  # fmt: skip
