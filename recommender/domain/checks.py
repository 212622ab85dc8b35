"""Checks across the fields of a case whose single values are already valid."""

from collections.abc import Iterator

from recommender.domain.case import Case
from recommender.domain.intake import Issue


def check(case: Case) -> Iterator[Issue]:
    """Every contradiction in the case, placed at the field that should change."""
    yield from ()
