"""How one framework differs from another: what it takes instead, and what it gives up or gains."""

from collections.abc import Iterator, Mapping

from recommender.advice.frameworks.parts import Choice as Parts
from recommender.advice.model import WORTH_SAYING, Framework, points_by_criterion
from recommender.domain.statement import Choice, Statement, Word, count, quantity, say, several, teeth


def weigh(choice: Parts) -> dict[str, float]:
    """Points of the framework's score by criterion (``precedents`` for what they add); the wants are left out.

    Retainers on the teeth considered and the connector, each with its weight in the score.
    """
    stock = choice.stock
    shares = [(stock.point, part.result) for part in choice.retainers.values() if not part.further]
    shares.append((stock.figures.weights.connector, choice.connector_result))
    return points_by_criterion((share, result.contributions) for share, result in shares)


def gives_up(
    first: Framework,
    other: Framework,
    weighed_first: Mapping[str, float],
    weighed_other: Mapping[str, float],
) -> tuple[Statement, ...]:
    """How ``other`` differs from ``first``: the parts, then the price."""
    return (*_other_parts(first, other), *_traded(first, other, weighed_first, weighed_other))


def _other_parts(first: Framework, other: Framework) -> Iterator[Statement]:
    if other.connector != first.connector:
        yield say(
            "frameworks.connector_instead",
            taken=Choice("connector", other.connector),
            instead=Choice("connector", first.connector),
        )
    changed: dict[tuple[str, str], list[int]] = {}
    for at in sorted({*first.retainers, *other.retainers}):
        was, now = first.retainers.get(at, "none"), other.retainers.get(at, "none")
        if was != now:
            changed.setdefault((now, was), []).append(at)
    for (now, was), numbers in changed.items():
        yield say(
            "frameworks.retainer_instead",
            teeth=teeth(numbers),
            taken=Choice("retainer", now),
            instead=Choice("retainer", was),
        )


def _traded(
    first: Framework, other: Framework, weighed_first: Mapping[str, float], weighed_other: Mapping[str, float]
) -> Iterator[Statement]:
    behind = first.score - other.score
    code = "frameworks.scores_less" if behind >= 0 else "frameworks.scores_more"
    yield say(code, points=quantity(abs(behind), "points"))
    moved = {
        name: weighed_other.get(name, 0.0) - weighed_first.get(name, 0.0)
        for name in {*weighed_first, *weighed_other}
    }
    for code, sign in (("frameworks.gives_up", -1), ("frameworks.gains", 1)):
        told = sorted(
            (-abs(points), name) for name, points in moved.items() if points * sign >= WORTH_SAYING
        )[:3]
        if told:
            lines = (
                say("frameworks.criterion", criterion=Word("criterion", name), points=quantity(-points))
                for points, name in told
            )
            yield say(code, criteria=several(lines, "comma"))
    work = len(other.preparation) - len(first.preparation)
    if work:
        yield say("frameworks.more_work" if work > 0 else "frameworks.less_work", number=count(abs(work)))
    if first.metal_on_show is not None and other.metal_on_show is not None:
        shown = other.metal_on_show - first.metal_on_show
        if abs(shown) >= WORTH_SAYING:
            yield say(
                "frameworks.shows_more" if shown > 0 else "frameworks.shows_less",
                here=quantity(other.metal_on_show),
                there=quantity(first.metal_on_show),
            )
    passed = {check.id for check in first.checks if check.outcome.startswith("passed")}
    for check in other.checks:
        if check.outcome == "failed" and check.id in passed:
            yield say("frameworks.does_not_keep", rule=check.id, source=check.source, check=check.statement)
