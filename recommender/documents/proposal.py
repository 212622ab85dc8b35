"""What is being put on paper: a framework of the recommendation, or the case's own design, with its results."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from recommender.advice.confidence.values import BeforeMetal
from recommender.advice.model import Decision, Framework, OptionResult, PreparationStep, Recommendation
from recommender.advice.review import items_of
from recommender.domain.case import Case
from recommender.domain.designs import Design
from recommender.domain.statement import Name, Statement, say, several
from recommender.domain.statement import count as number_of
from recommender.wording.words import StatedError, words_in

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


class NoDesignError(StatedError):
    """Nothing to draw or print: no framework of that number, or no design of the case's own; ``statement`` says so."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Where the rules and the precedents come from, for the foot of the page.

    ``library`` is the stamp of the library (``none`` without one), ``demo`` whether it is the invented
    demonstration library.
    """

    rules: str
    library: str
    demo: bool = False


def origin_of(library: str, *, demo: bool) -> Origin:
    """The stamps of rules and library for the foot of a page; ``library`` is the library's version."""
    from recommender.knowledge.packaged import digest
    from recommender.version import __version__

    stamp = say("papers.rules", version=Name(__version__), stamp=Name(digest()[:10]))
    return Origin(words_in().text(stamp), library[:12], demo)


@dataclass(frozen=True, slots=True)
class Flag:
    """Something that cannot be made as it was designed or asked for: the tooth (0 for the frame), and why."""

    tooth: int
    said: Statement


@dataclass(frozen=True, slots=True)
class Proposal:
    """A design with the result of each of its choices. ``framework`` is ``None`` for the case's own design.

    ``unverified`` are the fields that were not recorded and on which a choice rests; the design is provisional
    where there is any, or where the framework itself says so. ``waits``: its bench ticket waits, because dangerous
    questions (``before_metal``) are not answered, or because unrecorded facts leave the choice open. ``faults`` are
    what cannot be made of it, once :func:`flagged` has looked.
    """

    case: Case
    design: Design
    chosen: Mapping[Decision, OptionResult]
    framework: Framework | None
    provisional: bool
    unverified: tuple[str, ...]
    preparation: tuple[PreparationStep, ...]
    waits: bool = False
    before_metal: tuple[BeforeMetal, ...] = ()
    faults: tuple[Flag, ...] = ()

    def option(self, kind: str, tooth: int = 0) -> str | None:
        """What the design takes at a decision, or ``None``."""
        result = self.chosen.get(Decision(kind, tooth))
        return result.option if result is not None else None


def proposal_of(answer: Recommendation, number: int = 1) -> Proposal:
    """Framework ``number`` (1 is the best). Raises :class:`NoDesignError` if there is none of that number."""
    count = len(answer.frameworks)
    if not 1 <= number <= count:
        code = "papers.no_framework_number" if count else "papers.no_framework"
        last = number_of(count) if count else None
        raise NoDesignError(say(code, case=Name(answer.case.id), number=number_of(number), last=last))
    framework = answer.frameworks[number - 1]
    chosen = _chosen(answer, framework.design)
    told = framework.standing
    waits = framework.provisional if told is None else told.word == "open" or bool(answer.before_metal)
    return Proposal(
        answer.case, framework.design, chosen, framework, framework.provisional,
        _unverified(chosen) if told is None else framework.unverified, framework.preparation, waits,
        answer.before_metal,
    )  # fmt: skip


def own_design(answer: Recommendation) -> Proposal:
    """The case's own design, each choice looked up in the recommendation."""
    design = answer.case.design
    if design is None:
        raise NoDesignError(say("papers.no_own_design", case=Name(answer.case.id)))
    chosen = _chosen(answer, design)
    steps = tuple(
        PreparationStep(step.tooth, step.surface or "", step.action) for step in design.preparation or ()
    )
    provisional = any(result.provisional for result in chosen.values())
    waits = provisional or bool(answer.before_metal)
    return Proposal(
        answer.case, design, chosen, None, provisional, _unverified(chosen), steps, waits, answer.before_metal
    )


def faults_in(analysis: "CaseAnalysis", design: Design, *, asked_too: bool = False) -> tuple[Flag, ...]:
    """What cannot be made of a design. ``asked_too``: of the clasps that the prescription names, and of the case's own
    design, as well.
    """
    from recommender.advice.frameworks.stored import cannot_be_made, faults_of_design

    found = list(_flags(faults_of_design(analysis, design)))
    case = analysis.case
    asked = case.prescription if asked_too else None
    if asked is not None and asked.retainers:
        rests = {tooth: str(rest) for tooth, rest in (asked.rests or {}).items()}
        wanted = {tooth: str(option) for tooth, option in asked.retainers.items()}
        found += _flags(cannot_be_made(analysis, wanted, rests))
    if asked_too and case.design is not None and case.design is not design:
        stored = _flags(faults_of_design(analysis, case.design))
        found += [Flag(flag.tooth, say("papers.in_stored_design", what=flag.said)) for flag in stored]
    return tuple(sorted(dict.fromkeys(found), key=lambda flag: flag.tooth))


def flagged(analysis: "CaseAnalysis", proposal: Proposal, *, asked_too: bool = False) -> Proposal:
    """The proposal with what cannot be made of it; ``asked_too`` as in :func:`faults_in`."""
    return replace(proposal, faults=faults_in(analysis, proposal.design, asked_too=asked_too))


def _flags(found: Mapping[int, tuple[Statement, ...]]) -> tuple[Flag, ...]:
    return tuple(
        Flag(tooth, say("papers.row", parts=told))
        for tooth, said in sorted(found.items())
        if (told := several(said)) is not None
    )


def _chosen(answer: Recommendation, design: Design) -> dict[Decision, OptionResult]:
    results = {Decision("connector"): answer.connector}
    results |= {Decision("retainer", tooth): result for tooth, result in answer.retainers.items()}
    results |= {Decision("replacement", tooth): result for tooth, result in answer.replacements.items()}
    results |= {Decision("rest", tooth): result for tooth, result in answer.rests.items()}
    found: dict[Decision, OptionResult] = {}
    for decision, option in items_of(design):
        if decision in results:
            try:
                found[decision] = results[decision].option(option)
            except KeyError:
                continue
    return found


def _unverified(chosen: Mapping[Decision, OptionResult]) -> tuple[str, ...]:
    decided = [result for decision, result in chosen.items() if decision.kind != "rest"]
    return tuple(
        dict.fromkeys(path for result in decided if result.provisional for path in result.unverified)
    )
