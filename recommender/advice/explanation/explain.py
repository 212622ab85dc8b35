"""One option explained, or the contrast of two: why, why not, what would change it, how sure it is.

Everything here is worked out before it is said: lines come from the score, paths from the concept graph, each
"what if" from running again.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from recommender.advice.explanation.ablation import Ablation
from recommender.advice.explanation.confidence import Grading, graded
from recommender.advice.explanation.contrast import Contrast, contrast
from recommender.advice.explanation.counterfactuals.changes import Changes, what_would_change
from recommender.advice.explanation.paths import SentencePath, path_of
from recommender.advice.model import Contribution, Decision, OptionResult

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


@dataclass(frozen=True, slots=True)
class Neighbouring:
    """What a precedent says of an option: for (positive), against (negative)."""

    case_id: str
    site: int
    choice: str
    similarity: float
    worth: float
    verdict: str
    points: float


@dataclass(frozen=True, slots=True)
class Explanation:
    """One option at one decision. ``lines`` are largest first; ``paths`` by ``kind/id`` of the lines (starting
    values by criterion) and ``block/id`` of the blocks.

    ``contrast`` is with ``other``, the option that was asked about with "why not"; ``other_paths`` are the paths
    of its own lines and blocks.
    """

    decision: Decision
    given: str | None
    option: OptionResult
    leader: str
    lines: tuple[Contribution, ...]
    paths: Mapping[str, SentencePath]
    precedents: tuple[Neighbouring, ...]
    sure: Grading
    changes: Changes | None
    contrast: Contrast | None
    other: OptionResult | None
    other_paths: Mapping[str, SentencePath]


def explain(
    analysis: "CaseAnalysis",
    decision: Decision,
    option: str | None = None,
    why_not: str | None = None,
    *,
    changes: bool = True,
) -> Explanation:
    """Explain an option of a decision (the leader by default), and why not another.

    ``changes`` works out what would change it, which runs the decision again many times. Raises ``KeyError``
    for an option that the decision does not know.
    """
    result = analysis.decide(decision)
    chosen = result.option(option) if option is not None else result.ranked[0]
    other = result.option(why_not) if why_not is not None else None
    wanted = [chosen.option] + ([other.option] if other is not None else [])
    cited = Ablation(analysis).cite(result, wanted)
    chosen = cited.option(chosen.option)
    other = cited.option(other.option) if other is not None else None
    asked_about = other if other is not None else chosen
    return Explanation(
        decision=decision,
        given=result.given,
        option=chosen,
        leader=result.ranked[0].option,
        lines=tuple(sorted(chosen.contributions, key=lambda line: -abs(line.points))),
        paths=paths_of(analysis, decision, chosen),
        precedents=neighbouring(analysis, decision, chosen.option),
        sure=graded(analysis, decision),
        changes=what_would_change(analysis, decision, asked_about.option) if changes else None,
        contrast=contrast(chosen, other) if other is not None else None,
        other=other,
        other_paths=paths_of(analysis, decision, other) if other is not None else {},
    )


def line_key(line: Contribution) -> str:
    """The key of a line in ``Explanation.paths``."""
    return f"start/{line.criterion}" if line.kind == "start" else f"{line.kind}/{line.id}"


def paths_of(analysis: "CaseAnalysis", decision: Decision, option: OptionResult) -> dict[str, SentencePath]:
    """The path in the concept graph behind every start, rule and block of an option."""
    base = analysis.engine.knowledge
    judged = analysis.examine(decision).chosen[option.option]
    fired = {rule.id: rule for rule in judged.fired}
    found: dict[str, SentencePath] = {}
    for line in option.contributions:
        if line.kind == "start":
            found[line_key(line)] = path_of(base, decision.kind, option.option, criterion=line.criterion)
        elif line.kind == "rule":
            reasons = fired[line.id].when.reasons(judged.scope)
            found[line_key(line)] = path_of(base, decision.kind, option.option, line.id, deciding=reasons)
    for block in option.blocked_by:
        reasons = fired[block.id].when.reasons(judged.scope)
        found[f"block/{block.id}"] = path_of(base, decision.kind, option.option, block.id, deciding=reasons)
    return found


def neighbouring(analysis: "CaseAnalysis", decision: Decision, option: str) -> tuple[Neighbouring, ...]:
    """Precedents that speak for or against an option, the strongest first; points are those of the score."""
    evidence = analysis.examine(decision).evidence
    w = evidence.weight
    said = [
        Neighbouring(
            n.situation.case_id, n.situation.site, n.situation.choice or "", n.likeness, n.situation.worth,
            n.situation.verdict, w * points,
        )
        for n, points in evidence.shares(option)
    ]  # fmt: skip
    return tuple(sorted(said, key=lambda one: (-abs(one.points), one.case_id, one.site)))
