"""Where the figures of a case come from: the ``survey`` block of the case format. Nothing of the mesh."""

from typing import Any

from recommender.survey.result import Survey
from recommender.survey.settings import settings


def provenance(survey: Survey) -> dict[str, Any]:
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
