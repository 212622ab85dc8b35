"""Moving the ends of crowns, and the marks that a page keeps."""

import numpy as np
import pytest

from recommender.screens.survey.marking import _set_down
from recommender.screens.survey.scan_in_hand import ScanInHand, marks_file
from recommender.survey.cuts import cuts, nearest_cut
from recommender.survey.marks import Marks, read_marks
from recommender.survey.result import Survey


def test_neighbours_in_contact_share_a_cut(confirmed: Survey) -> None:
    found = {frozenset(cut.ends) for cut in cuts(confirmed.located.frames)}
    assert frozenset({(31, "mesial"), (41, "mesial")}) in found  # across the midline
    assert frozenset({(33, "distal"), (34, "mesial")}) in found
    assert frozenset({(34, "distal")}) in found  # 35 is missing
    ends = [end for cut in found for end in cut]
    assert len(ends) == len(set(ends)) == 4 * len(confirmed.teeth)


def test_a_cut_is_picked_up_and_set_down(confirmed: Survey, marks: Marks) -> None:
    frames = confirmed.located.frames
    cut = next(cut for cut in cuts(frames) if (33, "distal") in cut.ends)
    assert nearest_cut(frames, cut.place + 0.4, 1.2) is not None
    assert nearest_cut(frames, cut.place + np.array([0.0, 60.0]), 1.2) is None
    kept = ScanInHand("invented-1", confirmed.scan, invented=True, marks=marks, confirmed={33, 34, 36})
    place = confirmed.located.in_file(np.append(cut.place + 0.3, 5.0))
    _set_down(kept, confirmed, cut, place)
    for tooth, end in ((33, "distal"), (34, "mesial")):
        outline = kept.marks.teeth[tooth].outline
        assert outline is not None
        assert outline[end] == pytest.approx(place)
    assert kept.confirmed == {36}  # what was moved has to be looked at again
    written = read_marks(marks_file(kept))
    assert written.scan == confirmed.scan.sha256
    assert written.teeth[36].confirmed
    assert not written.teeth[34].confirmed
