"""The dentist's prescription, or a finished design, held against the recommendation, choice by choice.

Nothing is overruled here: every item says what was asked, what would lead, why, and what it costs to follow or
to depart, in words that leave the decision with the dentist.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from recommender.advice.explanation.contrast import contrast
from recommender.advice.explanation.counterfactuals.preparation import Price
from recommender.advice.frameworks.alloy import alloy_blocks, frame_alloy
from recommender.advice.frameworks.stored import cannot_be_made, faults_of_design
from recommender.advice.indirect_retainers import indirect_seats
from recommender.advice.model import Decision, DecisionResult
from recommender.advice.schools import other_school
from recommender.advice.verdicts import (
    Verdict,
    best_lines,
    precedents_of,
    price_told,
    priced,
    reasons_against,
    step_told,
    verdict_of,
    worded,
    work_of,
)
from recommender.domain.designs import Design, Prescription
from recommender.domain.statement import (
    Choice,
    Statement,
    say,
    several,
    tooth,
)
from recommender.knowledge.figures.review import School

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


@dataclass(frozen=True, slots=True)
class ReviewItem:
    """One choice. ``asked`` is ``None`` for what is left out; ``lead`` is ``None`` where nothing can be proposed.

    ``points`` is how far the asked-for option lies behind the leading one. ``price_of_following`` and
    ``price_of_departing`` are statements, with ``follow`` and ``depart`` the enamel (mm) and visits in them (``None``
    where there is no price to tell, as for a safety block). ``precedents_for_asked`` and ``precedents_for_lead``
    name the stored cases that chose each, with how they fared. ``given`` is the assembly for which a rest is
    ranked. ``school`` is the published school that the prescription follows there and the proposal does not.
    ``ruled_out`` is what the dentist does not want there (``any``: no clasp of any kind); the item then
    says whether the proposal keeps to that.
    """

    decision: Decision
    verdict: Verdict
    asked: str | None
    lead: str | None
    points: float
    reasons: tuple[Statement, ...]
    price_of_following: tuple[Statement, ...]
    price_of_departing: tuple[Statement, ...]
    precedents_for_asked: tuple[Statement, ...]
    precedents_for_lead: tuple[Statement, ...]
    wording: Statement
    provisional: bool
    status: str | None = None
    follow: Price | None = None
    depart: Price | None = None
    near_tie: bool = False
    given: str | None = None
    ruled_out: tuple[str, ...] = ()
    school: School | None = None


def review(analysis: "CaseAnalysis", asked: Prescription | Design | None = None) -> tuple[ReviewItem, ...]:
    """Every item of the prescription (by default the case's own), then what it leaves out.

    Items on teeth that the case does not consider are reviewed too; one on a tooth that does not stand, or that is
    not to be replaced, conflicts. Rests are judged for the assembly asked for at their tooth.
    """
    subject = asked if asked is not None else analysis.case.prescription
    wanted = dict(items_of(subject)) if subject is not None else {}
    unwanted = dict(_ruled_out(subject))
    found: list[ReviewItem | None] = [_asked_for(analysis, d, option, wanted) for d, option in wanted.items()]
    found += [_kept_from(analysis, decision, words) for decision, words in unwanted.items()]
    found += [
        _left_out(analysis, decision, wanted)
        for decision in analysis.decisions()
        if decision not in wanted and decision not in unwanted
    ]
    found += list(_other(analysis, subject))
    unmade = _unmade(analysis, subject)
    items = [_with_faults(item, unmade) for item in found if item is not None]
    told = {item.decision for item in items if item.asked is not None}
    items += [_unmade_item(d, said) for d, said in unmade.items() if d not in told]
    stored = analysis.case.design
    if subject is not None and subject is analysis.case.prescription and stored is not None:
        items += [  # of the stored design, beside the prescription: only what cannot be made
            _unmade_item(d, tuple(say("papers.in_stored_design", what=one) for one in said))
            for d, said in _unmade(analysis, stored).items()
        ]
    return tuple(items)


def _unmade(
    analysis: "CaseAnalysis", subject: Prescription | Design | None
) -> Mapping[Decision, tuple[Statement, ...]]:
    """What of a design or a prescription cannot be made in metal, by decision."""
    if isinstance(subject, Design):
        clasped = {retainer.tooth for retainer in subject.retainers or ()}
        return {
            Decision("retainer" if number in clasped else "rest" if number else "connector", number): said
            for number, said in faults_of_design(analysis, subject).items()
        }
    if subject is None or not subject.retainers:
        return {}
    rests = {number: str(rest) for number, rest in (subject.rests or {}).items()}
    asked = {number: str(option) for number, option in subject.retainers.items()}
    found = cannot_be_made(analysis, asked, rests)
    return {Decision("retainer", number): said for number, said in found.items()}


def _with_faults(item: ReviewItem, unmade: Mapping[Decision, tuple[Statement, ...]]) -> ReviewItem:
    """The item with what cannot be made of it first: it conflicts, whatever its score."""
    said = unmade.get(item.decision, ())
    if not said or item.asked is None:
        return item
    reasons = tuple(dict.fromkeys((*said, *item.reasons)))
    wording = worded("conflicts", item.decision, item.asked, item.lead, reasons)
    return replace(item, verdict="conflicts", reasons=reasons, wording=wording)


def _unmade_item(decision: Decision, said: tuple[Statement, ...]) -> ReviewItem:
    """What cannot be made of a part that no item speaks of."""
    wording = say("review.unmade", item=decision, reason=said[0])
    return ReviewItem(decision, "conflicts", None, None, 0.0, said, (), (), (), (), wording, False)


def items_of(subject: Prescription | Design) -> Iterator[tuple[Decision, str]]:
    """The choices that a prescription or a design makes."""
    retainers = subject.retainers or {}
    rests: dict[int, str] = {}
    if isinstance(retainers, dict):
        yield from ((Decision("retainer", tooth), str(option)) for tooth, option in retainers.items())
    else:
        yield from ((Decision("retainer", item.tooth), str(item.assembly)) for item in retainers)
        rests = {item.tooth: str(item.rest) for item in retainers if item.rest is not None}
    if subject.connector is not None:
        yield Decision("connector"), str(subject.connector)
    yield from ((Decision("replacement", t), str(o)) for t, o in (subject.replacements or {}).items())
    rests |= {tooth: str(option) for tooth, option in (subject.rests or {}).items()}
    yield from ((Decision("rest", tooth), option) for tooth, option in rests.items())
    if subject.alloy is not None:
        yield Decision("alloy"), str(subject.alloy)


def _ruled_out(subject: Prescription | Design | None) -> Iterator[tuple[Decision, tuple[str, ...]]]:
    """What the dentist does not want, by decision."""
    unwanted = subject.ruled_out if isinstance(subject, Prescription) else None
    if unwanted is None:
        return
    yield from ((Decision("retainer", t), tuple(words)) for t, words in (unwanted.retainers or {}).items())
    if unwanted.connector:
        yield Decision("connector"), tuple(unwanted.connector)
    yield from (
        (Decision("replacement", t), tuple(words)) for t, words in (unwanted.replacements or {}).items()
    )


def _kept_from(analysis: "CaseAnalysis", decision: Decision, unwanted: tuple[str, ...]) -> ReviewItem:
    """Whether the proposal keeps to what was ruled out, and what speaks for it where it does not."""
    lead = analysis.decide(decision).ranked[0]
    known = analysis.engine.knowledge.catalogue.options[decision.kind]
    departs = lead.option in unwanted or ("any" in unwanted and "flexing_arm" in known[lead.option].families)
    names = [say("review.any_clasp") if word == "any" else Choice(decision.kind, word) for word in unwanted]
    verdict: Verdict = "conflicts" if departs else "agrees"
    wording = say(
        "review.ruled_out_departs" if departs else "review.ruled_out_keeps",
        item=decision,
        asked=several(names, "or"),
        lead=Choice(decision.kind, lead.option),
    )
    reasons = tuple(block.statement for block in lead.blocked_by) if departs else ()
    return ReviewItem(
        decision, verdict, None, lead.option, 0.0, reasons, (), (), (), (), wording, lead.provisional,
        lead.status, ruled_out=unwanted,
    )  # fmt: skip


def _asked_for(
    analysis: "CaseAnalysis", decision: Decision, option: str, wanted: dict[Decision, str]
) -> ReviewItem:
    if decision.kind == "alloy":
        return _alloy(analysis, option)
    facts = analysis.facts
    stands = decision.tooth in facts.standing or decision.tooth in facts.considered
    if decision.kind in ("retainer", "rest") and not stands:
        return _no_place(analysis, decision, option, "no_tooth")
    if decision.kind == "replacement" and facts.space_of(decision.tooth) is None:
        return _no_place(analysis, decision, option, "no_space")
    return _item(analysis, decision, option, wanted)


def _decided(analysis: "CaseAnalysis", decision: Decision, wanted: dict[Decision, str]) -> DecisionResult:
    """The ranking at a decision; rests for the assembly that was asked for at their tooth, if one was."""
    held = wanted.get(Decision("retainer", decision.tooth)) if decision.kind == "rest" else None
    return analysis.rest_for(decision.tooth, held) if held is not None else analysis.decide(decision)


def _item(
    analysis: "CaseAnalysis", decision: Decision, option: str, wanted: dict[Decision, str]
) -> ReviewItem:
    result = _decided(analysis, decision, wanted)
    asked, lead = result.option(option), result.ranked[0]
    difference = contrast(lead, asked)
    known = analysis.engine.knowledge.figures.review
    verdict = verdict_of(asked, lead, known)
    reasons = reasons_against(decision.kind, asked, lead, difference, known.reasons)
    school = None
    if verdict not in ("agrees", "left_out") and asked.status != "excluded":
        school = other_school(analysis, decision, option, lead.option)
    safe = not any(block.kind == "safety" for block in asked.blocked_by)
    same = asked.option == lead.option
    to_follow, to_depart = work_of(asked, blocks=True), () if same else work_of(lead)
    follow = priced(analysis, decision, asked, to_follow) if safe else None
    depart = None if same else priced(analysis, decision, lead, to_depart)
    return ReviewItem(
        decision, verdict, option, lead.option, lead.score - asked.score, reasons,
        price_told(to_follow, follow, difference, known.reasons, ahead=True) if safe else (),
        () if same else price_told(to_depart, depart, difference, known.reasons, ahead=False),
        precedents_of(analysis, decision, result, option), precedents_of(analysis, decision, result, lead.option),
        worded(verdict, decision, option, lead.option, reasons, school), asked.provisional,
        asked.status, follow, depart,
        not same and asked.status == lead.status and _near(analysis, lead.score - asked.score), result.given,
        school=school,
    )  # fmt: skip


def _near(analysis: "CaseAnalysis", behind: float) -> bool:
    return behind <= analysis.engine.knowledge.scoring.near_tie


def _left_out(analysis: "CaseAnalysis", decision: Decision, wanted: dict[Decision, str]) -> ReviewItem | None:
    """What is proposed where nothing was asked for; no rest where the assembly at that tooth carries none."""
    if decision.kind == "rest":
        known = analysis.engine.knowledge.catalogue.options["retainer"]
        there = Decision("retainer", decision.tooth)
        held = wanted.get(there) or analysis.leader(there)
        if "rest" not in known[held].parts:
            return None
    result = _decided(analysis, decision, wanted)
    lead = result.ranked[0]
    work = work_of(lead)
    return ReviewItem(
        decision, "left_out", None, lead.option, 0.0,
        best_lines(lead, analysis.engine.knowledge.figures.review.reasons), (), tuple(step_told(step) for step in work),
        (), precedents_of(analysis, decision, result, lead.option),
        worded("left_out", decision, None, lead.option, ()), lead.provisional,
        depart=priced(analysis, decision, lead, work), given=result.given,
    )  # fmt: skip


def _other(analysis: "CaseAnalysis", subject: Prescription | Design | None) -> Iterator[ReviewItem]:
    """The alloy that is not named, and the indirect retainer that a finished design lacks."""
    if subject is None or subject.alloy is None:
        lead, _ = frame_alloy(analysis)
        if lead is not None:
            yield _plain(analysis, Decision("alloy"), "left_out", None, lead, ())
    if isinstance(subject, Design) and not subject.indirect_retainers:
        seats = indirect_seats(analysis.engine, analysis.facts)
        carried = set(subject.rests or {})
        if seats and not any(seat.tooth in carried for seat in seats):
            decision = Decision("indirect_retainer", seats[0].tooth)
            yield _plain(analysis, decision, "left_out", None, seats[0].rest, seats[0].reasons)


def _alloy(analysis: "CaseAnalysis", asked: str) -> ReviewItem:
    """An alloy conflicts where a rule of the framework speaks against it, and is otherwise the dentist's choice."""
    decision = Decision("alloy")
    held = alloy_blocks(analysis, asked)
    if not held:
        return _plain(analysis, decision, "agrees", asked, asked, ())
    lead, _ = frame_alloy(analysis)
    return _plain(analysis, decision, "conflicts", asked, lead, held)


def _no_place(analysis: "CaseAnalysis", decision: Decision, asked: str, why: str) -> ReviewItem:
    reason = say(f"review.{why}", tooth=tooth(decision.tooth))
    return _plain(analysis, decision, "conflicts", asked, None, (reason,))


def _plain(
    analysis: "CaseAnalysis", decision: Decision, verdict: Verdict, asked: str | None, lead: str | None,
    reasons: tuple[Statement, ...],
) -> ReviewItem:  # fmt: skip
    """An item that has no score."""
    wording = worded(verdict, decision, asked, lead, reasons)
    return ReviewItem(decision, verdict, asked, lead, 0.0, reasons, (), (), (), (), wording, False)
