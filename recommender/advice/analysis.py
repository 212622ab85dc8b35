"""One case being worked out: its facts, and each decision analysed once."""

from recommender.advice.decision import DecisionAnalysis, Engine
from recommender.advice.model import USABLE, Decision, DecisionResult
from recommender.advice.other_rests import OtherRests
from recommender.advice.scoring.judge import Judged
from recommender.advice.scoring.rest_order import RestOrder
from recommender.domain.case import Case
from recommender.domain.statement import Statement, say
from recommender.facts.derive import CaseFacts, derive, derive_again


class NoAdviceError(ValueError):
    """A case about which there is nothing to advise: it has no Kennedy class. ``statement`` says why."""

    def __init__(self, case: Case) -> None:
        self.statement = nothing_said(case)
        super().__init__(f"{case.id}: {self.statement.code}")


def nothing_said(case: Case) -> Statement:
    """Why there is nothing to advise on a case without a Kennedy class."""
    return say("nothing.no_border" if case.missing else "nothing.nothing_missing")


class CaseAnalysis:
    """One case being worked out: its facts, and each decision examined once.

    ``like`` and ``changed`` serve re-runs: the facts of the same case before the field at path ``changed`` was
    deleted or altered, from which whatever does not depend on that field is taken over.
    """

    def __init__(
        self, engine: Engine, case: Case, like: CaseFacts | None = None, changed: str | None = None
    ) -> None:
        self.engine = engine
        self.case = case
        models = engine.knowledge.models
        self.facts: CaseFacts = (
            derive(case, models) if like is None else derive_again(case, like, changed or "")
        )
        if self.facts.classification.number is None:
            raise NoAdviceError(case)
        self._examined: dict[Decision, DecisionAnalysis] = {}
        self._examined_rests: dict[tuple[int, str], DecisionAnalysis] = {}
        self._first_rests: dict[int, DecisionAnalysis] = {}
        self._rests: dict[tuple[int, str], DecisionResult] = {}
        self._rest_orders: dict[int, RestOrder] = {}
        self._usable_rests: dict[tuple[int, object], tuple[str, ...]] = {}

    def decisions(self) -> list[Decision]:
        """Every decision of the arch: retainer and rest of each tooth considered, replacements, connector."""
        found = [Decision("retainer", tooth) for tooth in self.facts.considered]
        found += [Decision("rest", tooth) for tooth in self.facts.considered]
        found += [Decision("replacement", tooth) for space in self.facts.spaces for tooth in space.teeth]
        return [*found, Decision("connector")]

    def examine(self, decision: Decision) -> DecisionAnalysis:
        """One decision worked out; rests are ranked for the assembly that leads at their tooth."""
        if decision not in self._examined:
            if decision.kind == "rest":
                lead = self.leader(Decision("retainer", decision.tooth))
                self._examined[decision] = self.examine_rest(decision.tooth, lead)
            else:
                self._examined[decision] = self.engine.examine(self.facts, decision)
        return self._examined[decision]

    def examine_rest(self, tooth: int, assembly: str) -> DecisionAnalysis:
        """The rests of a tooth worked out for an assembly, be it the leading one or not."""
        key = (tooth, assembly)
        if key not in self._examined_rests:
            first = self._first_rests.get(tooth)
            if first is None:
                found = self._first_rests[tooth] = self.engine.examine(
                    self.facts, Decision("rest", tooth), assembly
                )
            else:
                found = OtherRests(first, assembly)
            self._examined_rests[key] = found
        return self._examined_rests[key]

    def judged_alone(self, decision: Decision, option: str, given: str | None = None) -> Judged | None:
        """One option judged as among all others, without working those out; ``None`` where it is no option here."""
        return DecisionAnalysis(self.engine, self.facts, decision, given, only=option).chosen.get(option)

    def decide(self, decision: Decision) -> DecisionResult:
        """The ranked result of one decision."""
        return self.examine(decision).result

    def rest_for(self, tooth: int, assembly: str) -> DecisionResult:
        """Rests of a tooth ranked for an assembly that need not be the leading one."""
        key = (tooth, assembly)
        if key not in self._rests:
            self._rests[key] = self.examine_rest(tooth, assembly).result
        return self._rests[key]

    def usable_rests(self, tooth: int, assembly: str) -> tuple[str, ...]:
        """The rests for an assembly that are open, or open after preparation, best first.

        Precedents are heard for the assembly that leads at the tooth; for another one the rules alone put them
        in order.
        """
        leads = tooth in self.facts.considered and assembly == self.leader(Decision("retainer", tooth))
        # Assemblies of which no rule on rests makes a difference share one answer.
        key = (tooth, "leads" if leads else self.engine.kind_for_rests(assembly))
        if key not in self._usable_rests:
            self._usable_rests[key] = (
                self._usable_for_lead(tooth) if leads else self._rest_order(tooth).usable(assembly)
            )
        return self._usable_rests[key]

    def _usable_for_lead(self, tooth: int) -> tuple[str, ...]:
        analysis = self.examine(Decision("rest", tooth))
        return tuple(
            rest for rest in analysis.order() if rest != "none" and analysis.chosen[rest].status in USABLE
        )

    def _rest_order(self, tooth: int) -> RestOrder:
        if tooth not in self._rest_orders:
            self._rest_orders[tooth] = RestOrder(self.engine, self.facts, tooth)
        return self._rest_orders[tooth]

    def leader(self, decision: Decision) -> str:
        """The option that leads at a decision."""
        return self.decide(decision).ranked[0].option

    def tooth_facts(self, tooth: int) -> dict[str, object]:
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
