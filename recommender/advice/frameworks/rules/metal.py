"""The metal itself: one piece, arms that grow from something, tips in undercuts, clasps that hold their tooth,
metal thick enough.

Parts that would break one of these are never candidates (``building``); the finished design is looked at once
more as a whole (``buildable``), and what that finds is told here.
"""

from recommender.advice.frameworks.rules.base import BetweenParts, Finding
from recommender.advice.frameworks.whole import Whole
from recommender.domain.statement import say, teeth


class _OfMetal(BetweenParts):
    def tell(self, whole: Whole) -> Finding:
        said = tuple(fault.said for fault in whole.faults if fault.kind == self.id)
        return Finding("failed", said) if said else self.kept(whole)

    def kept(self, whole: Whole) -> Finding:
        """What there is to say where nothing is wrong."""
        return Finding("passed")


class OnePiece(_OfMetal):
    id = "one_piece"


class GrownArms(_OfMetal):
    id = "grown_arms"


class TipInUndercut(_OfMetal):
    id = "tip_in_undercut"

    def kept(self, whole: Whole) -> Finding:
        held = [part for part in whole.choice.held if part.build.zone is not None]
        made = [part.tooth for part in held if part.build.made]
        unknown = [part.tooth for part in held if part.build.depth_mm is None]
        if unknown:
            return Finding("not_checked", (say("undercut_not_recorded", teeth=teeth(unknown)),))
        return (
            Finding("passed_with_preparation", (say("undercut_made", teeth=teeth(made)),))
            if made
            else Finding("passed")
        )


class Encirclement(_OfMetal):
    id = "encirclement"


class Reciprocated(_OfMetal):
    """Computed from where the rigid parts lie; whether they touch in time hangs on prepared faces."""

    id = "reciprocated"

    def kept(self, whole: Whole) -> Finding:
        waiting = [part.tooth for part in whole.choice.held if part.waits]
        if waiting:
            return Finding("passed_with_preparation", (say("after_preparation_of", teeth=teeth(waiting)),))
        return Finding("passed")


class LeastThickness(_OfMetal):
    id = "least_thickness"


METAL = (Reciprocated, Encirclement, GrownArms, TipInUndercut, OnePiece, LeastThickness)
