"""PLY, text and binary, triangles only; other properties and elements are stepped over."""

import numpy as np

from recommender.survey.arrays import Floats, Ints
from recommender.survey.errors import ScanError

_LONGEST_HEADER = 64 * 1024
_MOST_PROPERTIES = 64
_TYPES = {
    "char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4", "float": "f4",
    "double": "f8",
    "int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2", "int32": "i4", "uint32": "u4", "float32": "f4",
    "float64": "f8",
}  # fmt: skip
_ORDERS = {"binary_little_endian": "<", "binary_big_endian": ">", "ascii": ""}
Element = tuple[str, int, list[list[str]]]


def read_ply(data: bytes, most: int) -> tuple[Floats, Ints]:
    """Points (n, 3) and faces (m, 3) of a PLY file of at most ``most`` triangles; ``ScanError`` or ``ValueError`` if
    bad."""
    order, elements, start = _header(data, most)
    take = _text_rows if order == "" else _binary_rows
    points: Floats | None = None
    faces: Ints | None = None
    place = start
    for name, count, properties in elements:
        if points is not None and faces is not None:
            break
        table, place = take(data, place, count, properties, order)
        if name == "vertex":
            points = np.stack([table[axis].astype(np.float64) for axis in "xyz"], axis=1)
        elif name == "face":
            corners = next((prop[3] for prop in properties if prop[0] == "list" and len(prop) == 4), "")
            if not corners:
                raise ScanError("the PLY file has faces without corners")
            if not (table["#" + corners] == 3).all():
                raise ScanError("the PLY file has faces that are not triangles")
            faces = table[corners].astype(np.int64)
    if points is None or faces is None:
        raise ScanError("the PLY file lacks points or faces")
    return points, faces


def _header(data: bytes, most: int) -> tuple[str, list[Element], int]:
    end = data.find(b"end_header", 0, _LONGEST_HEADER)
    newline = data.find(b"\n", end)
    if end < 0 or newline < 0:
        raise ScanError("the header of the PLY file has no end")
    order: str | None = None
    elements: list[Element] = []
    for line in data[:end].decode("latin-1").splitlines():
        words = line.split()
        if words[:1] == ["format"]:
            order = _ORDERS.get(words[1])
        elif words[:1] == ["element"]:
            count = int(words[2])
            if not 0 <= count <= 3 * most:
                raise ScanError(f"the scan has more than {most:,} triangles")
            elements.append((words[1], count, []))
        elif words[:1] == ["property"]:
            elements[-1][2].append(words[1:])
            if len(elements[-1][2]) > _MOST_PROPERTIES:
                raise ScanError("the PLY file has too many properties")
    if order is None:
        raise ScanError("the PLY file is of a form that is not read")
    return order, elements, newline + 1


def _fields(properties: list[list[str]], order: str) -> np.dtype[np.void]:
    fields: list[tuple[str, str] | tuple[str, str, int]] = []
    for prop in properties:
        if prop[0] == "list":
            fields += [("#" + prop[3], order + _TYPES[prop[1]]), (prop[3], order + _TYPES[prop[2]], 3)]
        else:
            fields.append((prop[1], order + _TYPES[prop[0]]))
    return np.dtype(fields)


def _binary_rows(
    data: bytes, place: int, count: int, properties: list[list[str]], order: str
) -> tuple[np.ndarray, int]:
    row = _fields(properties, order)
    end = place + row.itemsize * count
    if end > len(data):
        raise ScanError("the PLY file is cut off, or has faces that are not triangles")
    return np.frombuffer(data, row, count, place), end


def _text_rows(
    data: bytes, place: int, count: int, properties: list[list[str]], _: str
) -> tuple[np.ndarray, int]:
    row = _fields(properties, "<")
    width = sum(4 if prop[0] == "list" else 1 for prop in properties)
    end = place
    for _line in range(count):
        end = data.find(b"\n", end) + 1
        if end == 0:
            end = len(data) + 1
            break
    words = data[place : min(end, len(data))].split()
    if len(words) != width * count:
        raise ScanError("the PLY file is cut off, or has faces that are not triangles")
    numbers = np.array(words, dtype="S32").astype(np.float64).reshape(count, width)
    table = np.zeros(count, row)
    column = 0
    for prop in properties:
        if prop[0] == "list":
            table["#" + prop[3]] = numbers[:, column]
            table[prop[3]] = numbers[:, column + 1 : column + 4]
            column += 4
        else:
            table[prop[1]] = numbers[:, column]
            column += 1
    return table, end
