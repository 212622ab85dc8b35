"""Writing a file whole or not at all."""

import os
from pathlib import Path
from uuid import uuid4


def write_whole(path: Path, content: bytes) -> None:
    """Write to a file beside the target and put it in its place; a failure leaves the target as it was."""
    part = path.with_name(f".{path.name}.{uuid4().hex[:8]}.part")
    try:
        with part.open("wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
