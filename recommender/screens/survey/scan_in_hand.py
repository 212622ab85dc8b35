"""The scan in hand: kept in this session alone, apart from the case, its undo history, its working copy and every
cache.

It goes when another case is taken in hand, when it is put away, and when the session ends.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import yaml

from recommender.api.surveying import survey_figures
from recommender.domain.case import Case
from recommender.screens.session.visitor import store
from recommender.screens.ui import words
from recommender.survey.cuts import Cut
from recommender.survey.entry import demo_scan, dentition_of
from recommender.survey.errors import ScanError
from recommender.survey.marks import Marks, ToothMarks, marks_document
from recommender.survey.mesh import Mesh
from recommender.survey.result import Survey
from recommender.survey.scan import Scan, scan_of_bytes
from recommender.survey.settings import in_force
from recommender.survey.surveying import stood_by, survey

if TYPE_CHECKING:
    from recommender.survey.arrays import Floats

_KEY = "casebook.scan"


@dataclass
class ScanInHand:
    """One scan with what has been marked on it.

    ``waiting`` are clicks that do not make a whole mark yet, ``picked`` is a cut that waits for its new place.
    """

    case_id: str
    scan: Scan
    invented: bool
    marks: Marks = field(default_factory=Marks)
    opposing: Mesh | None = None
    confirmed: set[int] = field(default_factory=set)
    picked: Cut | None = None
    waiting: list[Any] = field(default_factory=list)
    trouble: str = ""
    result: Survey | None = None
    _made_for: Any = None


def in_hand(case: Case) -> ScanInHand | None:
    """The scan in hand for a case; one of another case is let go."""
    found: ScanInHand | None = store().get(_KEY)
    if found is not None and found.case_id != case.id:
        put_away()
        return None
    return found


def put_away() -> None:
    """Let the scan go."""
    for key in (_KEY, "scan.step", "scan.margin_tooth"):
        store().pop(key, None)


def take(case: Case, data: bytes, unit: str | None = None) -> str:
    """Take the bytes of a scan in hand, drawn in ``unit``; what is wrong with it, or an empty string."""
    try:
        with in_force(survey_figures()):
            scan = scan_of_bytes(data, unit)
    except ScanError as error:
        return refusal(error)
    _begin(ScanInHand(case.id, scan, invented=False))
    return ""


def take_invented(case: Case) -> None:
    """Make an invented cast for the case and take it in hand."""
    with in_force(survey_figures()):
        scan = demo_scan(case)
    _begin(ScanInHand(case.id, scan, invented=True))


def refusal(error: ScanError) -> str:
    """What is wrong, in words."""
    return str(error) if error.statement is None else words.said(error.statement)


def _begin(new: ScanInHand) -> None:
    put_away()
    store()[_KEY] = new


def surveyed(case: Case, kept: ScanInHand) -> Survey | None:
    """The survey for what is marked now; made anew only where a mark changed. ``None`` with ``kept.trouble`` if it
    cannot be."""
    dentition = dentition_of(case)
    key = (dentition, id(kept.marks), id(kept.opposing))
    if kept._made_for != key:
        try:
            with in_force(survey_figures()):
                kept.result, kept.trouble = survey(kept.scan, dentition, kept.marks, kept.opposing), ""
        except ScanError as error:
            kept.trouble = refusal(error)
        kept._made_for = key
    return None if kept.result is None else stood_by(kept.result, kept.confirmed)


def mark(kept: ScanInHand, **changes: Any) -> None:
    """Change what is marked; a mark that makes the survey impossible is taken back by :func:`surveyed` telling so."""
    kept.marks = replace(kept.marks, **changes)


def mark_tooth(kept: ScanInHand, tooth: int, **changes: Any) -> None:
    """Change the marks of one tooth; it has to be confirmed anew."""
    teeth = dict(kept.marks.teeth)
    teeth[tooth] = replace(teeth.get(tooth, ToothMarks()), **changes)
    kept.confirmed.discard(tooth)
    mark(kept, teeth=teeth)


def try_mark(case: Case, kept: ScanInHand, change: Callable[[], None]) -> None:
    """Make a change; where it makes the survey impossible it is taken back and the reason kept in ``trouble``."""
    before = (kept.marks, kept.opposing, kept.result, kept._made_for, set(kept.confirmed))
    change()
    surveyed(case, kept)
    if kept.trouble:
        told = kept.trouble
        kept.marks, kept.opposing, kept.result, kept._made_for, kept.confirmed = before
        kept.trouble = told


def marks_file(kept: ScanInHand) -> str:
    """What was marked and confirmed so far as a MARKS file, which the command line reads."""
    teeth = {
        tooth: replace(entry, confirmed=tooth in kept.confirmed) for tooth, entry in kept.marks.teeth.items()
    }
    marks = replace(kept.marks, scan=kept.scan.sha256, teeth=teeth)
    return str(yaml.safe_dump(marks_document(marks), sort_keys=False, default_flow_style=None))


def place_on_scan(result: Survey, x: float, y: float) -> "Floats | None":
    """A place of the drawing on the surface of the scan, in the frame of its file; ``None`` beside the scan."""
    height = float(result.located.image.at(np.array([[x, y]]))[0])
    if not np.isfinite(height):
        return None
    return result.located.in_file(np.array([x, y, height]))
