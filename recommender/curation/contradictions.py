"""Where a stored design goes against the rules: a choice that the rules exclude or advise against."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.model import BlockedBy, Decision, DecisionResult
from recommender.advice.recommend import Recommender
from recommender.domain.case import Case
from recommender.domain.statement import Choice, Said, Statement, Word, say, several

AGAINST = ("excluded", "advised_against")


@dataclass(frozen=True, slots=True)
class Contradiction:
    """One choice of a design that the rules speak against, and what speaks against it."""

    decision: Decision
    option: str
    status: str
    blocks: tuple[BlockedBy, ...]

    @property
    def statement(self) -> Statement:
        """What goes against what."""
        blocks = (
            say("contradiction.why", why=block.statement, cited=Said(block.source)) for block in self.blocks
        )
        return say(
            "contradiction",
            decision=self.decision,
            option=Choice(self.decision.kind, self.option),
            status=Word("status", self.status),
            why=several(blocks),
        )


@cache
def _rules_only() -> Recommender:
    # blocks are never outvoted by precedents, so none are needed to find them
    return Recommender(None)


def made_ready() -> None:
    """Loads what every later look needs."""
    _rules_only()


def contradictions(case: Case, recommender: Recommender | None = None) -> list[Contradiction]:
    """Every choice of the case's design that is excluded or advised against, in the order of the design."""
    if case.design is None or not case.missing:
        return []
    analysis = (recommender or _rules_only()).work(case)
    found = []
    for decision, option, given in _made(analysis):
        judged = analysis.judged_alone(decision, option, given)
        if judged is not None and judged.status in AGAINST:
            found.append(Contradiction(decision, option, judged.status, judged.blocks))
    return found


def statements(case: Case) -> list[Statement]:
    """The contradictions as statements."""
    return [contradiction.statement for contradiction in contradictions(case)]


Checker = Callable[[Case], list[Statement]]


def chosen(analysis: CaseAnalysis) -> Iterator[tuple[Decision, str, DecisionResult]]:
    """Each choice of the design with the worked-out decision; rests as ranked for the assembly they go with."""
    for decision, option, given in _made(analysis):
        worked_out = analysis.decide(decision) if given is None else analysis.rest_for(decision.tooth, given)
        yield decision, option, worked_out


def _made(analysis: CaseAnalysis) -> Iterator[tuple[Decision, str, str | None]]:
    """Each choice of the design; a rest with the assembly that it goes with."""
    design = analysis.case.design
    if design is None:
        return
    known = set(analysis.decisions())
    if design.connector is not None:
        yield Decision("connector"), design.connector, None
    rests: dict[int, str] = dict(design.rests or {})
    assemblies: dict[int, str] = {}
    for part in design.retainers or ():
        decision = Decision("retainer", part.tooth)
        if decision not in known:
            continue
        assemblies[part.tooth] = part.assembly
        if part.rest is not None:
            rests.setdefault(part.tooth, part.rest)
        yield decision, part.assembly, None
    for tooth, rest in sorted(rests.items()):
        decision = Decision("rest", tooth)
        if decision in known:
            # a seat without an assembly of its own is a rest alone
            yield decision, rest, assemblies.get(tooth, "rest_only")
    for tooth, option in sorted((design.replacements or {}).items()):
        decision = Decision("replacement", tooth)
        if decision in known:
            yield decision, option, None
