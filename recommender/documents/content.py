"""Words and bench figures of the documents, from ``shared/documents.yaml``."""

from collections.abc import Mapping
from functools import cache
from typing import Any

from recommender.resources import read_yaml, shared


@cache
def _document() -> dict[str, Any]:
    loaded: dict[str, Any] = read_yaml(shared("documents.yaml").read_bytes())
    return loaded


def content(section: str) -> Mapping[str, Any]:
    """One block of the file; ``KeyError`` if there is no such block."""
    block: Mapping[str, Any] = _document()[section]
    return block
