"""What would change an answer: preparation, single facts, weights of the criteria, measurements not yet taken."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from recommender.advice.explanation.counterfactuals.facts import Flips, Worths, flips, worths
from recommender.advice.explanation.counterfactuals.links import links_of
from recommender.advice.explanation.counterfactuals.preparation import COSTS, Plan, plans
from recommender.advice.explanation.counterfactuals.probe import Prober, figures
from recommender.advice.model import Decision, OptionResult
from recommender.advice.scoring.weights import Room, rooms

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


@dataclass(frozen=True, slots=True)
class Changes:
    """What would change a decision; every entry but the rooms of the weights was run again, those are solved.

    ``plans``: preparation that opens an option or brings it to the front. ``flips``: single recorded facts after
    whose change another option leads. ``toward``: those after which the option asked about leads (``None`` if
    none was asked about, or it leads already). ``rooms``: how far each weight can move. ``worths``: unrecorded
    fields, the most worth measuring first. ``runs``: how often the decision was worked out again.
    """

    decision: Decision
    plans: tuple[Plan, ...]
    flips: Flips
    toward: Flips | None
    rooms: tuple[Room, ...]
    worths: Worths
    runs: int

    @property
    def capped(self) -> bool:
        """Whether a limit of re-runs cut a search short."""
        return self.flips.capped or self.worths.capped or (self.toward is not None and self.toward.capped)


def what_would_change(analysis: "CaseAnalysis", decision: Decision, option: str | None = None) -> Changes:
    """What would change a decision, and (``option``) what would bring one option to the front.

    Raises ``KeyError`` for an option that the decision does not know.
    """
    result = analysis.decide(decision)
    prober = Prober(analysis, decision)
    links = links_of(analysis, decision)
    wanted = result.option(option) if option is not None else None
    asked = [wanted] if wanted is not None and wanted.rank > 1 else _worth_opening(result.ranked)
    found = [plan for each in asked for plan in plans(prober, each)]
    changed = flips(prober, None, links)
    toward = flips(prober, wanted.option, links) if wanted is not None and wanted.rank > 1 else None
    measured = worths(prober, links)
    return Changes(
        decision, tuple(found), changed, toward, rooms(analysis.examine(decision)), measured, prober.runs
    )


def _worth_opening(ranked: tuple[OptionResult, ...]) -> list[OptionResult]:
    """The leader if it waits for preparation, and the best-scored options that a preparation may open."""
    closed = [
        option
        for option in ranked
        if option.status != "open" and any(block.unlocked_by for block in option.blocked_by)
    ]
    closed.sort(key=lambda option: (-option.score, option.option))
    lead = [option for option in closed if option.rank == 1]
    others = [option for option in closed if option.rank > 1]
    return (lead + others)[: int(figures(COSTS)["search"]["options"])]


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
