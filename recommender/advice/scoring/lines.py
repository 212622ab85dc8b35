"""The lines of a score: one contribution for each start, rule, cap and precedent; they add up to the score."""

from recommender.advice.model import Contribution
from recommender.advice.scoring.blend import Evidence
from recommender.advice.scoring.judge import Judged
from recommender.advice.scoring.score import Weights
from recommender.domain.options import Option
from recommender.domain.statement import Choice, Name, Statement, Word, count, quantity, say, several, tooth
from recommender.facts.computed_numbers import COMPUTED, computed
from recommender.facts.values import Scope
from recommender.knowledge.model import Rule
from recommender.precedents.model import Neighbour
from recommender.precedents.outcome_value import verdict


def contributions(judged: Judged, evidence: Evidence, weights: Weights) -> tuple[Contribution, ...]:
    """Every line on the final 0-100 scale: starts, rules in file order, caps, precedents, the neutral share."""
    w = evidence.weight
    option = judged.option
    lines: list[Contribution] = []
    for criterion, share in weights.share.items():
        if share:
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
        share = weights.share.get(rule.criterion, 0.0)
        if rule.points and share:
            points = (1 - w) * share * rule.points
            said = with_numbers(rule, judged.scope)
            lines.append(Contribution("rule", rule.id, points, said, rule.criterion, rule.source))
    for criterion, over in judged.rules.caps.items():
        share = weights.share[criterion]
        if share:
            said = say("score.cap", criterion=Word("criterion", criterion), end=count(100 if over < 0 else 0))
            lines.append(Contribution("cap", f"cap-{criterion}", (1 - w) * share * over, said, criterion))
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
