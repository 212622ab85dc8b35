"""The parser beside independent ones (ruamel.yaml for YAML 1.2, the standard library for JSON); any text."""

import io
import json
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from recommender.domain.case import Case
from recommender.domain.errors import CaseError, Problem
from recommender.domain.parsing import field_name, parse
from recommender.domain.reader import read_bytes, read_text, read_value

keys = st.text(alphabet="abcdefgh_", min_size=1, max_size=8) | st.integers(11, 48)
# YAML 1.2 lets more plain texts with "?" or ":" inside brackets go without quotes than 1.1 did; the C parser wants
# the quotes there, so such texts are left out.
texts = st.text(
    alphabet=st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Cn"]), max_size=20
).filter(lambda text: not set(text) & {"?", ":"})
scalars = (
    st.none()
    | st.booleans()
    | st.integers(-(10**12), 10**12)
    | st.floats(allow_nan=False, allow_infinity=False)
    | texts
)
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(keys, inner, max_size=4),
    max_leaves=20,
)
documents = st.dictionaries(keys, values, min_size=1, max_size=5)


def plain(value: Any) -> Any:
    """A value read by ruamel.yaml as built-in types."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    return value


@given(documents)
@example({"_": "Infinity"})  # in braces, as a file of JSON begins
@settings(max_examples=100, deadline=None)
def test_yaml_as_another_yaml_1_2_parser_reads_it(document: dict[Any, Any]) -> None:
    yaml = YAML(typ="safe", pure=True)
    yaml.default_flow_style = None
    stream = io.StringIO()
    yaml.dump(document, stream)
    text = stream.getvalue()
    parsed = parse(text, "t")
    assert parsed.problems == []
    assert parsed.value == plain(yaml.load(text))


names = st.text(alphabet="abcdefgh_", min_size=1, max_size=8)
json_values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(names, inner, max_size=4),
    max_leaves=20,
)


@given(st.dictionaries(names, json_values, max_size=5))
@settings(max_examples=60, deadline=None)
@pytest.mark.parametrize("indent", [None, 2, "\t"])
@pytest.mark.parametrize("ascii_only", [True, False])
def test_json_as_the_standard_library_reads_it(
    indent: Any, ascii_only: bool, document: dict[str, Any]
) -> None:
    text = json.dumps(document, indent=indent, ensure_ascii=ascii_only)
    parsed = parse(text, "t")
    assert parsed.problems == []
    assert parsed.value == json.loads(text)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        # YAML 1.2.2, chapter 10.3 (core schema); 1.1 readings in the comments
        ("yes", "yes"),  # True
        ("off", "off"),  # False
        ("n", "n"),
        ("12:30:45", "12:30:45"),  # 45045, sexagesimal
        ("2024-01-31", "2024-01-31"),  # a date
        ("1_000", "1_000"),  # 1000
        ("0b11", "0b11"),  # 3
        ("0x1F", "0x1F"),
        ("0o17", "0o17"),
        ("1e3", 1000.0),  # a text
        ("-0", 0),
        (".5", 0.5),
        ("+12", 12),
        ("True", True),
        ("null", None),
        ("", None),
        ("~", None),
        ("'12'", "12"),
        ("!", None),
    ],
)
def test_scalars_of_the_core_schema(text: str, value: Any) -> None:
    if text == "!":
        with pytest.raises(CaseError, match="tag"):
            parse("a: ! 12", "t")
        return
    assert parse(f"a: {text}", "t").value == {"a": value}


def test_places_point_at_values_and_keys() -> None:
    document = parse("a: 1\nb:\n- {c: x, d: [1, 22]}\n", "t")
    assert document.at(("a",)) == "t:1:4"
    assert document.at(("b", 0, "d", 1)) == "t:3:17"
    assert document.at(("b", 0, "d"), key=True) == "t:3:10"
    assert document.at(("b", 0, "nothing")) == "t:3:3"
    assert document.at(()) == "t:1:1"


def test_names_of_fields() -> None:
    value = {"abutments": [{"tooth": 14, "undercuts_mm": {}}, {}], "spans": [{"teeth": [16, 15]}]}
    assert (
        field_name(("abutments", 0, "undercuts_mm", "mesial"), value) == "abutments[14].undercuts_mm.mesial"
    )
    assert field_name(("abutments", 1, "tooth"), value) == "abutments[#2].tooth"
    assert field_name(("spans", 0, "clearance_mm", 15), value) == "spans[16].clearance_mm[15]"


def told(read: Callable[[], object]) -> list[Problem] | None:
    """The problems that reading ends in; ``None`` where it gives a case."""
    try:
        read()
    except CaseError as error:
        return list(error.problems)
    return None


def clear(problems: list[Problem] | None) -> bool:
    """No problem at all, or at least one, each with its place, what was found and what is allowed."""
    return problems is None or (
        len(problems) > 0 and all(p.at.startswith("t") and p.found and p.allowed for p in problems)
    )


@given(st.binary(max_size=300))
@settings(max_examples=200, deadline=None)
def test_any_bytes_give_a_case_or_a_clear_error(data: bytes) -> None:
    assert clear(told(lambda: read_bytes(data, "t")))


HEAD = """format: 1
id: a
arch: maxilla
missing: [15, 16]
abutments: [{tooth: 14, mobility: 1}]
patient: {age: 50}
"""


@given(st.integers(0, len(HEAD)), st.text(max_size=12), st.integers(0, 6))
@settings(max_examples=200, deadline=None)
def test_any_change_to_a_case_gives_a_case_or_a_clear_error(place: int, text: str, dropped: int) -> None:
    assert clear(told(lambda: read_text(HEAD[:place] + text + HEAD[place + dropped :], "t")))


@given(documents, st.permutations(list(Case.model_fields)))
@settings(max_examples=200, deadline=None)
def test_any_values_under_the_keys_of_the_format(document: dict[Any, Any], fields: list[str]) -> None:
    value = {"format": 1, "id": "a", "arch": "maxilla", "missing": [15]}
    value |= dict(zip(fields, document.values(), strict=False))
    assert clear(told(lambda: read_value(value, "t")))
