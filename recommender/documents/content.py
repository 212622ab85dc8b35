"""Words and bench figures of the documents, from ``shared/documents.yaml``."""

from collections.abc import Mapping
from functools import cache
from typing import Any

from recommender.resources import shared


@cache
def _document() -> dict[str, Any]:
    import yaml

    loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    loaded: dict[str, Any] = yaml.load(shared("documents.yaml").read_bytes(), Loader=loader)
    return loaded


def content(section: str) -> Mapping[str, Any]:
    """One block of the file; ``KeyError`` if there is no such block."""
    block: Mapping[str, Any] = _document()[section]
    return block
