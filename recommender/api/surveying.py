"""A scan of a cast surveyed by the figures that count: the packaged ones, or those adopted in their place."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from recommender.domain.case import Case
from recommender.knowledge.packaged import adopted_folder
from recommender.survey.settings import in_force

if TYPE_CHECKING:
    from recommender.survey.marks import Marks
    from recommender.survey.result import Survey


def survey_figures() -> Mapping[str, Any] | None:
    """The adopted figures of ``survey.yaml`` as plain values; ``None`` where the packaged ones count."""
    if adopted_folder() is None:
        return None
    from recommender.knowledge.in_force import knowledge

    return knowledge().figures.survey.model_dump()


def survey_scan(
    path: str | Path,
    case: Case,
    marks: "Marks | str | Path | None" = None,
    opposing: str | Path | None = None,
) -> "Survey":
    """Survey figures of a scanned cast for a case.

    Parameters
    ----------
    path, opposing
        STL, PLY or OBJ files of the cast and, in occlusion and in the same frame, of the opposing arch.
    case
        Which teeth stand, and which are to be replaced.
    marks
        What a person confirmed: a MARKS file, or its content already read.

    Returns
    -------
    Survey
        Figures with bands (mm), and reasons where there is none. Nothing is written, and nothing of the scan is kept.

    Raises
    ------
    ScanError
        With one sentence, where scan, marks and case cannot be brought together.
    OSError
        Where a file cannot be read.
    """
    from recommender.survey import entry

    with in_force(survey_figures()):
        return entry.survey_scan(path, case, marks, opposing)
