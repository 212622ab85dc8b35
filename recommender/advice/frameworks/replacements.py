"""Which replacement each space takes: one kind for the whole space, unless a tooth has a strong reason of its own."""

from collections.abc import Iterable, Mapping, Sequence
from math import fsum

from recommender.advice.model import Decision, DecisionResult, OptionResult
from recommender.domain.kennedy import Space

_LEVELS = (("open", "needs_preparation"), ("advised_against",))


def replacements_of(
    spaces: Iterable[Space], results: Mapping[Decision, DecisionResult], mixed: float
) -> dict[int, OptionResult]:
    """The replacement of each missing tooth that can be set; a tooth for which all are excluded is left out.

    ``mixed``: how many points more another kind has to score before a space takes two.
    """
    chosen: dict[int, OptionResult] = {}
    for space in spaces:
        allowed = {
            tooth: usable
            for tooth in space.teeth
            if Decision("replacement", tooth) in results
            and (usable := usable_of(results[Decision("replacement", tooth)].ranked))
        }
        chosen |= _one_space(allowed, mixed)
    return chosen


def usable_of(ranked: Sequence[OptionResult]) -> tuple[OptionResult, ...]:
    """The options of the best level that has any: usable as they stand, else advised against, else none."""
    for level in _LEVELS:
        found = tuple(option for option in ranked if option.status in level)
        if found:
            return found
    return ()


def _one_space(allowed: Mapping[int, tuple[OptionResult, ...]], mixed: float) -> dict[int, OptionResult]:
    """The kind with the best sum of scores over the teeth that can take it; others only for their own reason."""
    if not allowed:
        return {}
    common = suits_all(allowed)
    chosen: dict[int, OptionResult] = {}
    for tooth, options in allowed.items():
        best = options[0]
        held = next((option for option in options if option.option == common), None)
        chosen[tooth] = best if held is None or best.score - held.score >= mixed else held
    return chosen


def suits_all(allowed: Mapping[int, tuple[OptionResult, ...]]) -> str | None:
    """The kind that every tooth of the space can take and that scores best in sum; ``None`` if there is none."""
    names = [{option.option for option in options} for options in allowed.values()]
    common = set.intersection(*names)
    sums = {
        name: fsum(
            option.score for options in allowed.values() for option in options if option.option == name
        )
        for name in common
    }
    return min(sums, key=lambda name: (-round(sums[name], 9), name), default=None)
