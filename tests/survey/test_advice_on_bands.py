"""Advice on an undercut that a scan gives as a band: below a gauge too shallow, above it holds, across it the gauge in
the hand decides.

0.25 mm for cast cobalt-chromium: Carr AB, Brown DT. McCracken's Removable Partial Prosthodontics,
12th ed. Elsevier Mosby, 2011, ch. 7 (from memory)."""

import pytest

from recommender.advice.confidence.answers import Confidence
from recommender.advice.model import Decision, OptionResult
from recommender.advice.recommend import Recommender
from recommender.api.libraries import recommender
from recommender.domain.case import Case

FIELD = "abutments[34].undercuts_mm.mesiofacial"
RETAINER = Decision("retainer", 34)


@pytest.fixture(scope="module")
def advice() -> Recommender:
    return recommender(None)


def case_of(low: float, value: float, high: float) -> Case:
    band = {"low": low, "value": value, "high": high}
    shallow = dict.fromkeys(
        ("midfacial", "distofacial", "mesiolingual", "midlingual", "distolingual", "distal"), 0.05
    )
    tooth = {
        "tooth": 34, "undercuts_mm": {**shallow, "mesiofacial": band}, "undercuts_level_mm": {"mesiofacial": 0.3},
        "mobility": 0, "bone_support": "good", "crown_height_mm": 8, "tilt": "none", "preparable": True,
        "disease": "none",
        "contour_height": "middle", "contour_height_lingual": "middle", "tissue_undercut": False,
    }  # fmt: skip
    return Case.model_validate({
        "format": 1, "id": "invented-band", "arch": "mandible", "missing": [35, 36], "absent": [38, 48],
        "patient": {"age": 50, "smile_line": "low", "aesthetic_priority": "low"}, "abutments": [tooth],
    })  # fmt: skip


def clasp(advice: Recommender, case: Case) -> OptionResult:
    return advice.work(case).decide(RETAINER).option("circumferential")


def test_a_band_across_the_gauge_waits_for_the_gauge_in_the_hand(advice: Recommender) -> None:
    case = case_of(0.18, 0.3, 0.34)
    found = clasp(advice, case)
    assert found.status == "open"
    assert found.provisional
    sure = Confidence(advice.work(case)).decision(RETAINER)
    assert sure.choice == "circumferential"
    assert sure.standing.word == "firm_if"
    asked = {answer.field: answer for answer in sure.standing.answers}
    assert asked[FIELD].least is not None
    assert asked[FIELD].least >= 0.25
    assert FIELD in sure.unverified


def test_a_band_above_the_gauge_asks_no_gauge(advice: Recommender) -> None:
    case = case_of(0.3, 0.36, 0.42)
    assert clasp(advice, case).status == "open"
    sure = Confidence(advice.work(case)).decision(RETAINER)
    assert FIELD not in {answer.field for answer in sure.standing.answers}
    assert FIELD not in sure.unverified


def test_a_band_below_the_gauge_is_too_shallow(advice: Recommender) -> None:
    found = clasp(advice, case_of(0.05, 0.1, 0.16))
    assert found.status == "needs_preparation"
    assert [block.id for block in found.blocked_by] == ["clasp_needs_undercut"]
