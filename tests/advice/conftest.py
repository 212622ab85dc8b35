"""Recommenders shared by the advice tests: rules alone, and with the packaged demo library (invented cases)."""

import pytest

from recommender.advice.recommend import Recommender
from recommender.precedents.index.building import library_of
from recommender.precedents.source import demo_source


@pytest.fixture(scope="session")
def rules_alone() -> Recommender:
    return Recommender(None)


@pytest.fixture(scope="session")
def with_demo() -> Recommender:
    return Recommender(library_of(demo_source()))
