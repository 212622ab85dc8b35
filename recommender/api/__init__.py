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
"""

from recommender.api.advising import Advice, NothingToAdviseError, recommend
from recommender.api.cases import build_case, read_case, read_cases
from recommender.api.resurveying import resurvey
from recommender.api.surveying import survey_scan
from recommender.domain.errors import CaseError

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
