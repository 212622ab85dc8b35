"""One invented arch for the tests of this folder: a lower one with a space, a lone molar and drift, made once."""

from pathlib import Path

import pytest

from benchmarks.survey_bench import Bench
from benchmarks.survey_marking import true_marks
from recommender.survey.marks import Marks
from recommender.survey.result import Survey


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """One process makes the arches of this folder, each once, and begins with them: the longest run of all."""
    here = Path(__file__).parent
    own = [item for item in items if item.path.parent == here and not item.get_closest_marker("browser")]
    for item in own:
        item.add_marker(pytest.mark.xdist_group("survey"))
    items[:] = own + [item for item in items if item not in set(own)]


@pytest.fixture(scope="session")
def bench() -> Bench:
    """The arch, its clean mesh and its dentition."""
    return Bench.of("lone molar lower", edge_mm=0.33)


@pytest.fixture(scope="session")
def marks(bench: Bench) -> Marks:
    """Everything confirmed by a perfect hand, path level."""
    return true_marks(bench.arch, path=(0.0, 0.0))


@pytest.fixture(scope="session")
def confirmed(bench: Bench, marks: Marks) -> Survey:
    """The survey of a spoilt scan with those marks."""
    return bench.surveyed(marks)
