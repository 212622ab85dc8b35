"""An answer in short: the decision in two sentences, one line a part, and what of all cautions is about this case."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from recommender.advice.frameworks.compare import gives_up
from recommender.advice.model import (
    Contribution,
    Decision,
    DecisionResult,
    Framework,
    PreparationStep,
    Recommendation,
    points_by_criterion,
)
from recommender.domain.dentition import in_arch_order
from recommender.domain.statement import Arg, Choice, Several, Statement, Word, say, several, teeth

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


@dataclass(frozen=True, slots=True)
class PartLine:
    """One line for teeth that carry the same for the same reason. ``why`` is its chief reason, ``asks`` the work that
    it asks of the dentist; ``option`` is ``None`` for a rest that stands by itself."""

    kind: str
    option: str | None
    teeth: tuple[int, ...]
    rest: str | None
    why: Statement | None
    asks: tuple[Statement, ...]

    @property
    def decisions(self) -> tuple[Decision, ...]:
        """The decisions that it answers."""
        if self.kind == "connector":
            return (Decision("connector"),)
        kind = self.kind if self.option is not None else "rest"
        return tuple(Decision(kind, tooth) for tooth in self.teeth)


@dataclass(frozen=True, slots=True)
class Cautions:
    """Cautions of this case, questions that it raises, and what holds for every case."""

    own: tuple[Statement, ...]
    questions: tuple[Statement, ...]
    general: tuple[Statement, ...]


def part_lines(analysis: "CaseAnalysis", framework: Framework) -> tuple[PartLine, ...]:
    """The parts of a framework: connector, what stands on teeth, replacement teeth; alike ones on one line."""
    grouped: dict[tuple[str, str | None, str | None, Statement | None], list[int]] = {}
    connector = Decision("connector")
    grouped["connector", framework.connector, None, _why(analysis, framework, connector)] = []
    for tooth in in_arch_order(analysis.case.arch, {*framework.retainers, *framework.rests}):
        option = framework.retainers.get(tooth)
        option = None if option == "none" else option
        decision = Decision("retainer" if option else "rest", tooth)
        rest = framework.rests.get(tooth)
        if option or rest:
            key = ("retainer", option, rest, _why(analysis, framework, decision))
            grouped.setdefault(key, []).append(tooth)
    for tooth, part in framework.replacements.items():
        why = _why(analysis, framework, Decision("replacement", tooth))
        grouped.setdefault(("replacement", part, None, why), []).append(tooth)
    return tuple(
        PartLine(kind, option, tuple(numbers), rest, why, _asks(framework.preparation, numbers, kind))
        for (kind, option, rest, why), numbers in grouped.items()
    )


def plain(statement: Statement) -> Statement:
    """A rule's sentence without the figures computed for it."""
    what = statement.arg("what") if statement.code == "rule_with_numbers" else None
    return what if isinstance(what, Statement) else statement


def result_in(analysis: "CaseAnalysis", framework: Framework, decision: Decision) -> DecisionResult:
    """The ranking at a decision; rests are ranked for the assembly that the framework carries there."""
    if decision.kind == "rest" and decision.tooth in framework.retainers:
        return analysis.rest_for(decision.tooth, framework.retainers[decision.tooth])
    return analysis.decide(decision)


def taken_at(framework: Framework, decision: Decision) -> str | None:
    """What a framework carries at a decision."""
    if decision.kind == "connector":
        return framework.connector
    parts: Mapping[int, str] = getattr(framework, f"{decision.kind}s")
    return parts.get(decision.tooth)


def _lines_at(analysis: "CaseAnalysis", framework: Framework, decision: Decision) -> Sequence[Contribution]:
    taken = taken_at(framework, decision)
    if taken is None or decision not in analysis.decisions():
        return ()
    try:
        return result_in(analysis, framework, decision).option(taken).contributions
    except KeyError:
        return ()


def _why(analysis: "CaseAnalysis", framework: Framework, decision: Decision) -> Statement | None:
    """Why a part is there: why it departs from what leads, else the rule that speaks most for it.

    A rest that stands where a retainer leads is there for what it bears, not for what was left off.
    """
    if taken_at(framework, decision) == "rest_only" and why_it_departs(framework, decision) is not None:
        bears = _why_rest(analysis, framework, decision.tooth)
        if bears is not None:
            return bears
    departs = why_it_departs(framework, decision)
    if departs is not None:
        other = _other_half(framework, decision)
        return departs if other is None else _why(analysis, framework, other)
    best = max(
        (
            line
            for line in _lines_at(analysis, framework, decision)
            if line.kind == "rule" and line.points > 0
        ),
        key=lambda line: line.points,
        default=None,
    )
    if best is not None:
        return plain(best.statement)
    if decision.kind == "retainer" and decision.tooth in framework.rests:
        return _why_rest(analysis, framework, decision.tooth)
    return None


def why_it_departs(framework: Framework, decision: Decision) -> Statement | None:
    """The first reason for which a framework does not carry what leads at a decision; ``None`` where it does."""
    for departure in framework.departures:
        if departure.decision == decision.key:
            return _first(departure.statement.arg("why"))
    return None


def _other_half(framework: Framework, decision: Decision) -> Decision | None:
    """The other half of a clasp on two teeth, where it leads there by itself: its reason is that of the whole clasp."""
    taken = taken_at(framework, decision)
    for retainer in framework.design.retainers or () if decision.kind == "retainer" else ():
        if retainer.tooth == decision.tooth and retainer.partner is not None:
            other = Decision("retainer", retainer.partner)
            if taken_at(framework, other) == taken and why_it_departs(framework, other) is None:
                return other
    return None


def _why_rest(analysis: "CaseAnalysis", framework: Framework, number: int) -> Statement | None:
    """Why a tooth carries a rest: what an indirect retainer is for, else the rule that speaks most for the rest."""
    for seat in framework.indirect_retainers:
        if seat.tooth == number and seat.reasons:
            return seat.reasons[0]
    return _why(analysis, framework, Decision("rest", number)) if number in framework.rests else None


def _first(why: Arg) -> Statement | None:
    """The first of several reasons."""
    if not isinstance(why, Statement):
        return None
    kept = next((value for _, value in why.args if isinstance(value, Several)), None)
    first = kept.items[0] if kept is not None else None
    return first if isinstance(first, Statement) else why


def _asks(work: Sequence[PreparationStep], numbers: Sequence[int], kind: str) -> tuple[Statement, ...]:
    if kind != "retainer":
        return ()
    where: dict[tuple[str, str], list[int]] = {}
    for step in work:
        if step.tooth in numbers:
            where.setdefault((step.action, step.surface), []).append(step.tooth)
    return tuple(
        say(
            "answer.asks",
            action=Word("asked_work", action),
            surface=Word("surface", surface) if surface else None,
            teeth=teeth(on) if len(on) < len(numbers) else None,
        )
        for (action, surface), on in where.items()
    )


def decision_in_two(
    analysis: "CaseAnalysis", answer: Recommendation, framework: Framework
) -> tuple[Statement, Statement]:
    """What is proposed, and how it stands to the next."""
    return design_sentence(analysis, framework), _beside_the_next(analysis, answer, framework)


def design_sentence(analysis: "CaseAnalysis", framework: Framework) -> Statement:
    """A framework in one sentence: connector, alloy, what holds and what rests where."""
    known = analysis.engine.knowledge.catalogue.options["retainer"]
    holding: dict[str, list[int]] = {}
    resting: list[int] = []
    for tooth in in_arch_order(analysis.case.arch, {*framework.retainers, *framework.rests}):
        option = framework.retainers.get(tooth, "none")
        if option in known and "retentive" in known[option].families:
            holding.setdefault(option, []).append(tooth)
        elif tooth in framework.rests:
            resting.append(tooth)
    held = [say("answer.on", option=Choice("retainer", o), teeth=teeth(on)) for o, on in holding.items()]
    return say(
        "answer.design",
        connector=Choice("connector", framework.connector),
        alloy=Choice("alloy", framework.design.alloy) if framework.design.alloy else None,
        held=several(held, "and"),
        resting=teeth(resting) if resting else None,
    )


def _beside_the_next(analysis: "CaseAnalysis", answer: Recommendation, framework: Framework) -> Statement:
    if not answer.frameworks or framework is not answer.frameworks[0]:
        return say("answer.chosen")
    if len(answer.frameworks) < 2:
        return say("answer.alone")
    other = answer.frameworks[1]
    near = analysis.engine.knowledge.scoring.near_tie
    if framework.score - other.score <= near:
        return say("answer.equal", other=otherwise(other))
    return say("answer.ahead", other=otherwise(other), criteria=_criteria(other, "frameworks.gives_up"))


def otherwise(other: Framework) -> Statement:
    """A runner-up by the first part in which it differs."""
    for said in other.gives_up:
        if said.code == "frameworks.connector_instead":
            return say("answer.with_connector", taken=said.arg("taken"))
        if said.code == "frameworks.retainer_instead":
            taken = said.arg("taken")
            if isinstance(taken, Choice) and taken.option == "none":
                return say("answer.without_retainer", teeth=said.arg("teeth"))
            return say("answer.with_retainer", taken=taken, teeth=said.arg("teeth"))
    return say("answer.another")


def _criteria(other: Framework, code: str) -> Several | None:
    """What a runner-up gives up or gains, by name."""
    for said in other.gives_up:
        if said.code == code:
            lines = said.arg("criteria")
            if isinstance(lines, Several):
                return several(
                    (line.arg("criterion") for line in lines.items if isinstance(line, Statement)), "and"
                )
    return None


def cautions(analysis: "CaseAnalysis", answer: Recommendation, framework: Framework | None) -> Cautions:
    """What to mind, apart from what is said of every case alike."""
    rules = {rule.id: rule for rule in analysis.engine.knowledge.rules}
    own: list[Statement] = []
    questions: list[Statement] = []
    general: list[Statement] = []
    for said in dict.fromkeys((*(framework.cautions if framework else ()), *answer.cautions)):
        rule = rules.get(said.rule or "")
        if said.code.startswith("kennedy.") or (rule is not None and rule.effect == "question"):
            questions.append(said)
        elif rule is not None and not rule.when.facts:
            general.append(said)
        else:
            own.append(said)
    own.sort(key=lambda said: said.code == "waits_for_survey")  # holds wherever a tooth is prepared
    return Cautions(tuple(own), tuple(questions), tuple(general))


def speaking_against(analysis: "CaseAnalysis", framework: Framework) -> tuple[Decision, Statement] | None:
    """The precedent that speaks most against a part of the framework: it chose the same, and fared badly."""
    found: list[tuple[float, str, Decision, Statement]] = [
        (line.points, decision.key, decision, line.statement)
        for line_ in part_lines(analysis, framework)
        for decision in line_.decisions
        for line in _lines_at(analysis, framework, decision)
        if line.kind == "precedent" and line.same and line.points < 0
    ]
    worst = min(found, key=lambda one: one[:2], default=None)
    return None if worst is None else (worst[2], _without_voucher(worst[3]))


def _without_voucher(said: Statement) -> Statement:
    """How a precedent fared, without the reviewer's reason for keeping it: that stands among the precedents."""
    fared = said.arg("fared")
    if not isinstance(fared, Statement) or fared.code != "fared.vouched":
        return said
    args = tuple((key, fared.arg("fared") if key == "fared" else value) for key, value in said.args)
    return replace(said, args=args)


def before_and_after(analysis: "CaseAnalysis", before: Framework, after: Framework) -> tuple[Statement, ...]:
    """What became of a framework when a part was changed: the parts, then what got better and what worse."""
    weights = by_criterion(analysis, before), by_criterion(analysis, after)
    told = gives_up(before, after, *weights)
    changed = [
        say(
            "answer.replaced",
            teeth=teeth(on),
            taken=Choice("replacement", now),
            instead=Choice("replacement", was),
        )
        for (now, was), on in _replaced(before, after).items()
    ]
    return (*changed, *told)


def _replaced(before: Framework, after: Framework) -> dict[tuple[str, str], list[int]]:
    found: dict[tuple[str, str], list[int]] = {}
    for tooth, part in after.replacements.items():
        was = before.replacements.get(tooth, part)
        if was != part:
            found.setdefault((part, was), []).append(tooth)
    return found


def by_criterion(analysis: "CaseAnalysis", framework: Framework) -> dict[str, float]:
    """Points of the framework's score by criterion, as :func:`~recommender.advice.frameworks.compare.weigh` has it."""
    weights = analysis.engine.knowledge.figures.frameworks.weights
    considered = max(1, len(analysis.facts.considered))
    return points_by_criterion(
        (share, _lines_at(analysis, framework, decision))
        for decision, share in _scored(framework, weights.retainer / considered, weights.connector)
    )


def _scored(framework: Framework, retainer: float, connector: float) -> Iterator[tuple[Decision, float]]:
    yield Decision("connector"), connector
    for tooth in framework.retainers:
        yield Decision("retainer", tooth), retainer
