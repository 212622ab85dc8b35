"""An explanation as the JSON document of the ``explain`` verb (``shared/schema/explain.schema.json``)."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from recommender.advice.document import block_document, contribution_document, option_document
from recommender.advice.explanation.confidence import Sure
from recommender.advice.explanation.contrast import Contrast, Difference, FrameworkContrast
from recommender.advice.explanation.counterfactuals.changes import changes_document
from recommender.advice.explanation.explain import Explanation, Said, line_key
from recommender.advice.explanation.paths import SentencePath


def explanation_document(case_id: str, found: Explanation) -> dict[str, Any]:
    """The whole explanation; nothing is rounded."""
    option = option_document(found.option)
    del option["contributions"]
    option["blocked_by"] = [
        block_document(block) | _path(found.paths, f"block/{block.id}") for block in found.option.blocked_by
    ]
    return {
        "format": 1,
        "case": case_id,
        "for": found.decision.key,
        "given": found.given,
        "leader": found.leader,
        "option": option,
        "reasons": [contribution_document(line) | _path(found.paths, line_key(line)) for line in found.lines],
        "precedents": {
            "for": [_said(one) for one in found.precedents if one.points > 0],
            "against": [_said(one) for one in found.precedents if one.points < 0],
        },
        "contrast": None if found.contrast is None else _contrast(found, found.contrast),
        "sure": sure_document(found.sure),
        "changes": None if found.changes is None else changes_document(found.changes),
    }


def sure_document(sure: Sure) -> dict[str, Any]:
    """How sure, as JSON values."""
    return {name: list(value) if isinstance(value, tuple) else value for name, value in asdict(sure).items()}


def _said(one: Said) -> dict[str, Any]:
    return {
        "case": one.case_id, "site": str(one.site) if one.site else None, "choice": one.choice,
        "similarity": one.similarity, "worth": one.worth, "fared": one.verdict, "points": one.points,
    }  # fmt: skip


def _contrast(found: Explanation, difference: Contrast) -> dict[str, Any]:
    second = difference.second
    return {
        "with": second.option,
        "status": second.status,
        "score": second.score,
        "points": difference.points,
        "settled_by_status": difference.settled_by_status,
        "lines": [_line(found, line) for line in difference.lines],
        "blocked_by": [
            block_document(block) | _path(found.other_paths, f"block/{block.id}")
            for block in second.blocked_by
        ],
    }


def _line(found: Explanation, line: Difference) -> dict[str, Any]:
    key = f"{line.kind}/{line.criterion if line.kind == 'start' else line.id}"
    here = _path(found.paths, key)
    there = _path(found.other_paths, key)
    document: dict[str, Any] = {
        "kind": line.kind, "id": line.id, "criterion": line.criterion, "text": line.text,
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


def framework_contrast_document(found: FrameworkContrast) -> dict[str, Any]:
    """The contrast of two frameworks as JSON values."""
    return {
        "points": found.points,
        "lines": [
            {
                "place": line.place, "took": line.took, "instead": line.instead, "first": line.first,
                "second": line.second, "points": line.points,
                "reasons": []
                if line.parts is None
                else [
                    {"id": part.id, "kind": part.kind, "text": part.text, "points": part.points}
                    for part in line.parts.lines
                ],
            }
            for line in found.lines
        ],
    }  # fmt: skip
