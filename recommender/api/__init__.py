"""The public way in: for notebooks and programs, and for the command line and the screens as well.

>>> import recommender as rpd
>>> case = rpd.build_case({
...     "format": 1, "id": "example-1", "arch": "maxilla", "missing": [15, 16], "absent": [18, 28],
...     "abutments": [{"tooth": 14, "undercuts_mm": {"distofacial": 0.25}}],
... })
>>> advice = rpd.recommend(case, library=None)
>>> advice.kennedy
'Class III'
>>> advice.table("connector").columns[:3].tolist()
['option', 'status', 'score']

Everything proposed is a draft for a qualified person: the prescribing dentist decides, and local regulation and the
licensed technician stand above it.

Each name is imported when it is first used: bringing cases in needs nothing of what advising needs.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from recommender.api.advising import Advice as Advice
    from recommender.api.advising import NothingToAdviseError as NothingToAdviseError
    from recommender.api.advising import recommend as recommend
    from recommender.api.cases import build_case as build_case
    from recommender.api.cases import read_case as read_case
    from recommender.api.cases import read_cases as read_cases
    from recommender.api.resurveying import resurvey as resurvey
    from recommender.api.surveying import survey_scan as survey_scan
    from recommender.domain.errors import CaseError as CaseError

_HOMES = {
    "Advice": "recommender.api.advising",
    "CaseError": "recommender.domain.errors",
    "NothingToAdviseError": "recommender.api.advising",
    "build_case": "recommender.api.cases",
    "read_case": "recommender.api.cases",
    "read_cases": "recommender.api.cases",
    "recommend": "recommender.api.advising",
    "resurvey": "recommender.api.resurveying",
    "survey_scan": "recommender.api.surveying",
}
__all__ = [
    "Advice",
    "CaseError",
    "NothingToAdviseError",
    "build_case",
    "read_case",
    "read_cases",
    "recommend",
    "resurvey",
    "survey_scan",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'recommender.api' has no attribute {name!r}")
