"""What would change an answer: preparation, single facts, weights of the criteria, measurements not yet taken."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from recommender.advice.explanation.counterfactuals.facts import FieldEffects, Flips, flips, worths
from recommender.advice.explanation.counterfactuals.links import links_of
from recommender.advice.explanation.counterfactuals.preparation import Plan, plans
from recommender.advice.explanation.counterfactuals.probe import Prober
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
    worths: FieldEffects
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
    asked = [wanted] if wanted is not None and wanted.rank > 1 else _worth_opening(result.ranked, prober)
    found = [plan for each in asked for plan in plans(prober, each)]
    changed = flips(prober, None, links)
    toward = flips(prober, wanted.option, links) if wanted is not None and wanted.rank > 1 else None
    measured = worths(prober, links)
    return Changes(
        decision, tuple(found), changed, toward, rooms(analysis.examine(decision)), measured, prober.runs
    )


def _worth_opening(ranked: tuple[OptionResult, ...], prober: Prober) -> list[OptionResult]:
    """The leader if it waits for preparation, and the best-scored options that a preparation may open."""
    closed = [
        option
        for option in ranked
        if option.status != "open" and any(block.unlocked_by for block in option.blocked_by)
    ]
    closed.sort(key=lambda option: (-option.score, option.option))
    lead = [option for option in closed if option.rank == 1]
    others = [option for option in closed if option.rank > 1]
    return (lead + others)[: prober.preparation.search.options]
