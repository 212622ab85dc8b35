"""Every letter and ticket of the demo cases by the rules of ``paper_rules``, on A4 and US Letter."""

import io
import os
from functools import cache
from typing import TYPE_CHECKING

import pypdf
import pytest

from recommender.advice.confidence.answers import Confidence
from recommender.advice.confidence.attach import with_standing
from recommender.advice.recommend import recommendation
from recommender.documents.letter import letter_about
from recommender.documents.proposal import Origin, flagged, own_design, proposal_of
from recommender.documents.ticket import ticket
from recommender.documents.typesetting import pdf
from tests.documents.conftest import demo_cases
from tests.documents.paper_rules import of_letter, of_ticket

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender

LONG = os.environ.get("RPD_LONG") == "1"
# Lower with an irradiated jaw, upper with departures and front rests, facings, a rotational path.
SAMPLE = ("harbour-0058", "harbour-0064", "harbour-0089", "harbour-0101")
CASES = sorted(demo_cases()) if LONG else SAMPLE
ORIGIN = Origin("rules", "library", demo=True)


@cache
def ids() -> set[str]:
    return set(demo_cases())


@pytest.mark.parametrize("case_id", CASES)
def test_the_papers_keep_their_rules(case_id: str, with_demo: "Recommender") -> None:
    case = demo_cases()[case_id]
    analysis = with_demo.work(case)
    answer = with_standing(recommendation(analysis, 3), Confidence(analysis))
    letter = letter_about(analysis, answer, ORIGIN)
    assert of_letter(letter, case, ids()) == []
    for proposal in (proposal_of(answer), own_design(answer)):
        made = ticket(flagged(analysis, proposal), ORIGIN, despite_provisional="a trial")
        assert of_ticket(made, proposal, analysis) == []
    pages = {paper: len(pypdf.PdfReader(io.BytesIO(pdf(letter, paper))).pages) for paper in ("a4", "letter")}
    assert max(pages.values()) <= 2
    first = pypdf.PdfReader(io.BytesIO(pdf(made, "letter"))).pages[0].extract_text()
    assert "Replaced by" in first  # the last table of what is built stands on the first page
