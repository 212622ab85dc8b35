"""Exercises from approved cases: the learner sees the case without its design and makes every decision.

The answer to a decision is never just right or wrong. It is told where it stands under the rules (excluded
and why, advised against, after preparation, acceptable, among the leading), what the rules hold against and
for it, what the case in the library did, and what the nearest precedents did.
"""

import hashlib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.model import USABLE, Contribution, Decision, DecisionResult, OptionResult
from recommender.advice.recommend import Recommender, recommendation
from recommender.curation.contradictions import chosen
from recommender.domain.case import Case
from recommender.domain.statement import Choice, Name, Said, Statement, quantity, say, several, tooth
from recommender.knowledge.model import NO_SOURCE
from recommender.precedents.model import Neighbour
from recommender.precedents.outcome_value import verdict

Standing = Literal[
    "excluded", "advised_against", "uncalled_for", "needs_preparation", "behind", "acceptable", "favoured"
]
STANDINGS: tuple[Standing, ...] = (
    "favoured", "acceptable", "behind", "needs_preparation", "uncalled_for", "advised_against", "excluded",
)  # fmt: skip
# A tooth with one of these carries no clasp; a rest on it is a decision of its own.
UNCLASPED = frozenset({"none", "rest_only"})


class UnknownAnswerError(ValueError):
    """An answer to a decision that the exercise does not ask, or that the vocabulary does not know."""


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of ``shared/curation/exercises.yaml``."""

    close: float
    wide: float
    precedents: int
    told: int
    counts: float
    recall: float
    leaves: int
    candidates: int


@dataclass(frozen=True, slots=True)
class Question:
    """One decision to make, the options to choose from, and how close the leading ones lie (0 easy, 1 hard)."""

    decision: Decision
    options: tuple[str, ...]
    closeness: float


@dataclass(frozen=True, slots=True)
class Exercise:
    """A case to work out. ``case`` is without design, outcome, review and title; ``difficulty`` 0-1;
    ``principles`` are the rules that its decisions turn on."""

    id: str
    case_id: str
    revision: int
    case: Case
    kennedy: str
    questions: tuple[Question, ...]
    difficulty: float
    principles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Feedback:
    """What is said to one answer.

    ``why`` says where it stands; ``instead`` the leading option with what speaks for it (``None``
    where the answer is among the leading); ``library`` what the case in the library did; ``precedents`` what
    the nearest stored cases did, as (option, how many), ``beside`` the nearest that speaks for the answer and the
    nearest that speaks against it. ``missed`` and ``met`` are ids of the rules
    concerned.
    """

    decision: Decision
    answer: str
    standing: Standing
    why: tuple[Statement, ...]
    instead: Statement | None
    library: str | None
    precedents: tuple[tuple[str, int], ...]
    missed: tuple[str, ...]
    in_play: tuple[str, ...]
    beside: tuple[Statement, ...] = ()


def figures() -> Figures:
    """The figures in use."""
    from recommender.knowledge.in_force import knowledge

    return Figures(**knowledge().figures.exercises.model_dump(exclude={"format"}))


def exercise_id(case_id: str, revision: int) -> str:
    """A name for the exercise that does not tell which stored case it is."""
    return "ex-" + hashlib.blake2b(f"{case_id}@{revision}".encode(), digest_size=4).hexdigest()


def hidden(case: Case, name: str) -> Case:
    """The case as the learner sees it: findings, nothing that tells what was done.

    Of the prescription only what the dentist ruled out and the alloy stay: the rest gives answers away.
    """
    taken = dict.fromkeys(("title", "design", "dentist_answer", "outcome", "review", "source"))
    asked = case.prescription
    if asked is not None:
        given = dict.fromkeys(("retainers", "connector", "replacements", "rests", "note"))
        asked = asked.model_copy(update=given)
        asked = asked if asked.model_dump(exclude_none=True) else None
    return case.model_copy(update={**taken, "prescription": asked, "id": name})


def exercise(case: Case, revision: int, recommender: Recommender, known: Figures | None = None) -> Exercise:
    """The exercise of a case. Raises ``NoAdviceError`` for one in which nothing is to be replaced."""
    given = known or figures()
    name = exercise_id(case.id, revision)
    # worked out under its own id, so that the stored case is never its own precedent
    analysis = recommender.work(hidden(case, case.id))
    results = [analysis.decide(decision) for decision in analysis.decisions()]
    asked = [result for result in results if len(result.ranked) > 1]
    questions = tuple(
        Question(result.decision, _options(result), closeness(result, given)) for result in asked
    )
    difficulty = sum(question.closeness for question in questions) / len(questions) if questions else 0.0
    turned_on = {principle for result in asked for principle in in_play(result, given)}
    kennedy = str(analysis.facts.classification.label)
    return Exercise(
        name, case.id, revision, hidden(case, name), kennedy, questions, difficulty, tuple(sorted(turned_on))
    )


def _options(result: DecisionResult) -> tuple[str, ...]:
    # in the order of the alphabet: the ranking would give the answer away
    return tuple(sorted(option.option for option in result.ranked))


def closeness(result: DecisionResult, known: Figures) -> float:
    """How close the two leading options lie, if both are open to choice: 1 for a tie, 0 for a wide gap or no
    rival.
    """
    first, second = result.ranked[:2]
    if second.status != first.status or second.status == "excluded":
        return 0.0
    return max(0.0, 1.0 - (first.score - second.score) / known.wide)


def feedback(
    case: Case, answers: Mapping[str, str], recommender: Recommender, known: Figures | None = None
) -> list[Feedback]:
    """What is said to each answer, by decision key (``retainer:14``, ``connector``).

    A rest is judged for the retainer that the learner chose at that tooth. A clasp on a tooth that carries none both in
    the case's design and in the leading framework is not called for, whatever its rank among clasps, unless it lies
    as near to the best option without one as a near tie does. ``case`` is the
    stored case, with its design. Raises ``UnknownAnswerError`` for a decision or an option that is not asked.
    """
    return Examiner(case, recommender, known).say(answers)


class Examiner:
    """One exercise being answered, a decision at a time or all at once: the case is worked out once.

    ``case`` is the stored case, with its design.
    """

    def __init__(self, case: Case, recommender: Recommender, known: Figures | None = None) -> None:
        self.known = known or figures()
        self.analysis = recommender.work(hidden(case, case.id))
        self._by_key = {decision.key: decision for decision in self.analysis.decisions()}
        self._did = _did(recommender, case)

    @cached_property
    def _bare(self) -> frozenset[int]:
        return _unclasped(self.analysis, self._did)

    def say(self, answers: Mapping[str, str], only: str | None = None) -> list[Feedback]:
        """What is said to each answer, or to one of them (``only``, a decision key) in the light of all."""
        by_key = self._by_key
        said = []
        for key in sorted(answers, key=list(by_key).index if set(answers) <= set(by_key) else str):
            decision = by_key.get(key)
            if decision is None:
                raise UnknownAnswerError(f"{key}: not asked here; asked are {', '.join(by_key)}")
            if only is not None and key != only:
                continue
            result = self.analysis.decide(decision)
            retainer = answers.get(f"retainer:{decision.tooth}") if decision.kind == "rest" else None
            if retainer is not None:
                result = self.analysis.rest_for(decision.tooth, retainer)
            told = _feedback(self.analysis, result, answers[key], self._did.get(key), self.known)
            bare = decision.kind == "retainer" and decision.tooth in self._bare
            said.append(
                _of_the_whole(told, near=_near_bare(result, told.answer, self.known)) if bare else told
            )
        return said


def _did(recommender: Recommender, case: Case) -> dict[str, str]:
    """What the design has for every decision: a tooth that it does not mention carries nothing."""
    analysis = recommender.work(case)
    nothing = {
        decision.key: "none" for decision in analysis.decisions() if decision.kind in ("retainer", "rest")
    }
    return nothing | {decision.key: option for decision, option, _ in chosen(analysis)}


def _unclasped(analysis: CaseAnalysis, did: Mapping[str, str]) -> frozenset[int]:
    """Teeth that carry no clasp in the design nor in the leading framework."""
    whole = recommendation(analysis, frameworks=1).frameworks
    if not whole:
        return frozenset()
    clasped = {tooth for tooth, option in whole[0].retainers.items() if option not in UNCLASPED}
    teeth = {decision.tooth for decision in analysis.decisions() if decision.kind == "retainer"}
    return frozenset(tooth for tooth in teeth - clasped if did.get(f"retainer:{tooth}") in UNCLASPED)


def _near_bare(result: DecisionResult, answer: str, known: Figures) -> bool:
    """Whether a clasp lies as near to the best option without one as a near tie does."""
    clasp = result.option(answer)
    best = next(
        (one for one in result.ranked if one.option in UNCLASPED and one.status == clasp.status), None
    )
    return best is not None and clasp.status in USABLE and abs(best.score - clasp.score) <= known.close


def _of_the_whole(told: Feedback, *, near: bool) -> Feedback:
    """What is said where the whole framework calls for no clasp on the tooth. A near tie is never wrong, there neither;
    it is not praised."""
    if told.answer in UNCLASPED:
        return replace(told, standing="favoured", why=(say("feedback.bare"),), instead=None, missed=())
    if told.standing in ("advised_against", "excluded"):
        return told
    instead = say("feedback.whole", option=Choice("retainer", "none"))
    if near:
        near_tie = (say("feedback.near_bare"), *told.why)
        return replace(told, standing="acceptable", why=near_tie, instead=instead, missed=())
    return replace(
        told, standing="uncalled_for", why=(say("feedback.uncalled"), *told.why), instead=instead, missed=()
    )


def _feedback(
    analysis: CaseAnalysis, result: DecisionResult, answer: str, did: str | None, known: Figures
) -> Feedback:
    decision = result.decision
    try:
        chosen_option = result.option(answer)
    except KeyError:
        options = ", ".join(_options(result))
        raise UnknownAnswerError(
            f"{decision.key}: {answer} is not an option; choose from {options}"
        ) from None
    first = result.ranked[0]
    standing = _standing(chosen_option, first, known)
    against = [line for line in _rules(chosen_option) if line.points < 0][: known.told]
    favour = [line for line in _rules(chosen_option) if line.points > 0][: known.told]
    better = _better(first, chosen_option, known) if standing != "favoured" else []
    why = [
        say("feedback.cited", why=block.statement, cited=Said(block.source))
        for block in chosen_option.blocked_by
    ]
    why += [say("feedback.unlocked", work=step.work) for step in chosen_option.unlocked_by]
    why += [_told(line, "feedback.against") for line in against] + [
        _told(line, "feedback.for") for line in favour
    ]
    instead = None
    if standing != "favoured":
        apart = first.score - chosen_option.score
        instead = say(
            "feedback.first",
            option=Choice(decision.kind, first.option),
            points=quantity(apart, "points", 0) if first.status == chosen_option.status else None,
            reasons=several(_told(line, "feedback.cited") for line in better),
        )
    neighbours = analysis.engine.nearest(analysis.facts, decision, known.precedents, result.given)
    counted = Counter(n.situation.choice for n in neighbours if n.situation.choice is not None)
    missed = _missed(chosen_option, better, against, standing, known)
    if answer == did and standing in ("acceptable", "behind"):
        missed = ()  # what the case itself did is never a principle missed
    return Feedback(
        decision, answer, standing, tuple(why), instead, did, tuple(counted.most_common()), missed,
        in_play(result, known), _beside(neighbours, decision, answer),
    )  # fmt: skip


def _beside(neighbours: Sequence[Neighbour], decision: Decision, answer: str) -> tuple[Statement, ...]:
    """The nearest precedent that speaks for an answer, and the nearest that speaks against it: one that fared badly
    with it, or fared well with something else."""
    told = [one.situation for one in neighbours]
    ours = next(
        (n for n, s in zip(neighbours, told, strict=True) if s.choice == answer and s.worth > 0), None
    )
    other = next(
        (
            n
            for n, s in zip(neighbours, told, strict=True)
            if s.worth and (s.choice == answer) == (s.worth < 0)
        ),
        None,
    )
    found = []
    for code, one in (("feedback.precedent_for", ours), ("feedback.precedent_against", other)):
        if one is not None:
            stored = one.situation
            site = tooth(stored.site) if stored.site else None
            chosen_there, alike = Choice(decision.kind, str(stored.choice)), quantity(one.likeness, digits=2)
            case, fared = Name(stored.case_id), verdict(stored.verdict)
            found.append(say(code, case=case, site=site, chosen=chosen_there, likeness=alike, fared=fared))
    return tuple(found)


def _standing(option: OptionResult, first: OptionResult, known: Figures) -> Standing:
    behind = first.score - option.score
    if option.status in USABLE and option.status == first.status and behind <= known.close:
        return "favoured"
    if option.status == "open":
        return "acceptable" if behind <= known.wide else "behind"
    return option.status


def _rules(option: OptionResult) -> list[Contribution]:
    lines = [line for line in option.contributions if line.kind == "rule"]
    return sorted(lines, key=lambda line: (-abs(line.points), line.id))


def _told(line: Contribution, code: str) -> Statement:
    return say(code, why=line.statement, cited=Said(line.source or NO_SOURCE))


def _better(first: OptionResult, answer: OptionResult, known: Figures) -> list[Contribution]:
    """The rules that speak for the leading option and not for the answer, the weightiest first."""
    held = {line.id: line.points for line in _rules(answer)}
    lines = [
        line
        for line in _rules(first)
        if line.points > 0 and line.points - held.get(line.id, 0.0) >= known.counts
    ]
    return lines[: known.told]


def _missed(
    answer: OptionResult,
    better: Sequence[Contribution],
    against: Sequence[Contribution],
    standing: Standing,
    known: Figures,
) -> tuple[str, ...]:
    if standing in ("excluded", "advised_against"):
        return tuple(dict.fromkeys(block.id for block in answer.blocked_by))
    if standing in ("acceptable", "behind"):
        weighty = [line for line in (*better, *against) if abs(line.points) >= known.counts]
        return tuple(line.id for line in sorted(weighty, key=lambda line: (-abs(line.points), line.id))[:1])
    return ()


def in_play(result: DecisionResult, known: Figures) -> tuple[str, ...]:
    """The principles that a decision turns on: rules that block an option, and the weightiest for the first."""
    found = {block.id for option in result.ranked for block in option.blocked_by}
    found |= {line.id for line in _rules(result.ranked[0]) if line.points >= known.counts}
    return tuple(sorted(found))
