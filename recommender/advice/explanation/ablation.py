"""Which recorded fields stand behind each line of a score, and the score without each of them.

"Without" is never estimated: the field is deleted from the case, the decision is worked out again, and the new
score is what is shown. Fields on which the dentition itself depends cannot be deleted and are not cited; what
follows from them is shown as given.
"""

from collections.abc import Iterable
from dataclasses import replace

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.decision import DecisionAnalysis
from recommender.advice.model import Cited, Contribution, Decision, DecisionResult, OptionResult
from recommender.domain.fields import get_field, without_field
from recommender.facts.values import Fact

# What a fact names when it follows from which teeth stand, or from what the dentist asked for.
_NOT_DELETABLE = frozenset({"missing", "prescription"})


class Ablation:
    """Cites fields, and keeps each re-run so that one deletion serves every line that cites it."""

    def __init__(self, analysis: CaseAnalysis) -> None:
        self._analysis = analysis
        self._without: dict[str, CaseAnalysis] = {}
        self._scores: dict[tuple[str, Decision, str | None], dict[str, float]] = {}

    def cite(self, result: DecisionResult, options: Iterable[str] | None = None) -> DecisionResult:
        """The result with ``because`` filled in on every rule line of the options named (all by default)."""
        wanted = None if options is None else set(options)
        examination = self._analysis.examine(result.decision)
        ranked = tuple(
            option if wanted is not None and option.option not in wanted else self._cite(examination, option)
            for option in result.ranked
        )
        return replace(result, ranked=ranked)

    def _cite(self, examination: DecisionAnalysis, option: OptionResult) -> OptionResult:
        judged = examination.chosen[option.option]
        rules = {rule.id: rule for rule in judged.fired}
        lines: list[Contribution] = []
        for line in option.contributions:
            if line.id not in rules:
                lines.append(line)
                continue
            reasons = rules[line.id].when.reasons(judged.scope)
            because = {
                path: Cited(
                    get_field(self._analysis.case, path),
                    self.score_without(path, examination, option.option),
                )
                for path in cited_fields(reasons.values())
            }
            given = {name: fact.value for name, fact in reasons.items() if set(fact.fields) <= _NOT_DELETABLE}
            lines.append(replace(line, because=because, given=given))
        return replace(option, contributions=tuple(lines))

    def score_without(self, path: str, examination: DecisionAnalysis, option: str) -> float:
        """The option's score when the field is deleted and the decision worked out again."""
        key = (path, examination.decision, examination.given)
        if key not in self._scores:
            again = self.without(path)
            self._scores[key] = self._analysis.engine.examine(
                again.facts, examination.decision, examination.given
            ).scores()
        return self._scores[key][option]

    def without(self, path: str) -> CaseAnalysis:
        """The case worked out without one recorded field."""
        if path not in self._without:
            case = without_field(self._analysis.case, path)
            self._without[path] = CaseAnalysis(self._analysis.engine, case, self._analysis.facts, path)
        return self._without[path]


def cited_fields(facts: Iterable[Fact]) -> list[str]:
    """The recorded fields behind the facts that can be deleted, once each, in order of first use."""
    paths = dict.fromkeys(path for fact in facts for path in fact.fields)
    return [path for path in paths if path not in _NOT_DELETABLE]
