"""The situations of the packaged demo library, worked out beforehand, so that the first answer does not wait.

``python -m recommender.precedents.index.compiled`` writes ``situations.json.z`` into the demo library's folder.
It carries a stamp of everything that it follows from (the cases, the project's data, the code that reads
them); when the stamp does not fit, the file is passed over and the cases are read instead, so it can be
stale but never wrong.
"""

import hashlib
import os
import tempfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import orjson

from recommender.precedents.model import Situation
from recommender.resources import shared

NAME = "situations.json.z"
_CODE = ("domain/*.py", "facts/*.py", "mechanics/*.py")
_OWN_CODE = (
    "index/compiled", "model", "situations", "source", "search/tables", "outcome_value",
)  # fmt: skip
_DATA = ("*.yaml", "options/*.yaml", "tables/*.csv")
_MOST_BYTES = 64 << 20
_FIELDS = (
    "case_id", "kind", "site", "arch", "choice", "worth", "verdict", "approved", "outcome_known", "fingerprint",
)  # fmt: skip


def stamp(folder: Path, likeness: str) -> str:
    """Digest of the cases in ``folder``, the data, the code, and the version of the similarity tables."""
    return _digest([(path.name, path) for path in folder.glob("*.yaml")] + _followed(), likeness)


def derivation_stamp(likeness: str) -> str:
    """Digest of what situations follow from besides the cases: the data, the code, the similarity tables."""
    return _digest(_followed(), likeness)


def _followed() -> list[tuple[str, Path]]:
    package = Path(__file__).resolve().parents[2]
    code = [path for pattern in _CODE for path in package.glob(pattern)]
    code += [package / "precedents" / f"{name}.py" for name in _OWN_CODE]
    files = [(path.relative_to(package).as_posix(), path) for path in code]
    root = shared()
    for pattern in _DATA:
        files += [(path.relative_to(root).as_posix(), path) for path in root.glob(pattern)]
    return files


def _digest(files: list[tuple[str, Path]], likeness: str) -> str:
    digest = hashlib.blake2b(likeness.encode(), digest_size=16)
    for name, path in sorted(files):
        content = path.read_bytes()
        digest.update(f"\0{name}\0{len(content)}\0".encode())
        digest.update(content)
    return digest.hexdigest()


def dump(situations: Iterable[Situation], stamped: str) -> bytes:
    """The compiled form."""
    names: dict[str, list[str]] = {}
    rows = []
    for s in situations:
        order = names.setdefault(s.kind, list(s.features))
        rows.append([*(getattr(s, field) for field in _FIELDS), [s.features[name] for name in order]])
    return zlib.compress(orjson.dumps({"format": 1, "stamp": stamped, "names": names, "rows": rows}), 9)


def parse(content: bytes, stamped: str) -> list[Situation] | None:
    """The situations; ``None`` when the content is damaged or its stamp another."""
    try:
        unpacked = zlib.decompressobj().decompress(content, _MOST_BYTES)
        value: dict[str, Any] = orjson.loads(unpacked)
        if value["format"] != 1 or value["stamp"] != stamped:
            return None
        return list(_situations(value["names"], value["rows"]))
    except (zlib.error, orjson.JSONDecodeError, KeyError, TypeError, ValueError):
        return None


def _situations(names: dict[str, list[str]], rows: Sequence[Sequence[Any]]) -> Iterator[Situation]:
    for (
        case_id,
        kind,
        site,
        arch,
        choice,
        worth,
        verdict,
        approved,
        outcome_known,
        fingerprint,
        values,
    ) in rows:
        known = (tuple(value) if isinstance(value, list) else value for value in values)
        features = dict(zip(names[kind], known, strict=True))
        yield Situation(
            case_id, kind, site, arch, features, choice, worth, verdict, approved, outcome_known, fingerprint
        )


def read(folder: Path, likeness: str) -> list[Situation] | None:
    """The compiled situations of a folder of cases; ``None`` when there are none that fit."""
    try:
        content = (folder / NAME).read_bytes()
    except OSError:
        return None
    return parse(content, stamp(folder, likeness))


def write() -> Path:
    """Compile the demo library."""
    from recommender.precedents.search.tables import load
    from recommender.precedents.situations import all_situations
    from recommender.precedents.source import demo_source

    source, likeness = demo_source(), load()
    found = all_situations(source.cases(), likeness)
    content = dump(found, stamp(source.folder, likeness.version))
    with tempfile.NamedTemporaryFile("wb", dir=source.folder, delete=False) as file:
        file.write(content)
    os.chmod(file.name, 0o644)
    path = source.folder / NAME
    os.replace(file.name, path)
    return path


if __name__ == "__main__":
    print(write())
