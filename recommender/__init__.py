"""Case-based design support for removable partial denture frameworks.

>>> import recommender as rpd
>>> rpd.__version__
'0.1.0'

The public names below are those of ``recommender.api``, imported when they are first used. The rooms behind them, in
the order in which data passes through them, stand in DEVELOPERS.md.
"""

from recommender.version import __version__ as __version__

# known to type checkers; the module ``typing`` would be most of what a bare import costs
TYPE_CHECKING = False
if TYPE_CHECKING:
    from recommender.api import Advice as Advice
    from recommender.api import CaseError as CaseError
    from recommender.api import NothingToAdviseError as NothingToAdviseError
    from recommender.api import build_case as build_case
    from recommender.api import read_case as read_case
    from recommender.api import read_cases as read_cases
    from recommender.api import recommend as recommend
    from recommender.api import resurvey as resurvey
    from recommender.api import survey_scan as survey_scan

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


def __getattr__(name: str) -> object:
    if name in __all__:
        from importlib import import_module

        found: object = getattr(import_module("recommender.api"), name)
        return found
    raise AttributeError(f"module 'recommender' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
