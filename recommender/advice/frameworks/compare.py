"""How one framework differs from another: what it takes instead, and what it gives up or gains."""

from collections.abc import Mapping

from recommender.advice.frameworks.candidates import Parts, figures
from recommender.advice.frameworks.solve import Selection
from recommender.advice.model import Framework, OptionResult
from recommender.knowledge.model import Knowledge


def weigh(parts: Parts, selection: Selection) -> dict[str, float]:
    """Points of the framework's score by criterion (``precedents`` for what they add); the wants are left out.

    Retainers on the teeth considered and the connector, each with its weight in the score.
    """
    weights = figures()["weights"]
    considered = [part for part in selection.retainers.values() if not part.further]
    found: dict[str, float] = {}
    shares: list[tuple[float, OptionResult]] = [
        (float(weights["retainer"]) / max(1, len(considered)), part.result) for part in considered
    ]
    shares.append((float(weights["connector"]), selection.connector_result))
    for share, result in shares:
        for line in result.contributions:
            name = line.criterion or "precedents"
            found[name] = found.get(name, 0.0) + share * line.points
    return found


def gives_up(
    base: Knowledge,
    first: Framework,
    other: Framework,
    weighed_first: Mapping[str, float],
    weighed_other: Mapping[str, float],
) -> tuple[str, ...]:
    """Sentences on how ``other`` differs from ``first``: the parts, then the price."""
    labels = base.catalogue.options
    lines: list[str] = []
    if other.connector != first.connector:
        names = labels["connector"]
        lines.append(f"{names[other.connector].label} instead of {names[first.connector].label}")
    changed: dict[tuple[str, str], list[int]] = {}
    for tooth in sorted({*first.retainers, *other.retainers}):
        was, now = first.retainers.get(tooth, "none"), other.retainers.get(tooth, "none")
        if was != now:
            changed.setdefault((now, was), []).append(tooth)
    for (now, was), teeth in changed.items():
        where = " and ".join(map(str, teeth)) if len(teeth) < 3 else ", ".join(map(str, teeth))
        lines.append(f"{where}: {labels['retainer'][now].label} instead of {labels['retainer'][was].label}")
    return (*lines, *_traded(base, first, other, weighed_first, weighed_other))


def _traded(
    base: Knowledge,
    first: Framework,
    other: Framework,
    weighed_first: Mapping[str, float],
    weighed_other: Mapping[str, float],
) -> list[str]:
    lines = [f"gives up {first.score - other.score:.1f} points of score"]
    if first.score < other.score:
        lines = [
            f"scores {other.score - first.score:.1f} points more, but breaks a rule that the first keeps"
        ]
    moved = {
        name: weighed_other.get(name, 0.0) - weighed_first.get(name, 0.0)
        for name in {*weighed_first, *weighed_other}
    }
    for word, sign in (("gives up", -1), ("gains", 1)):
        worth_saying = sorted(
            (-abs(points), name) for name, points in moved.items() if points * sign >= 0.05
        )[:3]
        if worth_saying:
            said = ", ".join(
                f"{base.criteria.labels.get(name, name)} {-points:.1f}" for points, name in worth_saying
            )
            lines.append(f"{word}: {said}")
    work = len(other.preparation) - len(first.preparation)
    if work:
        lines.append(
            f"asks for {abs(work)} preparation{'s' if abs(work) > 1 else ''} {'more' if work > 0 else 'fewer'}"
        )
    if first.metal_on_show is not None and other.metal_on_show is not None:
        shown = other.metal_on_show - first.metal_on_show
        if abs(shown) >= 0.05:
            more = "more" if shown > 0 else "less"
            beside = f"{other.metal_on_show:.1f} against {first.metal_on_show:.1f} arms"
            lines.append(f"shows {more} of its arms ({beside})")
    passed = {check.id for check in first.checks if check.outcome.startswith("passed")}
    lines += [
        f"does not keep: {check.text}"
        for check in other.checks
        if check.outcome == "failed" and check.id in passed
    ]
    return lines
