"""What an order takes back: "scratch that", "correction: ...". What is said after such words counts."""

from collections.abc import Sequence
from dataclasses import replace

from recommender.orders.model import ON_ROOTS, Proposal

CORRECTED = "the order corrects what it said before"
_GONE = ("missing", "absent", "planned_extractions")
_CARRIED = ("prescription.retainers[", "abutments[", "prescription.rests[")
_CLASP, _NO_CLASP = "prescription.retainers[", "prescription.not.retainers["
_CONNECTOR, _NO_CONNECTOR = "prescription.connector", "prescription.not.connector"


def corrected(held: Sequence[Proposal], corrections: Sequence[int]) -> list[Proposal]:
    """The proposals without those that words after a correction contradict; what replaces them is marked.

    ``corrections``: the characters at which words of correction begin.
    """
    kept = list(held)
    for at in corrections:
        before = [one for one in kept if one.words.start < at]
        after = [one for one in kept if one.words.start >= at]
        left: list[Proposal] = []
        for one in before:
            against = [other for other in after if _contradicts(other, one)]
            after = [replace(o, marked=o.marked or CORRECTED) if o in against else o for o in after]
            left += _without(one, against)
        kept = [*left, *after]
    return kept


def _contradicts(later: Proposal, earlier: Proposal) -> bool:
    if earlier.path in _GONE and later.path in _GONE:
        both = set(earlier.value) & set(later.value)
        return bool(both) and {earlier.path, later.path} == {"missing", "absent"}
    if earlier.path in _GONE:
        return later.path.startswith(_CARRIED) and bool(set(later.teeth) & set(earlier.value))
    if later.path in _GONE:
        return earlier.path.startswith((*_CARRIED, _NO_CLASP)) and bool(set(earlier.teeth) & set(later.value))
    if earlier.path == later.path:
        return bool(earlier.value != later.value) and not earlier.path.startswith("prescription.not.")
    if {earlier.path, later.path} == {_CONNECTOR, _NO_CONNECTOR}:
        ruled_out, asked = sorted((earlier, later), key=lambda one: one.path == _CONNECTOR)
        return asked.value in ruled_out.value
    kinds = {one.path.split("[", 1)[0] + "[" for one in (earlier, later)}
    if kinds != {_CLASP, _NO_CLASP} or earlier.teeth != later.teeth:
        return False
    ruled_out, asked = sorted((earlier, later), key=lambda one: one.path.startswith(_CLASP))
    return bool({asked.value, "any"} & set(ruled_out.value)) and asked.value not in ("rest_only", *ON_ROOTS)


def _without(one: Proposal, against: Sequence[Proposal]) -> list[Proposal]:
    """What is left of a proposal: a list of teeth loses those that the later words speak of, all else goes."""
    if not against:
        return [one]
    if one.path not in _GONE:
        return []
    taken = {tooth for other in against for tooth in other.teeth}
    left = [tooth for tooth in one.value if tooth not in taken]
    return [replace(one, value=left, teeth=tuple(left), marked=one.marked or CORRECTED)] if left else []


def not_these(held: Sequence[Proposal], named: Sequence[tuple[int, frozenset[int]]]) -> list[Proposal]:
    """The proposals without clasps on teeth of which the order later says that others are meant ("not 17 but 16").

    ``named``: where the order says so, and the teeth that are not meant.
    """
    kept = list(held)
    for at, teeth in named:
        said = {one.value for one in kept if one.path.startswith(_CLASP) and one.words.start < at <= one.words.end}
        kept = [
            one
            for one in kept
            if not (
                one.path.startswith(_CLASP)
                and one.words.end < at
                and one.value in said
                and set(one.teeth) & teeth
            )
        ]
    return kept
