"""Shared by the documents' tests: invented cases of the demo library, their drawings, and recommenders."""

from functools import cache
from typing import TYPE_CHECKING

import pytest

from recommender.documents.drawing import Drawing, arch_drawing
from recommender.domain.case import Case
from recommender.precedents.index.building import library_of
from recommender.precedents.source import demo_source

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender


@cache
def demo_cases() -> dict[str, Case]:
    """The demo cases with a design and something to replace."""
    return {case.id: case for case in demo_source().cases() if case.design is not None and case.missing}


@cache
def drawn(case_id: str) -> Drawing:
    case = demo_cases()[case_id]
    assert case.design is not None
    return arch_drawing(case, case.design)


def sample() -> list[str]:
    """One case for each connector and each assembly, and every twelfth of the rest."""
    seen: set[str] = set()
    chosen = []
    for index, (case_id, case) in enumerate(demo_cases().items()):
        assert case.design is not None
        words = {f"{case.arch}:{case.design.connector}"}
        words |= {f"{case.arch}:{retainer.assembly}" for retainer in case.design.retainers or ()}
        if not words <= seen or index % 12 == 0:
            chosen.append(case_id)
            seen |= words
    return chosen


@pytest.fixture(scope="session")
def with_demo() -> "Recommender":
    from recommender.advice.recommend import Recommender

    return Recommender(library_of(demo_source()))


@pytest.fixture(scope="session")
def rules_alone() -> "Recommender":
    from recommender.advice.recommend import Recommender

    return Recommender(None)
