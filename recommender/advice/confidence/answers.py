"""How sure the answer to a case is: every decision, and the questions that wait before metal is cast.

Worked out only when asked for: the choice itself never waits for it.
"""

from functools import cached_property

import numpy as np

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.confidence.deciding import Ranked, WorldCase
from recommender.advice.confidence.plausible import figures
from recommender.advice.confidence.standing import Answers, own_place, standing, taken_for_granted
from recommender.advice.confidence.values import Acceptability, BeforeMetal, Sure
from recommender.advice.confidence.worlds import Worlds
from recommender.advice.model import STATUS_ORDER, Decision
from recommender.domain.fields import asked_in_vain, get_field

_TAKEN = 3


class Confidence:
    """How sure the decisions of one case are."""

    def __init__(self, analysis: CaseAnalysis, worlds: Worlds | None = None) -> None:
        self.analysis = analysis
        self.worlds = worlds or Worlds(analysis.facts)
        self.world_case = WorldCase(analysis, self.worlds)
        self._sure: dict[Decision, Sure] = {}

    def decision(self, decision: Decision) -> Sure:
        """How sure the leading option of a decision is."""
        if decision not in self._sure:
            self._sure[decision] = self._decision(decision)
        return self._sure[decision]

    @cached_property
    def decisions(self) -> dict[Decision, Sure]:
        """Every decision of the case."""
        return {decision: self.decision(decision) for decision in self.analysis.decisions()}

    @cached_property
    def before_metal(self) -> tuple[BeforeMetal, ...]:
        """Dangerous questions that are not answered, asked in vain or not asked yet."""
        case, found = self.analysis.case, []
        for line in figures("standing")["before_metal"]:
            pattern = str(line["field"])
            paths = (
                [pattern.replace("[]", f"[{tooth}]") for tooth in self.analysis.facts.considered]
                if "[]" in pattern
                else [pattern]
            )
            found += [
                BeforeMetal(path, str(line["why"]), asked_in_vain(case, path))
                for path in paths
                if get_field(case, path) is None
            ]
        return tuple(found)

    def _decision(self, decision: Decision) -> Sure:
        analysis, world = self.analysis, self.world_case
        examined = analysis.examine(decision)
        choice = examined.order()[0]
        facts = world.ranked(decision)
        both = world.ranked(decision, moved=True)
        judgement = world.judgement(decision)
        near_tie = analysis.engine.knowledge.scoring.near_tie
        stands = facts.level(choice, near_tie)
        acceptability = Acceptability(
            first=float(both.leads(choice).mean()),
            not_blocked=_not_blocked(facts, choice, STATUS_ORDER.index(examined.chosen[choice].status)),
            facts=float(facts.leads(choice).mean()),
            judgement=float(judgement.leads(choice).mean()),
            equal=float(stands.mean()),
            otherwise={o: share for o, share in both.first().items() if o != choice and share > 0},
        )
        own = own_place(analysis.engine.knowledge, decision, examined.chosen[choice])
        answers = Answers(self.worlds, stands, facts.fields)
        return Sure(
            choice,
            acceptability,
            standing(answers, own, facts.first(), choice),
            both.first(),
            tuple(dict.fromkeys((*own, *answers.telling))),
            taken_for_granted(self.worlds, answers.telling)[:_TAKEN],
        )


def _not_blocked(ranked: Ranked, choice: str, now: int) -> float:
    """Share of worlds in which nothing stands against a choice that does not stand against it already."""
    return float((ranked.status_of(choice) <= np.int8(max(1, now))).mean())
