"""How sure an answer is: the margin, agreement of rules and precedents, how near the nearest precedent is, whether
the case lies outside what the library has seen, and how much was not recorded. Words with the number behind.

Strength (recommend, suggest) and certainty of the evidence (high to very low) are kept apart, as GRADE does
(Guyatt GH et al. BMJ 2008;336:924-926, from memory). Limits and words stand in ``shared/confidence.yaml``.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import fsum
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np

from recommender.advice.explanation.contrast import Contrast, contrast
from recommender.advice.model import STATUS_ORDER, Decision, DecisionResult, OptionResult
from recommender.domain.statement import Choice, Statement, Word, count, quantity, say
from recommender.knowledge.model import NO_SOURCE, Knowledge
from recommender.precedents.library import Filters, PrecedentLibrary
from recommender.precedents.search.columns import APPROVED, PRESENT

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis

_SEEN: "WeakKeyDictionary[PrecedentLibrary, dict[tuple[str, int, bool], tuple[float, ...]]]" = (
    WeakKeyDictionary()
)


@dataclass(frozen=True, slots=True)
class Grading:
    """How sure the leading option is. Shares are 0-1, margins in points of the 0-100 score.

    ``margin`` is ``None`` where no other option has the leader's status. ``nearest`` and ``usual`` are
    likenesses over what was recorded: of the nearest precedent, and the median within the library; ``None``
    without precedents. ``overlap``: the ranges of leader and runner-up meet, so that the worst of what is not
    recorded could still change places. ``below`` is the share of the library's own cases that are less alike
    to their nearest.
    """

    strength: str
    certainty: str
    margin: float | None
    runner_up: str | None
    near_tie: bool
    overlap: bool
    rules_lead: str
    rules_agree: bool
    precedents_for: int
    precedents_against: int
    precedents_other: int
    nearest: float | None
    usual: float | None
    below: float | None
    outside: bool
    unrecorded_share: float
    waiting_rules: int
    provisional: bool
    reasons: tuple[Statement, ...]
    words: tuple[Statement, ...]


def graded(analysis: "CaseAnalysis", decision: Decision) -> Grading:
    """How sure the leading option of a decision is."""
    result = analysis.decide(decision)
    examination = analysis.examine(decision)
    lead = result.ranked[0]
    rivals = [option for option in result.ranked[1:] if option.status == lead.status]
    runner = rivals[0] if rivals else None
    margin = lead.score - runner.score if runner else None
    tie = margin is not None and margin <= analysis.engine.knowledge.scoring.near_tie
    rules_lead = min(
        result.ranked, key=lambda o: (STATUS_ORDER.index(o.status), -o.rules_score, o.option)
    ).option
    agree = rules_lead == lead.option
    spoken = [(n.situation.choice, n.situation.worth) for n in examination.evidence.neighbours]
    nearest, usual, below = _nearness(analysis, decision)
    known = analysis.engine.knowledge.figures.confidence
    outside = below is not None and below < known.outside_below
    overlap = runner is not None and runner.high > lead.low
    difference = contrast(lead, runner) if runner else None
    holds = {
        "disagreement": not agree,
        "imprecision": tie or lead.provisional,
        "outside": outside and result.precedent_weight > 0,
    }
    level, reasons = certainty(analysis.engine.knowledge, lead, difference, holds)
    strong = not tie and agree and lead.status == "open" and not lead.provisional
    strong = strong and level != known.levels[0]
    judged = examination.chosen[lead.option]
    found = Grading(
        strength="recommend" if strong else "suggest",
        certainty=level,
        margin=margin,
        runner_up=runner.option if runner else None,
        near_tie=tie,
        overlap=overlap,
        rules_lead=rules_lead,
        rules_agree=agree,
        precedents_for=sum(1 for choice, worth in spoken if choice == lead.option and worth > 0),
        precedents_against=sum(1 for choice, worth in spoken if choice == lead.option and worth < 0),
        precedents_other=sum(1 for choice, _ in spoken if choice != lead.option),
        nearest=nearest,
        usual=usual,
        below=below,
        outside=outside,
        unrecorded_share=_unrecorded(analysis, decision),
        waiting_rules=len(judged.undecided),
        provisional=lead.provisional,
        reasons=reasons,
        words=(),
    )
    return _with_words(analysis, result, found)


def certainty(
    knowledge: Knowledge, lead: OptionResult, difference: Contrast | None, holds: Mapping[str, bool]
) -> tuple[str, tuple[Statement, ...]]:
    """The certainty of the evidence under the leader, and why it is no higher.

    It starts at the best level that carries enough of the points which put the leader before the runner-up (or
    which favour it, where there is none), and comes down one level for each thing in ``steps_down`` that holds.
    """
    known = knowledge.figures.confidence
    levels: list[str] = list(known.levels)
    if difference is not None:
        carried = [(line.kind, line.id, line.source, line.points) for line in difference.for_first]
    else:
        carried = [(o.kind, o.id, o.source, o.points) for o in lead.contributions if o.points > 0]
    graded = [
        (level_of(knowledge, kind, identifier, source), points, identifier)
        for kind, identifier, source, points in carried
        if kind != "neutral"
    ]
    whole = fsum(points for _, points, _ in graded)
    start = levels[0]
    for level in reversed(levels):
        held = fsum(points for own, points, _ in graded if levels.index(own) >= levels.index(level))
        if whole and held >= known.share_carried * whole:
            start = level
            break
    reasons = [say("sure.carried", level=Word("certainty", start))]
    at = levels.index(start)
    first = next((identifier for _, _, identifier in graded), "")
    disputed = any(rule.id == first and rule.disputed for rule in knowledge.rules)
    for name in known.steps_down:
        if {**holds, "disputed": disputed}.get(name) and at > 0:
            at -= 1
            reasons.append(
                say("sure.one_less", why=say("sure.unlike" if name == "outside" else f"sure.{name}"))
            )
    return levels[at], tuple(reasons)


def level_of(knowledge: Knowledge, kind: str, identifier: str, source: str | None) -> str:
    """The certainty of one reason. Common practice without a source is never better than ``unsourced_most``."""
    known = knowledge.figures.confidence
    if kind in ("precedent", "cap", "house"):
        return known.precedent
    if kind == "start":
        return known.catalogue
    if source is None or source.strip() == NO_SOURCE:
        return known.unsourced_most
    lowered = source.casefold()
    for entry in known.by_words:
        if any(word in lowered for word in entry.words):
            return entry.level
    found = next((rule.found for rule in knowledge.rules if rule.id == identifier), "common_practice")
    return str(getattr(known.by_found, found))


def _nearness(
    analysis: "CaseAnalysis", decision: Decision
) -> tuple[float | None, float | None, float | None]:
    """Likeness of the nearest precedent over what was recorded, the library's median, and the share below."""
    neighbours = analysis.examine(decision).evidence.neighbours
    library = analysis.engine.library
    if not neighbours or library is None:
        return None, None, None
    recorded = 1.0 - _unrecorded(analysis, decision)
    nearest = min(1.0, neighbours[0].likeness / recorded) if recorded > 0 else 0.0
    sampled = analysis.engine.knowledge.figures.confidence.sampled
    seen = usual_nearness(library, decision.kind, sampled, analysis.engine.filters.approved_only)
    if not seen:
        return nearest, None, None
    return nearest, seen[len(seen) // 2], sum(1 for value in seen if value < nearest) / len(seen)


def usual_nearness(
    library: PrecedentLibrary, kind: str, sampled: int, approved_only: bool = True
) -> tuple[float, ...]:
    """How alike stored situations are to their nearest others, over what each recorded; sorted, least first.

    Leave-one-out over an even sample of the library; worked out once for each library.
    """
    kept = _SEEN.setdefault(library, {})
    key = (kind, sampled, approved_only)
    if key not in kept:
        need = PRESENT | (APPROVED if approved_only else 0)
        admitted = [
            (part, np.flatnonzero((part.columns.flags & np.uint8(need)) == need))
            for part in library.shelves[kind].parts
        ]
        step = max(1, sum(len(rows) for _, rows in admitted) // sampled)
        found = []
        for stored in (part.rows[row] for part, rows in admitted for row in rows[::step].tolist()):
            near = library.nearest(stored, 1, None, Filters(approved_only=approved_only), account=False)
            recorded = 1.0 - library.unrecorded_share(stored)
            if near and recorded > 0:
                found.append(min(1.0, near[0].likeness / recorded))
        kept[key] = tuple(sorted(found))
    return kept[key]


def _unrecorded(analysis: "CaseAnalysis", decision: Decision) -> float:
    """Share not recorded: of the weight of what precedents are compared by, or of the rules about the leader."""
    examination = analysis.examine(decision)
    if examination.evidence.neighbours:
        return examination.evidence.open_share
    judged = examination.chosen[analysis.leader(decision)]
    asked = len(judged.fired) + len(judged.undecided)
    return len(judged.undecided) / asked if asked else 0.0


def _with_words(analysis: "CaseAnalysis", result: DecisionResult, found: Grading) -> Grading:
    known = analysis.engine.knowledge.figures.confidence
    kind = result.decision.kind
    strength, level = Word("strength", found.strength), Word("certainty", found.certainty)
    words = [say("sure.advised", strength=strength, certainty=level)]
    if found.margin is None:
        words.append(say("sure.by_status"))
    else:
        lead = next(e.lead for e in known.margin_words if e.below is None or found.margin < e.below)
        words.append(
            say(
                "sure.margin",
                lead=Word("lead", lead),
                points=quantity(found.margin, "points"),
                other=Choice(kind, str(found.runner_up)),
            )
        )
    if found.overlap:
        words.append(say("sure.overlap"))
    words += _precedent_words(found, kind, known.near_precedent)
    if found.unrecorded_share:
        words.append(
            say(
                "sure.unrecorded",
                share=quantity(found.unrecorded_share, "share"),
                waiting=count(found.waiting_rules),
            )
        )
    if found.provisional:
        words.append(say("sure.provisional"))
    return replace(found, words=tuple(words))


def _precedent_words(found: Grading, kind: str, near: float) -> list[Statement]:
    if found.nearest is None:
        return [say("sure.no_precedent")]
    if found.rules_agree:
        words = [say("sure.rules_agree")]
    else:
        words = [say("sure.rules_differ", option=Choice(kind, found.rules_lead))]
    retrieved = found.precedents_for + found.precedents_against + found.precedents_other
    words.append(
        say(
            "sure.precedents",
            all=count(retrieved),
            well=count(found.precedents_for),
            badly=count(found.precedents_against),
            other=count(found.precedents_other),
        )
    )
    nearest = quantity(found.nearest, "share")
    words.append(say("sure.near" if found.nearest >= near else "sure.not_near", likeness=nearest))
    if found.outside and found.usual is not None and found.below is not None:
        words.append(
            say("sure.outside", usual=quantity(found.usual, "share"), below=quantity(found.below, "share"))
        )
    return words
