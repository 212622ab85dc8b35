"""A survey as plain data: figures, bands and provenance. Nothing of the mesh, and no name of a file."""

from typing import TYPE_CHECKING, Any

from recommender.survey.settings import settings

if TYPE_CHECKING:
    from recommender.survey.result import Survey, ToothSurvey


def survey_document(survey: "Survey") -> dict[str, Any]:
    """The document that ``rpd-casebook survey --json`` prints."""
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
        "teeth": {tooth: _tooth(entry) for tooth, entry in sorted(survey.teeth.items())},
        "spaces": [
            {
                "teeth": list(space.teeth),
                "width_mm": space.width_mm.document(),
                "clearance_mm": space.clearance_mm.document(),
                "clearance_by_tooth_mm": {
                    tooth: room.document() for tooth, room in space.clearance_by_tooth_mm.items()
                },
            }
            for space in survey.spaces
        ],
        "palate": None
        if survey.palate is None
        else {
            "vault_mm": survey.palate.vault_mm.document(),
            "rugae_mm": survey.palate.rugae_mm.document(),
            "length_mm": survey.palate.length_mm.document(),
        },
        "doubts": list(survey.doubts),
        "not_in_a_scan": list(settings()["not_in_a_scan"]),
    }


def provenance(survey: "Survey") -> dict[str, Any]:
    """The ``survey`` block of the case format."""
    scan, path = survey.scan, survey.path
    block: dict[str, Any] = {
        "scan": {
            "sha256": scan.sha256, "triangles": scan.triangles, "edge_mm": round(scan.raw.edge_mm, 2),
            "roughness_mm": round(scan.roughness_mm, 3), "unit": scan.unit, "unit_confirmed": survey.unit_confirmed,
            "side_confirmed": survey.side_confirmed,
        },
        "level": {
            "by": "three_points" if survey.level_confirmed else "occlusal_plane", "confirmed": survey.level_confirmed,
        },
        "path": {
            "tilt_ap_deg": path.tilt_ap_deg, "tilt_lateral_deg": path.tilt_lateral_deg,
            "chosen_by": survey.path_chosen_by,
        },
        "method": settings()["method"],
        "confirmed": sorted(survey.confirmed),
    }  # fmt: skip
    if survey.tripod is not None:
        block["path"]["tripod"] = {
            "points_mm": [list(point) for point in survey.tripod.points_mm],
            "heights_level_mm": list(survey.tripod.heights_level_mm),
        }
    return block


def _tooth(entry: "ToothSurvey") -> dict[str, Any]:
    return {
        "outline": entry.outline,
        "margin": entry.margin,
        "undercuts_mm": {zone: value.document() for zone, value in entry.undercuts_mm.items()},
        "undercuts_level_mm": {zone: value.document() for zone, value in entry.undercuts_level_mm.items()},
        "contour_height": {
            zone: {"mm_above_margin": line.above_margin_mm, "third": line.third, "sure": line.sure}
            for zone, line in entry.contour.items()
        },
        "crown_height_mm": entry.crown_height_mm.document(),
        "tissue_undercut_mm": entry.tissue_undercut_mm.document(),
        "rest_clearance_mm": {site: room.document() for site, room in entry.rest_clearance_mm.items()},
        "embrasure_clearance_mm": {
            side: room.document() for side, room in entry.embrasure_clearance_mm.items()
        },
    }
