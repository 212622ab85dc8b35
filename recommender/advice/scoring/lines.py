"""The lines of a score: one contribution for each start, rule, cap and precedent; they add up to the score."""

from collections.abc import Iterator, Mapping
from math import fsum

from recommender.advice.model import Contribution
from recommender.advice.scoring.blend import Evidence
from recommender.advice.scoring.judge import Judged
from recommender.advice.scoring.score import Weights
from recommender.domain.options import Option
from recommender.domain.statement import Choice, Name, Statement, Word, count, quantity, say, several, tooth
from recommender.facts.computed_numbers import COMPUTED, computed
from recommender.facts.values import Scope
from recommender.knowledge.model import HOUSE, Rule
from recommender.precedents.model import Neighbour
from recommender.precedents.outcome_value import verdict


def contributions(judged: Judged, evidence: Evidence, weights: Weights) -> tuple[Contribution, ...]:
    """Every line on the final 0-100 scale: starts, rules in file order, caps, what the house weighs otherwise,
    precedents, the neutral share."""
    w = evidence.weight
    option = judged.option
    lines: list[Contribution] = []
    published = weights.published or weights.share
    for criterion, share in published.items():
        if criterion == HOUSE:
            middle = (1 - w) * share * option.starts[HOUSE]
            lines.append(Contribution("neutral", HOUSE, middle, say("house.middle"), source=HOUSE))
        elif share:
            lines.append(
                Contribution(
                    "start",
                    "catalogue",
                    (1 - w) * share * option.starts[criterion],
                    say(
                        "score.start",
                        option=Choice(option.decision, option.id),
                        start=quantity(option.starts[criterion], digits=0),
                        criterion=Word("criterion", criterion),
                        share=quantity(share, "share"),
                    ),
                    criterion,
                    option.because_source or option.source,
                )
            )
    for rule in judged.fired:
        share = published.get(rule.criterion, 0.0)
        if rule.points and share:
            points = (1 - w) * share * rule.points
            said = with_numbers(rule, judged.scope)
            kind = HOUSE if rule.criterion == HOUSE else "rule"
            lines.append(Contribution(kind, rule.id, points, said, rule.criterion, rule.source))
    for criterion, over in judged.rules.caps.items():
        share = published[criterion]
        if criterion == HOUSE:
            lines.append(
                Contribution(HOUSE, "house.cap", (1 - w) * share * over, say("house.cap"), source=HOUSE)
            )
        elif share:
            said = say("score.cap", criterion=Word("criterion", criterion), end=count(100 if over < 0 else 0))
            lines.append(Contribution("cap", f"cap-{criterion}", (1 - w) * share * over, said, criterion))
    lines += _weighed_otherwise(judged, weights, published, w)
    if w:
        for neighbour, points in evidence.shares(option.id):
            stored = neighbour.situation
            same = stored.choice == option.id
            said = precedent_said(neighbour, option)
            lines.append(
                Contribution(
                    "precedent", stored.case_id, w * points, said, similarity=neighbour.likeness, same=same
                )
            )
        lines.append(Contribution("neutral", "thin-evidence", w * 50.0, say("score.neutral")))
    return tuple(lines)


def _weighed_otherwise(
    judged: Judged, weights: Weights, published: Mapping[str, float], w: float
) -> Iterator[Contribution]:
    """A line for each criterion that the house weighs otherwise than published.

    With ``R`` the published mean, ``δ`` what the house adds to a raw weight and ``T`` the sum of all raw weights, the
    departures move the score by ``Σ δ·(criterion - R) / T``, so that the published lines stay what they were.
    """
    if not weights.house:
        return
    scores = judged.rules.criteria
    parts = [(share, scores[name]) for name, share in published.items() if name != HOUSE]
    mean = fsum(share * score for share, score in parts) / fsum(share for share, _ in parts)
    for criterion, part in weights.house.items():
        said = say(
            "house.weighs_more" if part > 0 else "house.weighs_less", criterion=Word("criterion", criterion),
            part=quantity(abs(part), "share"),
        )  # fmt: skip
        points = (1 - w) * part * (scores[criterion] - mean)
        yield Contribution(HOUSE, f"{HOUSE}.weighs.{criterion}", points, said, criterion, HOUSE)


def with_numbers(rule: Rule, scope: Scope) -> Statement:
    """What a rule says, with what was computed for this case behind it."""
    if not any(name in str(rule.when) for name in COMPUTED):
        return rule.statement
    numbers = several(computed(rule.when.reasons(scope), scope))
    if numbers is None:
        return rule.statement
    return say("rule_with_numbers", rule=rule.id, source=rule.source, what=rule.statement, numbers=numbers)


def precedent_said(neighbour: Neighbour, option: Option) -> Statement:
    """What a precedent did, how alike it is, and how it fared; ``option`` is what it speaks for."""
    stored = neighbour.situation
    same = stored.choice == option.id
    return say(
        "precedent.same" if same else "precedent.related",
        case=Name(stored.case_id),
        site=tooth(stored.site) if stored.site else None,
        chosen=None if same else Choice(option.decision, str(stored.choice)),
        option=None if same else Choice(option.decision, option.id),
        likeness=quantity(neighbour.likeness, digits=2),
        fared=verdict(stored.verdict),
    )
