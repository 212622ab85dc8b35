"""The rules between parts, checked on a finished framework and told in words.

A check reads the parts as they were chosen and never the solver's own record.
"""

from typing import TYPE_CHECKING

from recommender.advice.assembly_checks_bearing import bearing_checks
from recommender.advice.assembly_checks_holding import holding_checks
from recommender.advice.assembly_checks_meeting import meeting_checks
from recommender.advice.assembly_checks_parts import part_checks
from recommender.advice.assembly_parts import figures
from recommender.advice.assembly_whole import Whole
from recommender.advice.model import Check

if TYPE_CHECKING:
    from recommender.advice.recommend import Working


def checks_of(working: "Working", whole: Whole) -> tuple[Check, ...]:
    """Every rule between parts with its outcome, in the order of ``shared/frameworks.yaml``."""
    found = [
        *holding_checks(whole),
        *bearing_checks(working, whole),
        *meeting_checks(whole),
        *part_checks(working, whole),
    ]
    order = list(figures()["rules"])
    return tuple(sorted(found, key=lambda one: order.index(one.id)))
