"""An invented mesh as the file of a scanner, and what its edges tell of it."""

import numpy as np
import numpy.typing as npt

from recommender.survey.mesh import Mesh

_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def stl_bytes(mesh: Mesh) -> bytes:
    """The mesh as a binary STL file."""
    normals = mesh.face_normals
    records = np.zeros(len(mesh.faces), _RECORD)
    records["normal"] = normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-12)
    records["corners"] = mesh.points[mesh.faces]
    return b"invented cast, millimetres".ljust(80) + np.uint32(len(mesh.faces)).tobytes() + records.tobytes()


def edge_counts(mesh: Mesh) -> npt.NDArray[np.int64]:
    """To how many faces each edge belongs."""
    faces = mesh.faces
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    keys = edges[:, 0] * np.int64(len(mesh.points)) + edges[:, 1]
    return np.unique(keys, return_counts=True)[1].astype(np.int64)
