"""Reading STL, PLY and OBJ within limits. Nothing in a file is executed and no path inside it is followed."""

import re
from pathlib import Path

import numpy as np

from recommender.survey.arrays import Floats, Ints
from recommender.survey.errors import ScanError
from recommender.survey.mesh import Mesh, welded
from recommender.survey.reading_ply import read_ply
from recommender.survey.settings import settings

_FARTHEST = 1e6
_STL_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def read_scan(path: Path) -> tuple[Mesh, bytes]:
    """The mesh of a file and the file's bytes (for its digest). Raises ``ScanError``; ``OSError`` if unreadable."""
    limit = settings()["limits"]["bytes"]
    with path.open("rb") as file:
        data = file.read(limit + 1)
    return parse_scan(data), data


def parse_scan(data: bytes) -> Mesh:
    """The mesh that the bytes of an STL, PLY or OBJ file hold, as it lies in the file.

    Raises ``ScanError`` with one sentence for anything that cannot be used.
    """
    limits = settings()["limits"]
    if len(data) > limits["bytes"]:
        raise ScanError(f"the file is larger than {limits['bytes'] // 1_000_000} MB")
    try:
        points, faces = _parse(data, limits["triangles"])
    except (ValueError, IndexError, KeyError, TypeError, OverflowError, MemoryError) as error:
        if isinstance(error, ScanError):
            raise
        raise ScanError("the file is damaged or is no STL, PLY or OBJ file") from None
    if not len(faces):
        raise ScanError("the file holds no triangle")
    if max(len(faces), len(points) / 3) > limits["triangles"]:
        raise ScanError(f"the scan has more than {limits['triangles']:,} triangles")
    if not np.isfinite(points).all() or np.abs(points).max() > _FARTHEST:
        raise ScanError("a coordinate of the scan is not a usable number")
    if faces.min() < 0 or faces.max() >= len(points):
        raise ScanError("a triangle of the scan names a point that is not there")
    mesh = welded(points, faces)
    if not len(mesh.faces):
        raise ScanError("the file holds no triangle that has an area")
    return mesh


def _parse(data: bytes, most: int) -> tuple[Floats, Ints]:
    if data[:3] == b"ply":
        return read_ply(data, most)
    count = int.from_bytes(data[80:84], "little") if len(data) >= 84 else -1
    if count > 0 and len(data) == 84 + 50 * count:
        return _binary_stl(data, count, most)
    if data[:5].lower() == b"solid":
        return _text_stl(data, most)
    if re.match(rb"\s*(#[^\n]*\n|\s)*(v|o|g|s|vn|vt|mtllib|usemtl)\s", data[:4096]):
        return _obj(data, most)
    if count > 0 and len(data) > 84:
        raise ScanError("the STL file is cut off or longer than it says")
    raise ScanError("the file is no STL, PLY or OBJ file")


def _binary_stl(data: bytes, count: int, most: int) -> tuple[Floats, Ints]:
    _bounded(count, most)
    records = np.frombuffer(data, _STL_RECORD, count, 84)
    points = records["corners"].reshape(-1, 3).astype(np.float64)
    return points, np.arange(len(points), dtype=np.int64).reshape(-1, 3)


def _text_stl(data: bytes, most: int) -> tuple[Floats, Ints]:
    _bounded(data.count(b"vertex") // 3, most)
    if b"endsolid" not in data[-512:]:
        raise ScanError("the text STL file is cut off")
    found = re.findall(rb"\bvertex\s+(\S{1,32})\s+(\S{1,32})\s+(\S{1,32})", data)
    if len(found) % 3 or len(found) != 3 * data.count(b"endfacet"):
        raise ScanError("the text STL file is cut off")
    points = np.array(found, dtype="S32").astype(np.float64).reshape(-1, 3)
    return points, np.arange(len(points), dtype=np.int64).reshape(-1, 3)


def _obj(data: bytes, most: int) -> tuple[Floats, Ints]:
    _bounded(data.count(b"\nf"), most)
    _bounded(data.count(b"\nv") // 3, most)
    if re.search(rb"^f\s+\S+\s+\S+\s+\S+[ \t]+\S", data, re.MULTILINE):
        raise ScanError("the OBJ file has faces that are not triangles")
    corners = re.findall(rb"^v\s+(\S{1,32})\s+(\S{1,32})\s+(\S{1,32})", data, re.MULTILINE)
    sides = re.findall(
        rb"^f\s+(-?\d{1,9})(?:/\S*)?[ \t]+(-?\d{1,9})(?:/\S*)?[ \t]+(-?\d{1,9})(?:/\S*)?[ \t]*\r?$",
        data,
        re.MULTILINE,
    )
    if len(sides) != len(re.findall(rb"^f\s", data, re.MULTILINE)):
        raise ScanError("a face of the OBJ file cannot be read")
    points = np.array(corners, dtype="S32").astype(np.float64).reshape(-1, 3)
    faces = np.array(sides, dtype="S16").astype(np.int64).reshape(-1, 3)
    if (faces == 0).any():
        raise ScanError("a triangle of the scan names a point that is not there")
    return points, np.where(faces < 0, faces + len(points), faces - 1)


def _bounded(count: int, most: int) -> None:
    if count > most:
        raise ScanError(f"the scan has more than {most:,} triangles")
