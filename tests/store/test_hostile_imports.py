"""Hostile imports, short form: nothing but errors made for a user, and never a partial write."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from recommender.precedents.store.databases import create_database
from recommender.precedents.store.documents import as_data
from tests.store.invented import invented_cases

from .fuzzing import Led, try_one

EXAMPLES = int(os.environ.get("RPD_FUZZ_EXAMPLES", "120"))
ENDINGS = st.sampled_from([".yaml", ".json", ".jsonl", ".csv", ".xlsx", ".zip"])
SCALARS = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)
BASE = [as_data(case) for case in invented_cases(4, seed=41)]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("hostile")
    create_database(str(folder / "cases.db")).close()
    return folder


def put(place: Path, ending: str, data: bytes) -> None:
    from recommender.precedents.store.databases import open_database

    path = place / f"in{ending}"
    path.write_bytes(data)
    with open_database(str(place / "cases.db"), write=True) as library:
        try_one(library, path, always=True)


quiet = settings(
    max_examples=EXAMPLES, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@quiet
@given(ending=ENDINGS, data=st.binary(max_size=300))
def test_any_bytes(place: Path, ending: str, data: bytes) -> None:
    put(place, ending, data)


@quiet
@given(ending=st.sampled_from([".yaml", ".json", ".jsonl", ".csv"]), text=st.text(max_size=400))
@example(ending=".csv", text="id,arch,missing\n=1,maxilla,15\n")
@example(ending=".yaml", text="a: &a [*a]\n")
def test_any_text(place: Path, ending: str, text: str) -> None:
    put(place, ending, text.encode("utf-8", "surrogatepass"))


@quiet
@given(data=st.data(), value=VALUES, base=st.sampled_from(BASE))
def test_any_value_anywhere_in_a_case(place: Path, data: st.DataObject, value: object, base: dict) -> None:
    """A sound case with one field, at any depth, replaced or added."""
    import copy
    import json

    document = copy.deepcopy(base)
    node: object = document
    while True:
        keys = (
            list(node) if isinstance(node, dict) else list(range(len(node))) if isinstance(node, list) else []
        )
        if not keys:
            break
        key = data.draw(st.sampled_from(keys))
        inner = node[key]
        if not isinstance(inner, (dict, list)) or not inner or data.draw(st.booleans()):
            node[key] = value
            break
        node = inner
    put(place, ".json", json.dumps(document).encode())


@quiet
@given(cells=st.lists(st.lists(st.text(max_size=12), min_size=1, max_size=6), max_size=5))
def test_any_table(place: Path, cells: list[list[str]]) -> None:
    import csv
    import io

    stream = io.StringIO()
    writer = csv.writer(stream)
    writer.writerow(["id", "arch", "missing", "patient.age", "abutments[1].tooth", "title"])
    writer.writerows(cells)
    put(place, ".csv", stream.getvalue().encode("utf-8", "surrogatepass"))


def test_led_by_coverage(tmp_path: Path) -> None:
    led = Led(tmp_path, seed=3)
    led.run(400)
    assert sum(led.outcomes.values()) == 400
    assert len(led.kept) > 20
    assert {outcome.split(" ", 1)[1] for outcome in led.outcomes} >= {
        "imported",
        "invalid",
        "refused as a whole",
    }


@pytest.mark.parametrize("tooth", [19, 20, 39, 40])
def test_a_number_between_the_quadrants_in_a_span(place: Path, tooth: int) -> None:
    """Found by the fuzzer: a number that is no tooth, where the order along the arch is asked for."""
    import json

    document = {
        "format": 1,
        "id": "gap",
        "arch": "mandible",
        "missing": [36],
        "spans": [{"teeth": [36, tooth]}],
    }
    put(place, ".json", json.dumps(document).encode())


def test_a_repeated_key_over_a_list_and_a_mapping(place: Path) -> None:
    """Found by the fuzzer: the second value of a repeated key is no list, and has a repeated key of its own."""
    text = "format: 1\nid: a\narch: maxilla\nmissing: [15]\nspans: [{teeth: [15]}]\nspans: {mesial: 1, mesial: 2}\n"
    put(place, ".yaml", text.encode())
