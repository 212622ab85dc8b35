"""Checks of a framework that look at single parts: alloy, what is advised against, bases, enamel, weak teeth."""

from typing import TYPE_CHECKING

from recommender.advice.explanation.contrast import contrast, grouped_by_criterion
from recommender.advice.frameworks.candidates import USABLE, Part, bears_nothing
from recommender.advice.frameworks.replacements import suits_all, usable_of
from recommender.advice.frameworks.whole import Whole, check
from recommender.advice.model import Check, Decision, OptionResult
from recommender.domain.statement import Said, Statement

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


def part_checks(analysis: "CaseAnalysis", whole: Whole) -> list[Check]:
    """One alloy, nothing advised against, one kind of replacement in a space, enamel spared, no weak tooth loaded."""
    return [
        _alloy(analysis, whole),
        _accepted(analysis, whole),
        _one_base(analysis, whole),
        _spared(analysis, whole),
        _bears(analysis, whole),
    ]


def _alloy(analysis: "CaseAnalysis", whole: Whole) -> Check:
    if whole.alloy is None:
        return check("one_alloy", "failed", "every frame alloy is barred")
    known = analysis.case.patient is not None and analysis.case.patient.allergy is not None
    words = f"frame of {whole.alloy.replace('_', ' ')}"
    words += "" if known else "; allergies are not recorded"
    barred = [f"{name.replace('_', ' ')}: {_plain(why)}" for name, why in whole.parts.alloy_blocks.items()]
    return check("one_alloy", "passed" if known else "not_checked", "; ".join([words, *barred]))


def _accepted(analysis: "CaseAnalysis", whole: Whole) -> Check:
    """What had to be taken against advice for want of anything better, and teeth that no replacement suits."""
    reasons: list[str] = []
    for part in whole.retainers.values():
        if part.advised_against:
            reasons.append(f"{part.tooth} {part.option.label}: {_blocks(part.result)}")
    if whole.connector_result.status not in USABLE:
        reasons.append(f"{whole.connector.label}: {_blocks(whole.connector_result)}")
    for space in analysis.facts.spaces:
        for tooth in space.teeth:
            chosen = whole.parts.replacements.get(tooth)
            ranked = analysis.decide(Decision("replacement", tooth)).ranked
            if chosen is None:
                reasons.append(f"nothing can replace {tooth}: {_blocks(ranked[0])}")
            elif chosen.status not in USABLE:
                reasons.append(f"{tooth} {chosen.option.replace('_', ' ')}: {_blocks(chosen)}")
    if reasons:
        return check("accepted", "failed", "; ".join(reasons))
    return check("accepted", "passed")


def _blocks(result: OptionResult) -> str:
    return " ".join(_plain(block.statement) for block in result.blocked_by) or result.status.replace("_", " ")


def _one_base(analysis: "CaseAnalysis", whole: Whole) -> Check:
    """Where a space takes more than one kind, the reason of the tooth that differs."""
    reasons: list[str] = []
    for space in analysis.facts.spaces:
        chosen = {t: whole.parts.replacements[t] for t in space.teeth if t in whole.parts.replacements}
        if len({result.option for result in chosen.values()}) < 2:
            continue
        allowed = {t: usable_of(analysis.decide(Decision("replacement", t))) for t in chosen}
        common = suits_all(allowed)
        for tooth, result in chosen.items():
            if result.option == common:
                continue
            other = analysis.decide(Decision("replacement", tooth)).option(common) if common else None
            words = f"{tooth} {result.option.replace('_', ' ')}"
            if other is None:
                reasons.append(f"{words}: no kind suits every tooth of the space")
            else:
                gain = result.score - other.score
                reasons.append(
                    f"{words} scores {gain:.1f} more than {common.replace('_', ' ') if common else ''}"
                    f" ({_why(analysis, result, other)})"
                )
    return check("one_base", not reasons, "; ".join(reasons))


def _spared(analysis: "CaseAnalysis", whole: Whole) -> Check:
    """A part that waits for preparation although an open one could do the same carries its reason."""
    reasons: list[str] = []
    for part in whole.retainers.values():
        if part.result.status != "needs_preparation":
            continue
        open_ones = [
            other
            for other in whole.parts.retainers[part.tooth]
            if other.result.status == "open" and other.retentive == part.retentive and other.partner is None
        ]
        steps = _steps(part.result)
        if not open_ones:
            reasons.append(
                f"{part.tooth} {part.option.label} needs {steps}; nothing that does the same is open"
            )
            continue
        best = max(open_ones, key=lambda other: (other.value, other.option.id))
        reasons.append(_rather(analysis, part, best, steps))
    if whole.connector_result.status == "needs_preparation":
        reasons.append(f"{whole.connector.label} needs {_steps(whole.connector_result)}")
    return check("spared", "passed_with_preparation" if reasons else "passed", "; ".join(reasons))


def _rather(analysis: "CaseAnalysis", part: Part, best: Part, steps: str) -> str:
    gain = part.value - best.value
    why = _why(analysis, part.result, best.result)
    if gain > 0:
        return (
            f"{part.tooth} {part.option.label} after {steps} rather than {best.option.label}, which is open: "
            f"{gain:.1f} points better after its price ({why})"
        )
    return (
        f"{part.tooth} {part.option.label} after {steps} rather than {best.option.label}, which is open, "
        "for the rules between parts"
    )


def _steps(result: OptionResult) -> str:
    words = [f"{step.action.replace('_', ' ')} {step.surface}" for step in result.unlocked_by]
    return ", ".join(words) or "preparation"


def _why(analysis: "CaseAnalysis", first: OptionResult, second: OptionResult) -> str:
    """The criteria in which the first does better, largest first."""
    labels = analysis.engine.knowledge.criteria.labels
    found = grouped_by_criterion(contrast(first, second), lambda name: labels.get(name, name))
    return ", ".join(f"{name} {points:+.1f}" for name, points in found if points > 0.05)[:200] or "near tie"


def _bears(analysis: "CaseAnalysis", whole: Whole) -> Check:
    loaded = [tooth for tooth in whole.carrying if bears_nothing(analysis, tooth)]
    loaded += [p.grips for p in whole.retentive if p.grips != p.tooth and bears_nothing(analysis, p.grips)]
    if loaded:
        return check("bears", "failed", ", ".join(map(str, loaded)))
    unknown = [
        tooth
        for tooth in whole.carrying
        if tooth not in analysis.facts.surveyed
        or analysis.facts.surveyed[tooth].mobility is None
        or analysis.facts.surveyed[tooth].disease is None
    ]
    if unknown:
        words = f"mobility or disease not recorded at {', '.join(map(str, unknown))}"
        return check("bears", "not_checked", words)
    return check("bears", "passed")


def _plain(statement: Statement) -> str:
    """A rule's sentence as it stands."""
    why = statement.arg("why")
    return why.text if isinstance(why, Said) else ""
