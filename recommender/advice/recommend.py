"""The whole recommendation for one case, in the order of the job.

``Recommender`` holds the knowledge and the precedents; ``recommend(case)`` works one case out. Nothing is
written anywhere.
"""

from collections.abc import Iterable
from dataclasses import replace

from recommender.advice.cautions import cautions_of, questions_of
from recommender.advice.document import nothing_words
from recommender.advice.engine import Engine, Examination
from recommender.advice.frameworks import assemble_or_say_why
from recommender.advice.gaps import gaps_of
from recommender.advice.model import Decision, DecisionResult, PreparationStep, Recommendation
from recommender.advice.seats import indirect_seats
from recommender.domain.case import Case
from recommender.facts.derive import CaseFacts, derive, derive_again
from recommender.knowledge.load import knowledge
from recommender.knowledge.model import Knowledge
from recommender.precedents.library import PrecedentLibrary

FRAMEWORKS = 3


class NoAdviceError(ValueError):
    """A case about which there is nothing to advise: it has no Kennedy class."""


class Recommender:
    """Works cases out against one knowledge base and one library of precedents."""

    def __init__(
        self,
        library: PrecedentLibrary | None = None,
        base: Knowledge | None = None,
        *,
        approved_only: bool = True,
    ) -> None:
        self.engine = Engine(base or knowledge(), library, approved_only=approved_only)

    def recommend(self, case: Case, frameworks: int = FRAMEWORKS) -> Recommendation:
        """The whole answer. Raises :class:`NoAdviceError` for a case without a Kennedy class."""
        return Working(self.engine, case).recommendation(frameworks)

    def cited(self, case: Case, top: int | None = None, frameworks: int = FRAMEWORKS) -> Recommendation:
        """As ``recommend``, with the fields behind every line and the score without each of them.

        ``top`` cites only the first options of each decision. Slower: each cited field is deleted in turn and
        the decision worked out again.
        """
        from recommender.advice.faithful import Faithful

        working = Working(self.engine, case)
        answer = working.recommendation(frameworks)
        faithful = Faithful(working)

        def cite(result: DecisionResult) -> DecisionResult:
            return faithful.cite(result, [option.option for option in result.ranked[:top]])

        return replace(
            answer,
            connector=cite(answer.connector),
            retainers={tooth: cite(result) for tooth, result in answer.retainers.items()},
            replacements={tooth: cite(result) for tooth, result in answer.replacements.items()},
            rests={tooth: cite(result) for tooth, result in answer.rests.items()},
        )

    def work(self, case: Case) -> "Working":
        """As ``recommend``, keeping the parts for explanation."""
        return Working(self.engine, case)


class Working:
    """One case being worked out: its facts, and each decision examined once.

    ``like`` and ``changed`` serve re-runs: the facts of the same case before the field at path ``changed`` was
    deleted or altered, from which whatever does not depend on that field is taken over.
    """

    def __init__(
        self, engine: Engine, case: Case, like: CaseFacts | None = None, changed: str | None = None
    ) -> None:
        self.engine = engine
        self.case = case
        self.facts: CaseFacts = derive(case) if like is None else derive_again(case, like, changed or "")
        if self.facts.classification.number is None:
            raise NoAdviceError(f"{case.id}: {nothing_words(case)}")
        self._examined: dict[Decision, Examination] = {}
        self._rests: dict[tuple[int, str], DecisionResult] = {}
        self._best_rests: dict[tuple[int, str], str | None] = {}

    def decisions(self) -> list[Decision]:
        """Every decision of the arch: retainer and rest of each tooth considered, replacements, connector."""
        found = [Decision("retainer", tooth) for tooth in self.facts.considered]
        found += [Decision("rest", tooth) for tooth in self.facts.considered]
        found += [Decision("replacement", tooth) for space in self.facts.spaces for tooth in space.teeth]
        return [*found, Decision("connector")]

    def examine(self, decision: Decision) -> Examination:
        """One decision worked out; rests are ranked for the assembly that leads at their tooth."""
        if decision not in self._examined:
            given = None
            if decision.kind == "rest":
                given = self.leader(Decision("retainer", decision.tooth))
            self._examined[decision] = self.engine.examine(self.facts, decision, given)
        return self._examined[decision]

    def decide(self, decision: Decision) -> DecisionResult:
        """The ranked result of one decision."""
        return self.examine(decision).result

    def rest_for(self, tooth: int, assembly: str) -> DecisionResult:
        """Rests of a tooth ranked for an assembly that need not be the leading one."""
        key = (tooth, assembly)
        if key not in self._rests:
            self._rests[key] = self.engine.decide(self.facts, Decision("rest", tooth), assembly)
        return self._rests[key]

    def best_rest(self, tooth: int, assembly: str) -> str | None:
        """The best rest for an assembly that is open, or open after preparation; ``None`` if there is none."""
        key = (tooth, assembly)
        if key not in self._best_rests:
            examination = self.engine.examine(self.facts, Decision("rest", tooth), assembly)
            usable = (
                option
                for option in examination.order()
                if option != "none" and examination.chosen[option].status in ("open", "needs_preparation")
            )
            self._best_rests[key] = next(usable, None)
        return self._best_rests[key]

    def leader(self, decision: Decision) -> str:
        """The option that leads at a decision."""
        return self.decide(decision).ranked[0].option

    def recommendation(self, frameworks: int = FRAMEWORKS) -> Recommendation:
        """Everything at once."""
        results = {decision: self.decide(decision) for decision in self.decisions()}
        seats = indirect_seats(self.engine, self.facts)
        whole, nothing = assemble_or_say_why(self, results, seats, frameworks) if frameworks else ((), None)
        leaders = [result.ranked[0] for result in results.values()]
        return Recommendation(
            case=self.case,
            kennedy=self.facts.classification.document(),
            provisional=any(option.provisional for option in leaders) or any(f.provisional for f in whole),
            facts={str(tooth): self._tooth_facts(tooth) for tooth in self.facts.considered},
            connector=results[Decision("connector")],
            retainers=_of_kind(results, "retainer"),
            replacements=_of_kind(results, "replacement"),
            rests=_of_kind(results, "rest"),
            indirect_retainers=seats,
            frameworks=whole,
            preparation=union_of_preparation(results.values()),
            cautions=cautions_of(self) + questions_of(self),
            not_recorded=gaps_of(self, results),
            no_framework=nothing,
        )

    def _tooth_facts(self, tooth: int) -> dict[str, object]:
        """What is known about a tooth, toward its main space, under short names."""
        facts: dict[str, object] = {}
        for side in self.facts.approaches(tooth)[:1]:
            for layer in self.facts.toward(tooth, side).layers[1:]:
                for name, fact in layer.items():
                    short = name.removeprefix("derived.").removeprefix("abutment.")
                    if fact.value is not None:
                        facts[short] = sorted(fact.value) if isinstance(fact.value, frozenset) else fact.value
                    elif fact.low is not None or fact.high is not None:
                        facts[short] = [fact.low, fact.high]
        return facts


def _of_kind(results: dict[Decision, DecisionResult], kind: str) -> dict[int, DecisionResult]:
    return {decision.tooth: result for decision, result in results.items() if decision.kind == kind}


def union_of_preparation(results: Iterable[DecisionResult]) -> tuple[PreparationStep, ...]:
    """Every preparation that any option would need, each once, with all that it unlocks.

    What no preparation opens asks for none; what only the dentist's "no" closes is told, as the dentist may reconsider.
    """
    merged: dict[tuple[int, str, str], PreparationStep] = {}
    for result in results:
        for option in result.ranked:
            if option.status == "excluded" and not all(block.unlocked_by for block in option.blocked_by):
                continue
            needed = [*option.unlocked_by, *option.preparation]
            needed += [step for block in option.blocked_by for step in block.unlocked_by]
            for step in needed:
                key = (step.tooth, step.surface, step.action)
                before = merged.get(key)
                if before is None:
                    merged[key] = step
                else:
                    unlocks = tuple(dict.fromkeys((*before.unlocks, *step.unlocks)))
                    merged[key] = PreparationStep(
                        *key, before.routine and step.routine, before.permitted, unlocks
                    )
    return tuple(merged[key] for key in sorted(merged))
