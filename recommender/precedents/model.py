"""A stored situation and a neighbour, as plain values."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from recommender.precedents.search.tables import FeatureValue

Kind = Literal["retainer", "connector", "replacement", "rest"]
Voice = tuple[str | None, float, float]
"""What a precedent chose, its worth, and its likeness."""
Verdict = Literal["alike", "near", "differs", "not_recorded"]


@dataclass(frozen=True, slots=True)
class Situation:
    """One decision in one case: what the designer had before them, and what they chose.

    ``features`` maps feature name to value (for a measure known within bounds, the two bounds), ``None`` where not
    recorded. ``site`` is the ISO tooth (0 for a
    connector). ``worth`` (-1 to 1) says how the precedent fared; ``verdict`` says it in words. ``choice`` is
    ``None`` for a situation that is only asked about.
    """

    case_id: str
    kind: Kind
    site: int
    arch: str
    features: Mapping[str, FeatureValue | None]
    choice: str | None = None
    worth: float = 0.0
    verdict: str = ""
    approved: bool = True
    outcome_known: bool = False
    fingerprint: str = ""


@dataclass(frozen=True, slots=True)
class FeatureAccount:
    """How one feature compares. ``here`` and ``there`` are ``None`` where not recorded.

    ``weight`` is its share of all weights (0-1) and ``difference`` (0-1) what it was charged: the expected
    difference for a gap in the stored case, 1 for a gap here. The likeness is the sum of ``weight * (1 -
    difference)`` over the account.
    """

    feature: str
    label: str
    here: FeatureValue | None
    there: FeatureValue | None
    verdict: Verdict
    difference: float
    weight: float
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A stored situation with its likeness ``a`` (0-1) and the account of every feature."""

    situation: Situation
    likeness: float
    account: tuple[FeatureAccount, ...]
