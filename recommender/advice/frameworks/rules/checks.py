"""The rules between parts, checked on a finished framework and told in words.

A check reads the parts as they were chosen and never the solver's own record.
"""

from typing import TYPE_CHECKING

from recommender.advice.frameworks.candidates import figures
from recommender.advice.frameworks.rules.bearing import bearing_checks
from recommender.advice.frameworks.rules.holding import holding_checks
from recommender.advice.frameworks.rules.meeting import meeting_checks
from recommender.advice.frameworks.rules.parts import part_checks
from recommender.advice.frameworks.whole import Whole
from recommender.advice.model import Check

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


def checks_of(analysis: "CaseAnalysis", whole: Whole) -> tuple[Check, ...]:
    """Every rule between parts with its outcome, in the order of ``shared/frameworks.yaml``."""
    found = [
        *holding_checks(whole),
        *bearing_checks(analysis, whole),
        *meeting_checks(whole),
        *part_checks(analysis, whole),
    ]
    order = list(figures()["rules"])
    return tuple(sorted(found, key=lambda one: order.index(one.id)))
