"""What would change an answer, as JSON values."""

from collections.abc import Mapping
from typing import Any

from recommender.advice.explanation.counterfactuals.changes import Changes
from recommender.advice.explanation.counterfactuals.facts import Flips
from recommender.advice.explanation.counterfactuals.preparation import Plan
from recommender.advice.scoring.weights import Room


def changes_document(changes: Changes) -> dict[str, Any]:
    """The changes as JSON values."""
    return {
        "preparation": [_plan(plan) for plan in changes.plans],
        "facts": _flips(changes.flips),
        "toward": None if changes.toward is None else _flips(changes.toward),
        "weights": [_room(room) for room in changes.rooms],
        "measure": {
            "fields": [
                {
                    "field": worth.path, "tried": worth.tried,
                    "changes_leader": [{"value": value, "leader": leader} for value, leader in worth.flips],
                    "largest_move": worth.largest_move, "firm_after": worth.firm,
                }
                for worth in changes.worths.fields
            ],
            "not_tried": list(changes.worths.not_tried),
        },
        "runs": changes.runs,
        "capped": changes.capped,
    }  # fmt: skip


def _plan(plan: Plan) -> dict[str, Any]:
    return {
        "option": plan.option, "goal": plan.goal, "reached": plan.reached,
        "steps": [
            {"tooth": str(s.tooth), "surface": s.surface, "action": s.action, "permitted": s.permitted}
            for s in plan.steps
        ],
        "enamel_mm": plan.price.enamel_mm, "visits": plan.price.visits, "permitted": plan.permitted,
        "status_after": plan.status, "score_after": plan.score, "leader_after": plan.leader,
    }  # fmt: skip


def _flips(found: Flips) -> dict[str, Any]:
    return {
        "flips": [
            {"field": f.path, "now": f.now, "value": f.value, "leader": f.leader, "lead_score": f.lead_score}
            for f in found.flips
        ],
        "tried": found.tried,
        "not_tried": list(found.not_tried),
    }


def _room(room: Room) -> Mapping[str, Any]:
    def end(found: Any) -> dict[str, Any] | None:
        if found is None:
            return None
        return {"weight": found.weight, "share": found.share, "leader": found.leader}

    return {
        "criterion": room.criterion, "weight": room.weight, "share": room.share, "down": end(room.down),
        "up": end(room.up),
    }  # fmt: skip
