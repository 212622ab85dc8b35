"""A survey of a scan as JSON values: figures, bands and provenance. Nothing of the mesh, and no name of a file."""

from collections.abc import Mapping
from typing import Any

from recommender.documents.results.stated import listed
from recommender.domain.statement import Statement, statement_document
from recommender.survey.provenance import provenance
from recommender.survey.record import TakenOver
from recommender.survey.result import Figure, Survey, ToothSurvey
from recommender.survey.settings import settings
from recommender.wording.words import Words


def survey_document(words: Words, survey: Survey) -> dict[str, Any]:
    """What ``rpd-casebook survey --json`` prints of a survey (``shared/schema/survey.schema.json``)."""

    def figure(found: Figure) -> dict[str, Any]:
        return _figure(words, found)

    return {
        "format": 1,
        "survey": provenance(survey),
        "as_good": [
            {
                "tilt_ap_deg": entry.tilt_ap_deg,
                "tilt_lateral_deg": entry.tilt_lateral_deg,
                "score": round(entry.score, 3),
            }
            for entry in (survey.search.plateau if survey.search else ())
        ],
        "teeth": {tooth: _tooth(words, entry) for tooth, entry in sorted(survey.teeth.items())},
        "spaces": [
            {
                "teeth": list(space.teeth),
                "width_mm": figure(space.width_mm),
                "clearance_mm": figure(space.clearance_mm),
                "clearance_by_tooth_mm": _figures(words, space.clearance_by_tooth_mm),
            }
            for space in survey.spaces
        ],
        "palate": None
        if survey.palate is None
        else {
            "vault_mm": figure(survey.palate.vault_mm),
            "rugae_mm": figure(survey.palate.rugae_mm),
            "length_mm": figure(survey.palate.length_mm),
        },
        **listed(words, "doubts", survey.doubts),
        "not_in_a_scan": list(settings()["not_in_a_scan"]),
    }


def taken_over_document(rows: tuple[TakenOver, ...]) -> list[dict[str, Any]]:
    """What was taken over into a case beside what stood there, row by row."""
    return [{"path": row.path, "before": row.before, "after": row.after, "how": row.how} for row in rows]


def _tooth(words: Words, entry: ToothSurvey) -> dict[str, Any]:
    return {
        "outline": entry.outline,
        "margin": entry.margin,
        "undercuts_mm": _figures(words, entry.undercuts_mm),
        "undercuts_level_mm": _figures(words, entry.undercuts_level_mm),
        "contour_height": {
            zone: {"mm_above_margin": line.above_margin_mm, "third": line.third, "sure": line.sure}
            for zone, line in entry.contour.items()
        },
        "crown_height_mm": _figure(words, entry.crown_height_mm),
        "tissue_undercut_mm": _figure(words, entry.tissue_undercut_mm),
        "rest_clearance_mm": _figures(words, entry.rest_clearance_mm),
        "embrasure_clearance_mm": _figures(words, entry.embrasure_clearance_mm),
    }


def _figures(words: Words, found: Mapping[Any, Figure]) -> dict[Any, dict[str, Any]]:
    return {where: _figure(words, figure) for where, figure in found.items()}


def _figure(words: Words, found: Figure) -> dict[str, Any]:
    if found.value is None:
        return {"value": None, **_said(words, "why", found.why)}
    entry: dict[str, Any] = {"low": found.low, "value": found.value, "high": found.high}
    if found.causes:
        entry["sd"] = dict(found.causes)
    return {**entry, **_said(words, "check", found.check)}


def _said(words: Words, key: str, statement: Statement | None) -> dict[str, Any]:
    if statement is None:
        return {}
    return {key: words.text(statement), f"{key}_statement": statement_document(statement)}
