"""Writing files whole, and an invented mesh as binary STL."""

import os
import tempfile
from pathlib import Path

import numpy as np

from recommender.survey.mesh import Mesh

_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def stl_bytes(mesh: Mesh) -> bytes:
    """The mesh as a binary STL file."""
    normals = mesh.face_normals
    records = np.zeros(len(mesh.faces), _RECORD)
    records["normal"] = normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    records["corners"] = mesh.points[mesh.faces]
    return b"invented cast, millimetres".ljust(80) + np.uint32(len(mesh.faces)).tobytes() + records.tobytes()


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
