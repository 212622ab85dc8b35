"""The packaged data files of ``shared/`` as plain values, read once.

They are read from one compiled file while its digest fits the YAML beside it (a few milliseconds), and from
the YAML itself otherwise, so that an educator's change counts at once. ``rpd-casebook rules check
--write-compiled`` writes the compiled file anew. Trusted data only: a draft of a user goes through
``recommender.domain.parsing`` with its limits, and so do rules that were adopted in place of the packaged ones
(``RPD_CASEBOOK_RULES``, see ``knowledge.adopted``).
"""

import hashlib
import os
from functools import cache
from pathlib import Path
from typing import Any

import orjson
import yaml

from recommender.resources import shared

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
SINGLE = ("facts.yaml", "criteria.yaml", "scoring.yaml", "rule_guide.yaml")
FOLDERS = ("options", "rules", "plausible")
RULES_ENVIRONMENT = "RPD_CASEBOOK_RULES"


def adopted_folder() -> Path | None:
    """The draft folder whose adopted rules count, as ``RPD_CASEBOOK_RULES`` names it; ``None``: the packaged."""
    named = os.environ.get(RULES_ENVIRONMENT)
    return Path(named) if named else None


def inputs(root: Path | None = None) -> list[str]:
    """Names, relative to ``shared/``, of the files that go into the compiled form, in a fixed order."""
    base = shared() if root is None else root
    found = [name for name in SINGLE if (base / name).is_file()]
    for folder in FOLDERS:
        found += sorted(f"{folder}/{path.name}" for path in (base / folder).glob("*.yaml"))
    return found


def digest(root: Path | None = None) -> str:
    """SHA-256 over the names and bytes of all inputs."""
    base = shared() if root is None else root
    total = hashlib.sha256()
    for name in inputs(root):
        data = (base / name).read_bytes()
        total.update(f"{name}\0{len(data)}\0".encode())
        total.update(data)
    return total.hexdigest()


def compiled_path() -> Path:
    return shared("compiled", "knowledge.json")


@cache
def compiled() -> dict[str, Any] | None:
    """The compiled documents by file name, if they are current; else ``None``."""
    path = compiled_path()
    if not path.is_file():
        return None
    stored = orjson.loads(path.read_bytes())
    return dict(stored["documents"]) if stored.get("digest") == digest() else None


@cache
def document(name: str) -> Any:
    """One packaged file (``rules/rests.yaml``) as plain values; callers must not change them."""
    ready = compiled()
    if ready is not None and name in ready:
        return ready[name]
    return read_yaml(shared(*name.split("/")))


def read_yaml(path: Path) -> Any:
    """A trusted YAML file as plain values."""
    with path.open("rb") as stream:
        return yaml.load(stream, Loader=_LOADER)


def write_compiled() -> Path:
    """Write the compiled form of what the YAML says now; the file appears whole or not at all."""
    documents = {name: read_yaml(shared(*name.split("/"))) for name in inputs()}
    path = compiled_path()
    path.parent.mkdir(exist_ok=True)
    draft = path.with_suffix(".json.new")
    draft.write_bytes(orjson.dumps({"digest": digest(), "documents": documents}) + b"\n")
    draft.replace(path)
    forget()
    return path


def forget() -> None:
    """Drop what was read, so that changed files are seen."""
    compiled.cache_clear()
    document.cache_clear()
