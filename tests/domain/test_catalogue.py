"""The option catalogue, the vocabulary's labels, and the published schema of the case format."""

import copy
import json
import re
import typing
from typing import Any

import pytest
import yaml

from recommender.domain import catalogue, vocabulary
from recommender.domain.errors import CaseError
from recommender.domain.labels import word_label
from recommender.domain.schema import SCHEMA_PATH, schema_text
from recommender.domain.shape import Shape, case_shape
from recommender.resources import shared


def documents() -> dict[str, Any]:
    return {
        path.name: yaml.safe_load(path.read_text(encoding="utf-8"))
        for path in sorted(shared("options").glob("*.yaml"))
    }


def test_every_option_of_the_vocabulary_is_there() -> None:
    loaded = catalogue.load()
    for decision, identifiers in catalogue.IDENTIFIERS.items():
        assert tuple(loaded.options[decision]) == identifiers
    assert set(loaded.options["connector"]) == {
        *vocabulary.connectors("maxilla"),
        *vocabulary.connectors("mandible"),
    }


def test_families_include_what_they_are_kinds_of() -> None:
    loaded = catalogue.load()
    for options in loaded.options.values():
        for option in options.values():
            for name in option.families:
                parent = loaded.families[name].is_a
                assert parent is None or parent in option.families


def test_credit_is_one_for_the_same_option_and_symmetric() -> None:
    loaded = catalogue.load()
    for decision, options in loaded.options.items():
        for first in options:
            assert loaded.credit(decision, first, first) == 1.0
            for second in options:
                assert loaded.credit(decision, first, second) == loaded.credit(decision, second, first)
                assert first == second or loaded.credit(decision, first, second) < 1.0


def spoilt(change: Any) -> list[str]:
    docs = copy.deepcopy(documents())
    change(docs)
    with pytest.raises(CaseError) as caught:
        catalogue.build(docs)
    return [str(problem) for problem in caught.value.problems]


def option(docs: dict[str, Any], identifier: str) -> dict[str, Any]:
    return next(entry for entry in docs["retainers.yaml"]["options"] if entry["id"] == identifier)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (
            lambda d: option(d, "ring").update(starts={"support": 101}),
            r"options\[ring\]\.starts\.support: found 101",
        ),
        (lambda d: option(d, "ring").update(families=["supra_bulge"]), r"did you mean \"suprabulge\""),
        (lambda d: option(d, "ring").update(id="rinng"), r"did you mean \"ring\""),
        (lambda d: option(d, "ring").update(colour="red"), r"options\[ring\]\.colour"),
        (lambda d: option(d, "ring").pop("source"), r"options\[ring\]\.source: found nothing"),
        (lambda d: option(d, "ring")["tip"].update(least_mm=0.9), r"least_mm <= usual_mm"),
        (lambda d: option(d, "ring")["tip"].update(zones=["far_side"]), r"tip\.zones\[#1\]: found far_side"),
        (lambda d: option(d, "ring")["arm"].update(origin="above"), r"arm\.origin: found above"),
        (lambda d: option(d, "ring")["arm"].update(level=[0.5]), r"arm\.level"),
        (
            lambda d: d["retainers.yaml"]["options"].remove(option(d, "ring")),
            r"retainer\.ring: found nothing",
        ),
        (lambda d: d["retainers.yaml"]["options"].append(option(d, "ring")), r"used once"),
        (lambda d: d["families.yaml"]["families"][0].update(share=2), r"share: found 2"),
        (lambda d: d["families.yaml"]["families"][1].update(is_a="nothing"), r"is_a: found nothing"),
        (lambda d: d.update({"rests.yaml": []}), r"rests\.yaml"),
    ],
)
def test_errors_name_file_option_and_field(change: Any, expected: str) -> None:
    assert any(re.search(expected, problem) for problem in spoilt(change))


def closed_lists() -> dict[str, tuple[str, ...]]:
    """Every ``Literal`` of the vocabulary that is not a list of options, by its name in small letters."""
    options = {
        "Retainer",
        "MaxillaryConnector",
        "MandibularConnector",
        "Connector",
        "Replacement",
        "Rest",
        "Alloy",
    }
    found = {}
    for name, value in vars(vocabulary).items():
        if typing.get_origin(value) is typing.Literal and name not in options:
            found[re.sub(r"(?<=[a-z])(?=[A-Z])", "_", name).lower()] = typing.get_args(value)
    return found


def test_every_word_has_a_label() -> None:
    lists = yaml.safe_load(shared("vocabulary.yaml").read_text(encoding="utf-8"))["lists"]
    assert {name: set(words) for name, words in lists.items()} == {
        name: set(words) for name, words in closed_lists().items()
    }
    assert word_label("ridge", "knife_edge") == "knife-edge ridge"
    assert word_label("smile_line", "high") == "high smile line"


def field_paths(shape: Shape, path: str) -> set[str]:
    """Paths of the fields of evidence, down to the fields of the parts of a case."""
    if shape.kind == "list" and shape.item is not None and shape.item.kind == "record":
        shape = shape.item
    if shape.kind != "record" or path.count(".") >= 1:
        return {path}
    return {
        p
        for name, inner in shape.fields.items()
        for p in field_paths(inner, f"{path}.{name}" if path else name)
    }


def test_every_field_of_evidence_has_a_label() -> None:
    fields = yaml.safe_load(shared("vocabulary.yaml").read_text(encoding="utf-8"))["fields"]
    parts = (
        "prescription",
        "design",
        "dentist_answer",
        "outcome",
        "review",
        "source",
        "format",
        "id",
        "title",
    )
    wanted = {
        path for path in field_paths(case_shape(), "")
        if path.split(".")[0] not in parts and path not in ("spans.teeth", "abutments.tooth")
    }  # fmt: skip
    assert set(fields) == wanted


def test_the_published_schema_is_current() -> None:
    assert shared(*SCHEMA_PATH).read_text(encoding="utf-8") == schema_text()


def test_documents_hold_against_the_schema() -> None:
    """Checked with the JSON Schema implementation ``jsonschema``, where it is installed."""
    jsonschema = pytest.importorskip("jsonschema")
    schema = json.loads(schema_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    good = {
        "format": 1,
        "id": "a",
        "arch": "maxilla",
        "missing": [15],
        "spans": [{"teeth": [15], "clearance_mm": {"15": 5}}],
    }
    assert validator.is_valid(good)
    assert validator.is_valid({**good, "numbering": "universal", "missing": [4]})
    for wrong in (
        {"arch": "upper"},
        {"missing": [50]},
        {"missing": None},
        {"id": "a b"},
        {"colour": 1},
        {"format": 2},
    ):
        assert not validator.is_valid({**good, **wrong}), wrong
    for path in sorted(shared("published", "cases").glob("*.yaml")):
        document = yaml.safe_load(path.read_text(encoding="utf-8"))
        del document["expert"], document["evidence"]
        assert validator.is_valid(json.loads(json.dumps(document))), path.name
