"""Proposals of a survey as marks, for a person to correct and confirm."""

from recommender.survey.marks import Marks, ToothMarks
from recommender.survey.result import Survey


def proposed_marks(survey: Survey) -> Marks:
    """Outlines and margins as they were found or marked, in the frame of the file; confirmed only where they were."""
    teeth = {}
    for tooth, parts in survey.parts.items():
        frame = parts.surface.frame
        outline = {name: survey.located.in_file(point) for name, point in frame.outline().items()}
        ring = survey.located.in_file(frame.world(parts.margin.points))
        teeth[tooth] = ToothMarks(outline, ring, None, survey.teeth[tooth].confirmed)
    return Marks(scan=survey.scan.sha256, standing=survey.standing, teeth=teeth)
