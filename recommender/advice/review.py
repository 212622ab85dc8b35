"""The dentist's prescription, or a finished design, held against the recommendation, choice by choice.

Nothing is overruled here: every item says what was asked, what would lead, why, and what it costs to follow or
to depart, in words that leave the decision with the dentist.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Literal

import yaml

from recommender.advice.contrast import Contrast, contrast
from recommender.advice.model import Decision, OptionResult, PreparationStep
from recommender.domain.case import Design, Prescription
from recommender.resources import shared

if TYPE_CHECKING:
    from recommender.advice.recommend import Working

Verdict = Literal["agrees", "acceptable", "better_alternative", "conflicts", "left_out"]


@dataclass(frozen=True, slots=True)
class ReviewItem:
    """One choice. ``asked`` is ``None`` for what the prescription leaves out.

    ``price_of_following`` and ``price_of_departing`` are sentences; ``precedents_for_asked`` and
    ``precedents_for_lead`` name the stored cases that chose each, with how they fared.
    """

    decision: Decision
    verdict: Verdict
    asked: str | None
    lead: str
    points: float
    reasons: tuple[str, ...]
    price_of_following: tuple[str, ...]
    price_of_departing: tuple[str, ...]
    precedents_for_asked: tuple[str, ...]
    precedents_for_lead: tuple[str, ...]
    wording: str
    provisional: bool


@cache
def figures() -> dict[str, Any]:
    """The limits and wordings of ``shared/review.yaml``."""
    with shared("review.yaml").open(encoding="utf-8") as stream:
        loaded: dict[str, Any] = yaml.load(stream, yaml.CSafeLoader)
    return loaded


def review(working: "Working", asked: Prescription | Design | None = None) -> tuple[ReviewItem, ...]:
    """Every item of the prescription (by default the case's own), then what it leaves out.

    Items on teeth that the case does not consider are reviewed too, as long as the tooth stands.
    """
    subject = asked if asked is not None else working.case.prescription
    wanted = dict(items_of(subject)) if subject is not None else {}
    found = []
    for decision, option in wanted.items():
        if decision.kind == "replacement" and working.facts.space_of(decision.tooth) is None:
            continue
        found.append(_item(working, decision, option))
    found += [_left_out(working, d) for d in working.decisions() if d not in wanted and d.kind != "rest"]
    return tuple(found)


def items_of(subject: Prescription | Design) -> Iterator[tuple[Decision, str]]:
    """The choices that a prescription or a design makes."""
    retainers = subject.retainers or {}
    if isinstance(retainers, dict):
        yield from ((Decision("retainer", tooth), str(option)) for tooth, option in retainers.items())
    else:
        yield from ((Decision("retainer", item.tooth), str(item.assembly)) for item in retainers)
    if subject.connector is not None:
        yield Decision("connector"), str(subject.connector)
    yield from ((Decision("replacement", t), str(o)) for t, o in (subject.replacements or {}).items())
    yield from ((Decision("rest", tooth), str(option)) for tooth, option in (subject.rests or {}).items())


def _item(working: "Working", decision: Decision, option: str) -> ReviewItem:
    result = working.decide(decision)
    asked, lead = result.option(option), result.ranked[0]
    difference = contrast(lead, asked)
    verdict = _verdict(asked, lead)
    reasons = _reasons(asked, difference)
    labels = working.engine.knowledge.catalogue.options[decision.kind]
    words = {"item": _title(decision), "asked": labels[option].label, "lead": labels[lead.option].label}
    wording = figures()["wording"][verdict].format(reason=_sentence(reasons), **words)
    return ReviewItem(
        decision, verdict, option, lead.option, lead.score - asked.score, reasons,
        _price_of_following(asked, difference), _price_of_departing(lead, difference),
        _precedents(asked, option), _precedents(lead, lead.option), wording, asked.provisional,
    )  # fmt: skip


def _left_out(working: "Working", decision: Decision) -> ReviewItem:
    lead = working.decide(decision).ranked[0]
    label = working.engine.knowledge.catalogue.options[decision.kind][lead.option].label
    wording = figures()["wording"]["left_out"].format(item=_title(decision), lead=label)
    return ReviewItem(
        decision, "left_out", None, lead.option, 0.0, _best_lines(lead), (), (), (),
        _precedents(lead, lead.option), wording, lead.provisional,
    )  # fmt: skip


def _verdict(asked: OptionResult, lead: OptionResult) -> Verdict:
    if asked.status in ("excluded", "advised_against"):
        return "conflicts"
    behind = lead.score - asked.score
    same_status = asked.status == lead.status
    if asked.option == lead.option or (same_status and behind <= figures()["agrees_within"]):
        return "agrees"
    return "acceptable" if behind <= figures()["acceptable_within"] else "better_alternative"


def _reasons(asked: OptionResult, difference: Contrast) -> tuple[str, ...]:
    """What speaks against the asked-for option: its blocks first, then the largest lines of the contrast."""
    blocks = [block.text for block in asked.blocked_by]
    lines = [line.text for line in difference.for_first if line.kind in ("rule", "precedent")]
    starts = [line.text for line in difference.for_first if line.kind == "start"]
    return tuple(dict.fromkeys((blocks + lines) or starts))[: figures()["reasons"]]


def _best_lines(option: OptionResult) -> tuple[str, ...]:
    lines = sorted(
        (line for line in option.contributions if line.kind == "rule"), key=lambda line: -line.points
    )
    return tuple(line.text for line in lines if line.points > 0)[: figures()["reasons"]]


def _price_of_following(asked: OptionResult, difference: Contrast) -> tuple[str, ...]:
    price = [_step(step) for step in asked.unlocked_by]
    if difference.points > 0:
        price.append(f"{difference.points:.1f} points behind the leading option")
    price += [line.text for line in difference.for_first if line.kind == "rule"][: figures()["reasons"]]
    return tuple(price)


def _price_of_departing(lead: OptionResult, difference: Contrast) -> tuple[str, ...]:
    """What the prescribed option does better, and the work that the other asks for."""
    price = [_step(step) for step in (*lead.unlocked_by, *lead.preparation)]
    price += [line.text for line in difference.for_second if line.kind == "rule"][: figures()["reasons"]]
    return tuple(price)


def _step(step: PreparationStep) -> str:
    return f"{step.action.replace('_', ' ')} on {step.tooth} {step.surface.replace('_', ' ')}"


def _precedents(option: OptionResult, identifier: str) -> tuple[str, ...]:
    lines = [
        line for line in option.contributions if line.kind == "precedent" and "chose the same" in line.text
    ]
    return tuple(line.text for line in lines)


def _title(decision: Decision) -> str:
    heads = {"retainer": "Retainer on", "rest": "Rest on", "replacement": "Replacement of"}
    return f"{heads[decision.kind]} {decision.tooth}" if decision.tooth else "Major connector"


def _sentence(reasons: tuple[str, ...]) -> str:
    if not reasons:
        return "it scores higher on what was recorded"
    first = reasons[0].rstrip(".")
    return first[:1].lower() + first[1:]


def review_document(items: tuple[ReviewItem, ...]) -> list[dict[str, Any]]:
    """The items as JSON values."""
    return [
        {
            "for": item.decision.key, "verdict": item.verdict, "asked": item.asked, "lead": item.lead,
            "points_behind": item.points, "reasons": list(item.reasons),
            "price_of_following": list(item.price_of_following),
            "price_of_departing": list(item.price_of_departing),
            "precedents_for_asked": list(item.precedents_for_asked),
            "precedents_for_lead": list(item.precedents_for_lead),
            "wording": item.wording, "provisional": item.provisional,
        }
        for item in items
    ]  # fmt: skip
