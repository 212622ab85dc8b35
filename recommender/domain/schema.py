"""JSON Schema (draft 2020-12) of the case format, made from the case model, published in ``shared/schema/``.

``python -m recommender.domain.schema`` writes it anew. The schema covers single values, not what fields say
about each other (``recommender.domain.checks``).
"""

import json
from pathlib import Path
from typing import Any

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER
from recommender.resources import shared

SCHEMA_PATH = ("schema", "case.schema.json")


def case_schema() -> dict[str, Any]:
    """The schema as plain values; tooth numbers are ISO 3950 or, with ``numbering: universal``, 1 to 32."""
    schema: dict[str, Any] = Case.model_json_schema()
    _tooth_references(schema)
    schema["properties"]["numbering"] = {
        "description": "The system of every tooth number in the document; left out, ISO 3950.",
        "enum": ["iso", "universal"],
        "title": "Numbering",
    }
    schema["$defs"]["ToothNumber"] = {
        "description": "ISO 3950 designation, or 1 to 32 where the document says numbering: universal.",
        "anyOf": [
            {"enum": sorted(tooth for order in ARCH_ORDER.values() for tooth in order)},
            {"type": "integer", "minimum": 1, "maximum": 32},
        ],
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Case, version 1",
        **{key: value for key, value in schema.items() if key != "title"},
    }


def _tooth_references(node: Any) -> None:
    if isinstance(node, dict):
        for key, value in node.items():
            if isinstance(value, dict) and (value.get("minimum"), value.get("maximum")) == (11, 48):
                title = {"title": value["title"]} if "title" in value else {}
                node[key] = {"$ref": "#/$defs/ToothNumber", **title}
            else:
                _tooth_references(value)
    elif isinstance(node, list):
        for index, value in enumerate(node):
            if isinstance(value, dict) and (value.get("minimum"), value.get("maximum")) == (11, 48):
                node[index] = {"$ref": "#/$defs/ToothNumber"}
            else:
                _tooth_references(value)


def schema_text() -> str:
    """The text of the published file."""
    return json.dumps(case_schema(), indent=2, sort_keys=True, ensure_ascii=False) + "\n"


def write() -> Path:
    """Publish the schema; the file appears whole or not at all."""
    path = shared(*SCHEMA_PATH)
    path.parent.mkdir(parents=True, exist_ok=True)
    draft = path.with_suffix(".json.new")
    draft.write_text(schema_text(), encoding="utf-8")
    draft.replace(path)
    return path


if __name__ == "__main__":
    print(write())
