"""How one framework differs from another: what it takes instead, and what it gives up or gains."""

from recommender.advice.model import Framework


def gives_up(first: Framework, other: Framework) -> tuple[str, ...]:
    """Sentences on how ``other`` differs from ``first``, the parts before the price."""
    lines: list[str] = []
    if other.connector != first.connector:
        lines.append(f"{_words(other.connector)} instead of {_words(first.connector)}")
    for tooth in sorted({*first.retainers, *other.retainers}):
        was, now = first.retainers.get(tooth, "none"), other.retainers.get(tooth, "none")
        if was != now:
            lines.append(f"{tooth}: {_words(now)} instead of {_words(was)}")
    lines += _traded(first, other)
    return tuple(lines)


def _traded(first: Framework, other: Framework) -> list[str]:
    lines = [f"gives up {first.score - other.score:.1f} points of score"]
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


def _words(identifier: str) -> str:
    return identifier.replace("_", " ")
