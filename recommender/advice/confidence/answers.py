"""How sure the answer to a case is: every decision, and the questions that wait before metal is cast.

Worked out only when asked for: the choice itself never waits for it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from recommender.advice.analysis import CaseAnalysis, NoAdviceError
from recommender.advice.confidence.deciding import WorldCase
from recommender.advice.confidence.framework_worlds import Candidate, FrameworkWorlds, candidate
from recommender.advice.confidence.learned import plausible_for
from recommender.advice.confidence.pool import brought_up, made_then, pool_of
from recommender.advice.confidence.ranked import Ranked
from recommender.advice.confidence.replacement_sets import ReplacementSets
from recommender.advice.confidence.standing import Answers, own_place, standing, taken_for_granted
from recommender.advice.confidence.values import Acceptability, BeforeMetal, ChoiceConfidence, Standing
from recommender.advice.confidence.worlds import Worlds
from recommender.advice.confidence.worth import Ask, Rare, Worth, worths
from recommender.advice.frameworks.assemble import assemble_or_say_why
from recommender.advice.frameworks.candidates import stock_of
from recommender.advice.frameworks.parts import Stock
from recommender.advice.indirect_retainers import indirect_seats
from recommender.advice.model import STATUS_ORDER, Decision, Framework
from recommender.collector import waits
from recommender.domain.fields import asked_in_vain, get_field, with_field

_TAKEN = 3


class Confidence:
    """How sure the decisions of one case are."""

    def __init__(self, analysis: CaseAnalysis, worlds: Worlds | None = None) -> None:
        self.analysis = analysis
        self.worlds = worlds or Worlds(analysis.facts, known=plausible_for(analysis.engine))
        self.world_case = WorldCase(analysis, self.worlds)
        self._choices: dict[tuple[Decision, str | None], ChoiceConfidence] = {}
        self._compared: tuple[Sequence[Framework], FrameworkWorlds] | None = None

    def decision(self, decision: Decision, option: str | None = None) -> ChoiceConfidence:
        """How sure an option of a decision is; the leading one, if none is named."""
        key = decision, option
        if key not in self._choices:
            self._choices[key] = (
                self.decision(decision, self.analysis.examine(decision).order()[0])
                if option is None
                else self._decision(decision, option)
            )
        return self._choices[key]

    @cached_property
    @waits()
    def decisions(self) -> dict[Decision, ChoiceConfidence]:
        """Every decision of the case."""
        return {decision: self.decision(decision) for decision in self.analysis.decisions()}

    def parts(self, framework: Framework) -> dict[Decision, ChoiceConfidence]:
        """How sure each part of a framework is at its own decision, be it the leading option there or not."""
        chosen = [
            *_parts(framework),
            *((Decision("rest", t), option) for t, option in framework.rests.items()),
        ]
        known = set(self.analysis.decisions())
        return {
            decision: self.decision(decision, option)
            for decision, option in chosen
            if decision in known and option in self.analysis.examine(decision).judged
        }

    @cached_property
    def before_metal(self) -> tuple[BeforeMetal, ...]:
        """Dangerous questions that are not answered, asked in vain or not asked yet."""
        case, found = self.analysis.case, []
        for line in self.worlds.known.standing.before_metal:
            pattern = line.field
            paths = (
                [pattern.replace("[]", f"[{tooth}]") for tooth in self.analysis.facts.considered]
                if "[]" in pattern
                else [pattern]
            )
            found += [
                BeforeMetal(path, line.why, asked_in_vain(case, path))
                for path in paths
                if get_field(case, path) is None
            ]
        return tuple(found)

    @waits()
    def frameworks(self, frameworks: Sequence[Framework]) -> tuple[ChoiceConfidence, ...]:
        """How sure each of some frameworks is, beside the others and what lies next to them."""
        if not frameworks:
            return ()
        compared = self.compared(frameworks)
        facts, both = compared.scores(), compared.scores(moved=True)
        judgement = compared.scores(moved=True, facts=False)
        return tuple(
            self._framework(place, framework, compared.fields, facts, both, judgement)
            for place, framework in enumerate(frameworks)
        )

    def compared(self, frameworks: Sequence[Framework]) -> FrameworkWorlds:
        """Some frameworks, and what lies next to them, in every world."""
        if self._compared is None or self._compared[0] is not frameworks:
            how = self.worlds.known.standing
            led = self._sets.most_often(np.ones(self.worlds.count, dtype=bool), how.could_change, how.sets)
            pool = [*map(candidate, frameworks), *pool_of(self._stock, frameworks, how.frameworks, led)]
            figures = self.analysis.engine.knowledge.figures.frameworks
            found = FrameworkWorlds(self.world_case, pool, figures)
            self._compared = frameworks, found
        return self._compared[1]

    def _made_then(self, compared: FrameworkWorlds, answer: Rare) -> Candidate | None:
        """The framework that the case would have with an answer, where that answer draws in what it lacks now."""
        if answer.field == "future_loss_likely":
            return None
        value = list(answer.value) if isinstance(answer.value, tuple) else answer.value
        try:
            analysis = CaseAnalysis(self.analysis.engine, with_field(self.analysis.case, answer.field, value))
        except NoAdviceError:
            return None
        results = {decision: analysis.decide(decision) for decision in analysis.decisions()}
        seats = indirect_seats(analysis.engine, analysis.facts)
        made, _ = assemble_or_say_why(analysis, results, seats, 1)
        return made_then(compared, made[0], answer.worlds) if made else None

    @cached_property
    def _stock(self) -> Stock:
        """All that frameworks of the case can be made of."""
        analysis = self.analysis
        results = {decision: analysis.decide(decision) for decision in analysis.decisions()}
        return stock_of(analysis, results, indirect_seats(analysis.engine, analysis.facts))

    @cached_property
    def _sets(self) -> ReplacementSets:
        return ReplacementSets(self.world_case, self._stock)

    def _framework(
        self,
        place: int,
        framework: Framework,
        fields: frozenset[str],
        facts: npt.NDArray[np.float64],
        both: npt.NDArray[np.float64],
        judgement: npt.NDArray[np.float64],
    ) -> ChoiceConfidence:
        near_tie = self.analysis.engine.knowledge.scoring.near_tie
        stands = _level(facts, place, near_tie)
        made = np.isfinite(both.max(axis=0))
        leaders = np.argmax(both, axis=0)[made]
        share = np.bincount(leaders, minlength=len(both)) / both.shape[1]
        otherwise = {str(i + 1): float(s) for i, s in enumerate(share) if i != place and s > 0}
        if not made.all():
            otherwise["none"] = float(1 - made.mean())  # every framework that is compared is blocked
        acceptability = Acceptability(
            first=float(_level(both, place, 0.0).mean()),
            not_blocked=float(np.isfinite(facts[place]).mean()),
            facts=float(_level(facts, place, 0.0).mean()),
            judgement=float(_level(judgement, place, 0.0).mean()),
            equal=float(stands.mean()),
            otherwise=otherwise,
        )
        own: dict[str, None] = {}
        for decision, option in _parts(framework):
            if decision in self.decisions:
                judged = self.analysis.examine(decision).chosen[option]
                own.update(dict.fromkeys(own_place(self.analysis.engine.knowledge, decision, judged)))
        answers = Answers(self.worlds, stands, fields)
        firsts = {str(i): float(_level(facts, i, 0.0).mean()) for i in range(len(facts))}
        word = standing(answers, tuple(own), firsts, str(place))
        if word.leads is not None:
            word = replace(word, leads=str(int(word.leads) + 1))
        return ChoiceConfidence(
            str(place + 1),
            acceptability,
            word,
            {},
            tuple(dict.fromkeys((*own, *answers.telling))),
            taken_for_granted(self.worlds, answers.telling)[:_TAKEN],
        )

    def worth(self, frameworks: Sequence[Framework]) -> tuple[Worth, tuple[str, ...]]:
        """What answers are worth to the choice among frameworks; where there is none, among connectors. With the fields
        that can be asked for."""
        if frameworks:
            return self._worth_of(self.compared(frameworks))
        ranked = self.world_case.ranked(Decision("connector"))
        stands = np.array([ranked.leads(option) for option in ranked.options])
        answers = Answers(self.worlds, stands[0], ranked.fields)
        return Worth(stands, answers.codes), answers.fields

    def _worth_of(self, compared: FrameworkWorlds) -> tuple[Worth, tuple[str, ...]]:
        scores = compared.scores()
        near_tie = self.analysis.engine.knowledge.scoring.near_tie
        stands = np.array([_level(scores, place, near_tie) for place in range(len(scores))])
        answers = Answers(self.worlds, stands[0], compared.fields)
        return Worth(stands, answers.codes), answers.fields

    @waits()
    def asking(self, frameworks: Sequence[Framework]) -> "Asking":
        """What it is worth to ask, field by field and as a set; with what rare answers would bring up."""
        worth, fields = self.worth(frameworks)
        how = self.worlds.known.standing.ask
        rare = worth.worse_with(fields, how.brings_up.least, how.brings_up.answers) if frameworks else []
        if rare:
            compared = self.compared(frameworks)
            worlds = [answer.worlds for answer in rare]
            wider = compared.with_more(
                brought_up(self._stock, frameworks, compared, worlds, self._sets, how.brings_up.beside)
            )
            worth, fields = self._worth_of(wider)
            left = worth.worse_with(fields, how.brings_up.least, how.brings_up.solved)
            again = [found for answer in left if (found := self._made_then(wider, answer)) is not None]
            if again:
                worth, fields = self._worth_of(wider.with_more(again))
        return Asking(self, worths(worth, fields), worth)

    def standing(self, decision: Decision, choice: str) -> tuple[Standing, Answers, tuple[str, ...]]:
        """How a choice stands over the facts that were not recorded, the fields behind it, and those of its own place
        that were not measured. The judgement in the figures is left as it is."""
        examined = self.analysis.examine(decision)
        facts = self.world_case.ranked(decision)
        own = own_place(self.analysis.engine.knowledge, decision, examined.chosen[choice])
        stands = facts.level(choice, self.analysis.engine.knowledge.scoring.near_tie)
        answers = Answers(self.worlds, stands, facts.fields)
        return standing(answers, own, facts.first(), choice), answers, own

    def _decision(self, decision: Decision, choice: str) -> ChoiceConfidence:
        examined, world = self.analysis.examine(decision), self.world_case
        facts = world.ranked(decision)
        firsts = world.ranked(decision, moved=True).first()
        word, answers, own = self.standing(decision, choice)
        acceptability = Acceptability(
            first=firsts[choice],
            not_blocked=_not_blocked(facts, choice, STATUS_ORDER.index(examined.chosen[choice].status)),
            facts=float(facts.leads(choice).mean()),
            judgement=float(world.judgement(decision).leads(choice).mean()),
            equal=float(answers.stands.mean()),
            otherwise={option: share for option, share in firsts.items() if option != choice and share > 0},
        )
        return ChoiceConfidence(
            choice,
            acceptability,
            word,
            firsts,
            tuple(dict.fromkeys((*own, *answers.telling))),
            taken_for_granted(self.worlds, answers.telling)[:_TAKEN],
        )


class Asking:
    """What answers are worth to the best framework's acceptability. ``worths`` by field; ``next`` as a set."""

    def __init__(self, confidence: Confidence, worths_: dict[str, float], worth: Worth) -> None:
        self.confidence = confidence
        self.worths = worths_
        self._worth = worth

    @property
    def now(self) -> float:
        """The acceptability of the best framework before anything is answered."""
        return self._worth.now

    @cached_property
    def next(self) -> tuple[Ask, ...]:
        """The few fields worth most as a set, the first the best by itself."""
        return self._worth.ask_next(self.worths, self.confidence.worlds.known.standing.ask)

    def hangs_on(self, field: str) -> tuple[str, ...]:
        """The decisions whose choice a field could change."""
        return tuple(d.path for d, own in self.confidence.decisions.items() if field in own.unverified)


def _level(scores: npt.NDArray[np.float64], place: int, margin: float) -> npt.NDArray[np.bool_]:
    """Where one line is the highest, or within ``margin`` of it."""
    top = scores.max(axis=0)
    found: npt.NDArray[np.bool_] = np.isfinite(scores[place]) & (scores[place] >= top - margin - 1e-9)
    return found


def _parts(framework: Framework) -> Iterator[tuple[Decision, str]]:
    for tooth, option in framework.retainers.items():
        yield Decision("retainer", tooth), option
    for tooth, option in framework.replacements.items():
        yield Decision("replacement", tooth), option
    yield Decision("connector"), framework.connector


def _not_blocked(ranked: Ranked, choice: str, now: int) -> float:
    """Share of worlds in which nothing stands against a choice that does not stand against it already."""
    return float((ranked.status_of(choice) <= np.int8(max(1, now))).mean())
