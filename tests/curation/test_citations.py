"""On which cases the evidence of a library rests."""

import pytest

from recommender.curation.citations import citations
from recommender.domain.case import Case
from recommender.precedents.search.tables import load
from recommender.precedents.situations import all_situations
from recommender.precedents.source import demo_source
from recommender.precedents.store.documents import status


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    return [case for case in demo_source().cases() if case.design][:14]


def test_shares_add_up_and_order_does_not_matter(cases: list[Case]) -> None:
    found = citations(cases, 3)
    assert found == citations(cases[::-1], 3)
    assert sum(one.share for one in found.by_case) == pytest.approx(1)
    approved = {case.id for case in cases if status(case) == "approved"}
    assert {one.case_id for one in found.by_case} <= approved
    assert found.asked == len([one for one in all_situations(cases, load()) if one.approved])
    assert sum(one.times for one in found.by_case) <= 3 * found.asked
    carried = [one.share for one in found.by_case]
    assert sum(carried[: found.half]) >= 0.5 > sum(carried[: found.half - 1])
    assert 1 <= found.half <= found.even


def test_two_cases_can_only_cite_each_other(cases: list[Case]) -> None:
    pair = [case for case in cases if status(case) == "approved"][:2]
    found = citations(pair)
    assert {one.case_id for one in found.by_case} == {case.id for case in pair}
    alone = citations(pair[:1])
    assert alone.never == (pair[0].id,)
    assert [one.share for one in alone.by_case] == [0.0]
