"""From the files of a scan and a case to a survey."""

import hashlib
from pathlib import Path

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER
from recommender.survey.errors import ScanError
from recommender.survey.marks import Marks, read_marks
from recommender.survey.result import Survey
from recommender.survey.scan import Scan, load_scan, prepared
from recommender.survey.surveying import Dentition, survey


def survey_scan(
    path: str | Path, case: Case, marks: Marks | str | Path | None = None, opposing: str | Path | None = None
) -> Survey:
    """As ``recommender.survey_scan``, by the figures in force here."""
    chosen = marks if isinstance(marks, Marks) else marks_from(marks) if marks is not None else Marks()
    scan = load_scan(Path(path), chosen.unit)
    other = load_scan(Path(opposing), chosen.unit).mesh if opposing is not None else None
    return survey(scan, dentition_of(case), chosen, other)


def marks_from(path: str | Path) -> Marks:
    """Marks from a MARKS file. Raises ``ScanError`` or ``OSError``."""
    try:
        return read_marks(Path(path).read_text(encoding="utf-8"))
    except UnicodeDecodeError:
        raise ScanError("the marks are no text in UTF-8") from None


def dentition_of(case: Case) -> Dentition:
    """What of a case a survey needs. Teeth that are to be extracted still stand on the cast."""
    gone = (set(case.missing) | set(case.absent or ())) - set(case.planned_extractions or ())
    standing = tuple(tooth for tooth in ARCH_ORDER[case.arch] if tooth not in gone)
    replaced = tuple(tooth for tooth in ARCH_ORDER[case.arch] if tooth in set(case.missing))
    return Dentition(case.arch, standing, replaced)


def demo_scan(case: Case) -> Scan:
    """A scan of an invented cast for a case, made anew from the case's id and teeth each time; never stored."""
    from recommender.survey.demo import demo_mesh

    mesh = demo_mesh(dentition_of(case), case.id)
    return prepared(mesh, hashlib.sha256(mesh.points.tobytes()).hexdigest(), "mm")
