"""Writing a file whole or not at all."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """A path beside ``path`` to write to; put in its place when the block ends well, removed otherwise."""
    part = path.with_name(f".{path.name}.{uuid4().hex[:8]}.part")
    try:
        yield part
        with part.open("rb") as written:
            os.fsync(written.fileno())
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def write_whole(path: Path, content: bytes) -> None:
    """Write to a file beside the target and put it in its place; a failure leaves the target as it was."""
    with replacing(path) as part:
        part.write_bytes(content)
