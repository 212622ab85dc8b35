"""Running one decision again with something changed: every "what if" of the explanation goes through here.

Nothing is estimated. A changed case is worked out by the same engine from its own facts; what is left out is
only what the comparison does not need (the bounds of scores and the printed lines).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from recommender.advice.decision import DecisionAnalysis
from recommender.advice.model import STATUS_ORDER, Decision, Status
from recommender.advice.scoring.blend import Evidence, Votes
from recommender.domain.case import Case
from recommender.domain.fields import get_field, with_field
from recommender.knowledge.figures.confidence import Search
from recommender.knowledge.figures.preparation import PreparationFigures

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


@dataclass(frozen=True, slots=True)
class Standing:
    """How the options of one decision stand: scores, statuses, which are provisional, best first."""

    scores: Mapping[str, float]
    statuses: Mapping[str, Status]
    provisional: Mapping[str, bool]
    order: tuple[str, ...]

    @property
    def leader(self) -> str:
        """The option that leads."""
        return self.order[0]


def standing(analysis: "CaseAnalysis", decision: Decision) -> Standing:
    """The same order, scores and statuses as ``analysis.decide(decision)``, without bounds and lines.

    Rests are ranked for the assembly that leads at their tooth, as everywhere.
    """
    given = None
    if decision.kind == "rest":
        given = standing(analysis, Decision("retainer", decision.tooth)).leader
    return examined_standing(lean(analysis, decision, given))


def lean(analysis: "CaseAnalysis", decision: Decision, given: str | None) -> DecisionAnalysis:
    """An examination whose evidence leaves out what only bounds need."""
    engine = analysis.engine
    examination = engine.examine(analysis.facts, decision, given)
    scoring, catalogue = engine.knowledge.scoring, engine.knowledge.catalogue
    found = engine.nearest(analysis.facts, decision, scoring.neighbours, given)

    def credit(first: str, second: str) -> float:
        return catalogue.credit(decision.kind, first, second)

    examination.evidence = Evidence.of(found, Votes(()), 0.0, scoring, credit)
    return examination


def examined_standing(examination: DecisionAnalysis) -> Standing:
    """How the options of an examination stand."""
    scores = examination.scores()
    chosen = examination.chosen
    statuses = {identifier: judged.status for identifier, judged in chosen.items()}
    provisional = {
        identifier: any(way.provisional for way in ways) for identifier, ways in examination.judged.items()
    }
    order = sorted(chosen, key=lambda o: (STATUS_ORDER.index(statuses[o]), -scores[o], o))
    return Standing(scores, statuses, provisional, tuple(order))


class Prober:
    """Re-runs of one decision of one case, each change once; it counts them and stops at a limit."""

    def __init__(self, analysis: "CaseAnalysis", decision: Decision) -> None:
        self.analysis = analysis
        self.decision = decision
        self.case: Case = analysis.case
        self.runs = 0
        self._kept: dict[tuple[str, str], Standing | None] = {}
        self._now: Standing | None = None

    @property
    def search(self) -> Search:
        """How what would change the decision is searched."""
        return self.analysis.engine.knowledge.figures.confidence.search

    @property
    def preparation(self) -> PreparationFigures:
        """What preparations of teeth do and cost."""
        return self.analysis.engine.knowledge.figures.preparation

    @property
    def now(self) -> Standing:
        """How the options stand in the case as it is."""
        if self._now is None:
            result = self.analysis.decide(self.decision)
            self._now = Standing(
                {o.option: o.score for o in result.ranked},
                {o.option: o.status for o in result.ranked},
                {o.option: o.provisional for o in result.ranked},
                tuple(o.option for o in result.ranked),
            )
        return self._now

    def of(self, case: Case, changed: str | None = None) -> Standing | None:
        """The decision in another case; ``None`` where it is no decision of that case, or its class differs.

        ``changed`` is the path of the one field in which the case differs, if it is only one.
        """
        from recommender.advice.analysis import CaseAnalysis

        self.runs += 1
        before = self.analysis.facts
        again = CaseAnalysis(self.analysis.engine, case, before if changed else None, changed)
        if again.facts.classification.label != before.classification.label:
            return None
        tooth = self.decision.tooth
        if tooth in before.considered and tooth not in again.facts.considered:
            return None
        return standing(again, self.decision)

    def with_value(self, path: str, value: object) -> Standing | None:
        """The decision with one field changed."""
        key = (path, repr(value))
        if key not in self._kept:
            self._kept[key] = self.of(with_field(self.case, path, value), path)
        return self._kept[key]

    def once(self, case: Case, name: str) -> Standing | None:
        """The decision in a case that differs in several fields; run once under its name."""
        key = ("", name)
        if key not in self._kept:
            self._kept[key] = self.of(case)
        return self._kept[key]

    def value(self, path: str) -> object:
        """What is recorded at a path."""
        return get_field(self.case, path)
