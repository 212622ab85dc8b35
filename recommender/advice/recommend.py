"""The whole recommendation for one case, in the order of the job.

``Recommender`` holds the knowledge and the precedents; ``recommend(case)`` works one case out. Nothing is
written anywhere.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.cautions import cautions_of, questions_of
from recommender.advice.decision import Engine
from recommender.advice.explanation.gaps import gaps_of
from recommender.advice.frameworks.assemble import assemble_or_say_why
from recommender.advice.indirect_retainers import indirect_seats
from recommender.advice.model import Decision, DecisionResult, Framework, Gap, Recommendation
from recommender.advice.preparations import union_of_preparation
from recommender.collector import waits
from recommender.domain.case import Case
from recommender.domain.dentition import side_of
from recommender.domain.fields import asked_in_vain
from recommender.knowledge.in_force import knowledge
from recommender.knowledge.model import Knowledge
from recommender.precedents.library import PrecedentLibrary

FRAMEWORKS = 3


class Recommender:
    """Works cases out against one knowledge base and one library of precedents.

    ``records`` gives at most so many of the library's approved cases, for what is plausible by its own records.
    """

    def __init__(
        self,
        library: PrecedentLibrary | None = None,
        base: Knowledge | None = None,
        *,
        approved_only: bool = True,
        records: Callable[[int], Iterable[Case]] | None = None,
    ) -> None:
        self.engine = Engine(base or knowledge(), library, approved_only=approved_only)
        self.engine.records = records

    def recommend(self, case: Case, frameworks: int = FRAMEWORKS) -> Recommendation:
        """The whole answer. Raises :class:`NoAdviceError` for a case without a Kennedy class."""
        return recommendation(self.work(case), frameworks)

    def cited(self, case: Case, top: int | None = None, frameworks: int = FRAMEWORKS) -> Recommendation:
        """As ``recommend``, with the fields behind every line and the score without each of them.

        ``top`` cites only the first options of each decision. Slower: each cited field is deleted in turn and
        the decision worked out again.
        """
        return self.cited_with(self.work(case), top, frameworks)

    @staticmethod
    def cited_with(
        analysis: CaseAnalysis, top: int | None = None, frameworks: int = FRAMEWORKS
    ) -> Recommendation:
        """As ``cited``, from an analysed case."""
        from recommender.advice.explanation.ablation import Ablation

        answer = recommendation(analysis, frameworks)
        ablation = Ablation(analysis)

        def cite(result: DecisionResult) -> DecisionResult:
            return ablation.cite(result, [option.option for option in result.ranked[:top]])

        return replace(
            answer,
            connector=cite(answer.connector),
            retainers={tooth: cite(result) for tooth, result in answer.retainers.items()},
            replacements={tooth: cite(result) for tooth, result in answer.replacements.items()},
            rests={tooth: cite(result) for tooth, result in answer.rests.items()},
        )

    def work(self, case: Case) -> CaseAnalysis:
        """As ``recommend``, keeping the parts for explanation."""
        return CaseAnalysis(self.engine, case)


@waits()
def recommendation(analysis: CaseAnalysis, frameworks: int = FRAMEWORKS) -> Recommendation:
    """The whole answer from an analysed case. ``frameworks``: how many whole frameworks at most (0 for none)."""
    results = {decision: analysis.decide(decision) for decision in analysis.decisions()}
    seats = indirect_seats(analysis.engine, analysis.facts)
    whole, nothing = assemble_or_say_why(analysis, results, seats, frameworks) if frameworks else ((), None)
    leaders = [result.ranked[0] for result in results.values()]
    return Recommendation(
        case=analysis.case,
        kennedy=analysis.facts.classification,
        provisional=any(option.provisional for option in leaders) or any(f.provisional for f in whole),
        facts={str(tooth): analysis.tooth_facts(tooth) for tooth in analysis.facts.considered},
        connector=results[Decision("connector")],
        retainers=_of_kind(results, "retainer"),
        replacements=_of_kind(results, "replacement"),
        rests=_of_kind(results, "rest"),
        indirect_retainers=seats,
        frameworks=whole,
        preparation=union_of_preparation(results.values()),
        cautions=cautions_of(analysis) + questions_of(analysis),
        not_recorded=_with_teeth_that_could_serve(analysis, whole, gaps_of(analysis, results)),
        no_framework=nothing,
    )


def _with_teeth_that_could_serve(
    analysis: CaseAnalysis, whole: tuple[Framework, ...], gaps: tuple[Gap, ...]
) -> tuple[Gap, ...]:
    """Where the proposal holds by teeth of a side on which nobody marked any, their undercuts are asked for first."""
    marked = {side_of(tooth) for tooth in analysis.facts.considered}
    first = [
        Gap(field, (f"retainers.{retainer.tooth}",), (f"retainers.{retainer.tooth}",))
        for retainer in (whole[0].design.retainers if whole else None) or ()
        if side_of(retainer.tooth) not in marked and retainer.undercut is not None
        for field in (f"abutments[{retainer.tooth}].undercuts_mm.{retainer.undercut.zone}",)
        if not asked_in_vain(analysis.case, field)
    ]
    named = {gap.field for gap in first}
    return (*first, *(gap for gap in gaps if gap.field not in named))


def _of_kind(results: dict[Decision, DecisionResult], kind: str) -> dict[int, DecisionResult]:
    return {decision.tooth: result for decision, result in results.items() if decision.kind == kind}
