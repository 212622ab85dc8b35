"""Proposals of a survey as marks, for a person to correct and confirm."""

from recommender.survey.marks import Marks, ToothMarks
from recommender.survey.result import Survey


def proposed_marks(survey: Survey) -> Marks:
    """Outlines as they were found, in the frame of the file; confirmed only where they were.

    A margin that was found is accepted by confirming the tooth: written out as points it would pass for a traced
    line.
    """
    teeth = {}
    for tooth, parts in survey.parts.items():
        outline = {
            name: survey.located.in_file(point) for name, point in parts.surface.frame.outline().items()
        }
        teeth[tooth] = ToothMarks(outline, None, None, survey.teeth[tooth].confirmed)
    return Marks(scan=survey.scan.sha256, standing=survey.standing, teeth=teeth)
