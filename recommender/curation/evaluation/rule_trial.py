"""Changed rules tried on a library: at which decisions of which cases another option would lead.

Each case is advised twice, with the rules as they are and with the changed ones, and with the same precedents
(never the case itself). Nothing is written.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.model import Decision, DecisionResult, OptionResult, Recommendation
from recommender.advice.precedents import derived, differ
from recommender.advice.recommend import Recommender
from recommender.curation.contradictions import AGAINST
from recommender.curation.evaluation.leave_one_out import choices
from recommender.curation.evaluation.shares import exact
from recommender.domain.case import Case
from recommender.domain.statement import Arg, Choice, say, several
from recommender.knowledge.differences import Differences, differences
from recommender.knowledge.house import Profile, in_house
from recommender.knowledge.model import Knowledge
from recommender.precedents.library import PrecedentLibrary

Progress = Callable[[int, int], None]
FRAMEWORK = "framework"


@dataclass(frozen=True, slots=True)
class Change:
    """One decision of one case at which another option leads. Scores are 0-100; ``stored`` is what the case's
    own design chose there (``None`` where it says nothing)."""

    case_id: str
    decision: str
    before: str
    before_score: float
    after: str
    after_score: float
    stored: str | None
    parts: tuple[tuple[tuple[Decision, str], ...], ...] = ((), ())

    def leads(self, now: bool) -> Arg:
        """What leads by the rules in use (``now``), or would: the option, or the parts that only this framework has."""
        if self.decision != FRAMEWORK:
            return Choice(self.decision.partition(":")[0], self.before if now else self.after)
        return several([say("part", decision=d, option=Choice(d.kind, o)) for d, o in self.parts[not now]])


@dataclass(frozen=True, slots=True)
class Barred:
    """A choice of a stored design that the changed rules take out or advise against, or no longer do."""

    case_id: str
    decision: str
    option: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """Of the changed decisions: at how many the stored choice leads only now (``better``), led only before
    (``worse``), or
    neither; with the exact interval (0-1) of the share of better among better and worse."""

    better: int
    worse: int
    neither: int
    low: float
    high: float

    @property
    def telling(self) -> str:
        """``better`` or ``worse`` where the interval leaves out one half, else ``open``."""
        return "better" if self.low > 0.5 else "worse" if self.high < 0.5 else "open"


@dataclass(frozen=True, slots=True)
class Trial:
    """What would change. ``moved`` counts options whose score or status changes at all; ``agree_before`` and
    ``agree_after`` count the decisions at which the stored choice leads, of ``judged``."""

    cases: int
    decisions: int
    moved: int
    changes: tuple[Change, ...]
    barred: tuple[Barred, ...]
    freed: tuple[Barred, ...]
    judged: int
    agree_before: int
    agree_after: int

    @property
    def verdict(self) -> "Verdict":
        """What the changed decisions say: those whose stored choice is known, better, worse or neither."""
        known = [change for change in self.changes if change.stored is not None]
        better = sum(change.stored == change.after for change in known)
        worse = sum(change.stored == change.before for change in known)
        low, high = exact(better, better + worse)
        return Verdict(better, worse, len(known) - better - worse, low, high)

    @property
    def touched(self) -> tuple[str, ...]:
        """The cases in which another option would lead, by id."""
        return tuple(sorted({change.case_id for change in self.changes}))


def kinds(changed: Differences, before: Knowledge, after: Knowledge) -> frozenset[str]:
    """The kinds of decision that these differences can bear on; rests follow the retainer of their tooth."""
    rules: dict[str, str] = {rule.id: rule.decision for known in (before, after) for rule in known.rules}
    found: set[str] = {rules[name] for name in (*changed.added, *changed.removed, *changed.changed)}
    found |= {decision for decision, *_ in changed.weights}
    if changed.shifts or any(not name.startswith("curation/") for name, *_ in changed.figures):
        found |= set(after.criteria.base)
    if "retainer" in found:
        found.add("rest")
    return frozenset(found)


def try_rules(
    cases: Sequence[Case],
    before: Knowledge,
    after: Knowledge,
    library: PrecedentLibrary | None = None,
    progress: Progress = lambda _done, _of: None,
    *,
    frameworks: bool = False,
) -> Trial:
    """Tries the changed rules on every case in which a tooth is to be replaced.

    ``frameworks`` also compares the first whole framework of each case (slower); it is then a decision of
    its own, named ``framework``. ``progress`` is told how many cases are done, of how many.
    """
    changed = differences(before, after)
    wanted = kinds(changed, before, after)
    old = Recommender(library, before)
    new = Recommender(_precedents(library, cases, before, after), after)
    return _tried(cases, old, new, wanted, progress, frameworks=frameworks)


def try_profile(
    cases: Sequence[Case],
    base: Knowledge,
    profile: Profile,
    library: PrecedentLibrary | None = None,
    progress: Progress = lambda _done, _of: None,
) -> Trial:
    """As ``try_rules``, with a house profile put in."""
    old, new = Recommender(library, base), Recommender(library, in_house(base, profile))
    wanted = frozenset(profile.decisions) | ({"rest"} if "retainer" in profile.decisions else frozenset())
    return _tried(cases, old, new, wanted, progress)


def _tried(
    cases: Sequence[Case],
    old: Recommender,
    new: Recommender,
    wanted: frozenset[str],
    progress: Progress,
    *,
    frameworks: bool = False,
) -> Trial:
    sound = [case for case in cases if case.missing]
    counted = _Count()
    for done, case in enumerate(sound, start=1):
        asked = case.model_copy(update={"design": None, "outcome": None, "dentist_answer": None})
        counted.case(case, old.work(asked), new.work(asked), wanted)
        if frameworks:
            counted.frameworks(case, old.recommend(asked, 1), new.recommend(asked, 1))
        progress(done, len(sound))
    return counted.trial(len(sound))


def _precedents(
    library: PrecedentLibrary | None, cases: Sequence[Case], before: Knowledge, after: Knowledge
) -> PrecedentLibrary | None:
    """The precedents as the changed figures make them; the library itself where those figures are the same."""
    if library is None or not differ(before, after):
        return library
    return derived(cases, after)


class _Count:
    def __init__(self) -> None:
        self.decisions = self.moved = self.judged = self.agree_before = self.agree_after = 0
        self.changes: list[Change] = []
        self.barred: list[Barred] = []
        self.freed: list[Barred] = []

    def trial(self, cases: int) -> Trial:
        return Trial(
            cases, self.decisions, self.moved, tuple(self.changes), tuple(self.barred), tuple(self.freed),
            self.judged, self.agree_before, self.agree_after,
        )  # fmt: skip

    def case(self, case: Case, old: CaseAnalysis, new: CaseAnalysis, wanted: frozenset[str]) -> None:
        stored = {decision.key: option for decision, option in (choices(case.design) if case.design else ())}
        for decision in old.decisions():
            if decision.kind in wanted:
                self._decision(case.id, decision, old.decide(decision), new.decide(decision), stored)

    def _decision(
        self,
        case_id: str,
        decision: Decision,
        before: DecisionResult,
        after: DecisionResult,
        stored: dict[str, str],
    ) -> None:
        self.decisions += 1
        first, then = before.ranked[0], after.ranked[0]
        now = {option.option: option for option in after.ranked}
        self.moved += sum(
            _moved(option, now[option.option]) for option in before.ranked if option.option in now
        )
        own = stored.get(decision.key)
        if own in now:
            self.judged += 1
            self.agree_before += own == first.option
            self.agree_after += own == then.option
            self._own(case_id, decision.key, before.option(own), now[own])
        if first.option != then.option:
            self.changes.append(
                Change(case_id, decision.key, first.option, first.score, then.option, then.score, own)
            )

    def _own(self, case_id: str, key: str, before: OptionResult, after: OptionResult) -> None:
        line = Barred(case_id, key, before.option, before.status, after.status)
        if after.status in AGAINST and before.status not in AGAINST:
            self.barred.append(line)
        elif before.status in AGAINST and after.status not in AGAINST:
            self.freed.append(line)

    def frameworks(self, case: Case, before: Recommendation, after: Recommendation) -> None:
        self.decisions += 1
        one, other = _parts(before), _parts(after)
        if one != other:
            scores = [answer.frameworks[0].score if answer.frameworks else 0.0 for answer in (before, after)]
            gone, come = (tuple(sorted(parts)) for parts in (one - other, other - one))
            self.changes.append(
                Change(
                    case.id, FRAMEWORK, _listed(gone), scores[0], _listed(come), scores[1], None, (gone, come)
                )
            )


def _moved(before: OptionResult, after: OptionResult) -> bool:
    return before.status != after.status or abs(before.score - after.score) > 1e-9


def _listed(parts: Sequence[tuple[Decision, str]]) -> str:
    return ", ".join(f"{decision.key}={option}" for decision, option in parts) or "none"


def _parts(answer: Recommendation) -> set[tuple[Decision, str]]:
    if not answer.frameworks:
        return set()
    first = answer.frameworks[0]
    by_kind = {"retainer": first.retainers, "replacement": first.replacements, "rest": first.rests}
    parts = {
        (Decision(kind, tooth), option) for kind, held in by_kind.items() for tooth, option in held.items()
    }
    return parts | {(Decision("connector"), first.connector)}
