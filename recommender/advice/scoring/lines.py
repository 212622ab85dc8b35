"""The lines of a score: one contribution for each start, rule, cap and precedent; they add up to the score."""

from collections.abc import Mapping

from recommender.advice.model import Contribution
from recommender.advice.scoring.blend import Evidence
from recommender.advice.scoring.judge import Judged
from recommender.advice.scoring.score import Weights
from recommender.domain.options import Option
from recommender.facts.computed_words import COMPUTED, computed_words
from recommender.facts.values import Scope
from recommender.knowledge.model import Criteria, Rule
from recommender.precedents.model import Neighbour

NEUTRAL_TEXT = "Thin evidence stays in the middle: this is the precedents' share of 50."


def contributions(
    judged: Judged, evidence: Evidence, weights: Weights, criteria: Criteria, options: Mapping[str, Option]
) -> tuple[Contribution, ...]:
    """Every line on the final 0-100 scale: starts, rules in file order, caps, precedents, the neutral share.

    ``options`` are those of the decision, by identifier, for their labels.
    """
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
                    f"{option.label}: starts at {option.starts[criterion]:g} of 100 for "
                    f"{criteria.labels[criterion]}, which counts {share:.0%} here",
                    criterion,
                    option.because_source or option.source,
                )
            )
    for rule in judged.fired:
        share = weights.share.get(rule.criterion, 0.0)
        if rule.points and share:
            points = (1 - w) * share * rule.points
            text = with_numbers(rule, judged.scope)
            lines.append(Contribution("rule", rule.id, points, text, rule.criterion, rule.source))
    for criterion, over in judged.rules.caps.items():
        share = weights.share[criterion]
        if share:
            end = "100" if over < 0 else "0"
            text = f"{criteria.labels[criterion]} stops at {end}"
            lines.append(Contribution("cap", f"cap-{criterion}", (1 - w) * share * over, text, criterion))
    if w:
        for neighbour, points in evidence.shares(option.id):
            stored = neighbour.situation
            same = stored.choice == option.id
            known = options.get(stored.choice or "")
            chosen = known.label if known else str(stored.choice)
            text = precedent_text(neighbour, chosen, None if same else option.label)
            lines.append(
                Contribution(
                    "precedent", stored.case_id, w * points, text, similarity=neighbour.likeness, same=same
                )
            )
        lines.append(Contribution("neutral", "thin-evidence", w * 50.0, NEUTRAL_TEXT))
    return tuple(lines)


def with_numbers(rule: Rule, scope: Scope) -> str:
    """A rule's sentence, with what was computed for this case behind it."""
    if not any(name in str(rule.when) for name in COMPUTED):
        return rule.why
    numbers = computed_words(rule.when.reasons(scope), scope)
    return f"{rule.why} ({numbers})" if numbers else rule.why


def precedent_text(neighbour: Neighbour, chosen: str, related: str | None) -> str:
    """What a precedent did and how it fared, in one line; ``related`` is what it speaks for, where it chose another."""
    stored = neighbour.situation
    where = f" on {stored.site}" if stored.site else ""
    did = "chose the same" if related is None else f"chose {chosen}, related to {related}"
    return f"{stored.case_id}{where} {did} (likeness {neighbour.likeness:.2f}); {stored.verdict}"
