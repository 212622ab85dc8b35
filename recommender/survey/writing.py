"""Writing a mesh as binary STL; the header says only that the cast is invented, for nothing else is written."""

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
