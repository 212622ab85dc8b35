"""What proposals of one arch say of a tooth made to agree, so that they make a case: gone, replaced, carrying."""

from collections.abc import Sequence
from dataclasses import replace

from recommender.orders.model import ON_ROOTS, Proposal

REPLACED = "said what it is replaced by"
CARRIES = "other words say that teeth of this list carry something, or are replaced"
TOO_HIGH = "too much for a height: taken for the width of the space"
_CARRIED = ("prescription.retainers[", "prescription.rests[", "prescription.not.retainers[")
_MOST_MM = 25


def consistent(held: Sequence[Proposal]) -> list[Proposal]:
    """The proposals without what no case can hold together; what was changed is marked."""
    missing = {tooth for one in held if one.path == "missing" for tooth in one.value}
    on_roots = {
        one.teeth[0]
        for one in held
        if (one.path.endswith(".kind") and one.value in ("root", "implant")) or one.value in ON_ROOTS
    }
    carrying = {one.teeth[0] for one in held if one.path.startswith(_CARRIED)}
    made: list[Proposal] = []
    for one in held:
        if one.path == "absent" and (kept := _spared(one, missing | carrying)) is not one:
            made += [kept] if kept.value else []
        elif one.path.startswith("spans[") and one.path.endswith(".clearance_mm") and one.value > _MOST_MM:
            made.append(
                replace(one, path=one.path.replace("clearance_mm", "width_mm"), marked=one.marked or TOO_HIGH)
            )
        else:
            made.append(one)
    gone = missing | {tooth for one in made if one.path == "absent" for tooth in one.value}
    made = [
        one for one in made if not (one.path.startswith("abutments[") and set(one.teeth) & gone - on_roots)
    ]
    made += [
        Proposal("missing", list(one.teeth), one.words, one.teeth, REPLACED)
        for one in made
        if one.path.startswith("prescription.replacements[") and not set(one.teeth) & (gone | carrying)
    ]
    known = gone | {tooth for one in made if one.path == "missing" for tooth in one.value}
    return [
        one
        for one in made
        if not one.path.startswith("prescription.replacements[") or set(one.teeth) <= known
    ]


def _spared(one: Proposal, others: set[int]) -> Proposal:
    """A list of teeth that are not replaced, without those of which other words say something else."""
    left = [tooth for tooth in one.value if tooth not in others]
    return one if len(left) == len(one.value) else replace(one, value=left, teeth=tuple(left), marked=CARRIES)
