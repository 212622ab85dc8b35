"""Writing files whole."""

import os
import tempfile
from pathlib import Path


def write_whole(path: Path, content: bytes) -> None:
    """Write a file in one step: the old one stays until the new one is complete."""
    handle, name = tempfile.mkstemp(dir=path.parent or Path("."), prefix=".", suffix=path.suffix)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
