"""Which way a scan lies: a first level through the crests of the teeth, the front of the mouth, and the confirmed
frame."""

import numpy as np
from scipy import ndimage
from scipy.spatial import ConvexHull, cKDTree

from recommender.survey.arrays import Bools, Floats, unit
from recommender.survey.directions import level_axes
from recommender.survey.errors import ScanError
from recommender.survey.heights import HeightImage, height_image
from recommender.survey.mesh import Mesh

_CELL = 0.6
_OPEN_SHARE = 0.05  # of its area, that an open scan turns more to one side than to the other
_MORE_CRESTS = 1.5
_MANY_CRESTS = 100  # cells; so many are never seen from below
_UP = np.array([0.0, 0.0, 1.0])


def crests(image: HeightImage) -> Bools:
    """Cells that stand at least 3 mm out of their surroundings and are nearly the highest there: cusps and edges of
    teeth."""
    found = image.found
    highest = ndimage.maximum_filter(image.filled(-1e3), size=max(int(7 / image.cell), 1))
    lowest = ndimage.minimum_filter(image.filled(1e3), size=max(int(9 / image.cell), 1))
    with np.errstate(invalid="ignore"):
        result: Bools = found & (image.heights >= highest - 0.25) & (highest - lowest > 3.0)
    return result


def first_up(mesh: Mesh) -> Floats:
    """The side of a scan on which its teeth stand (unit vector of the file's frame).

    An open scan shows more area from that side. A closed cast does not: its flat base faces the other way, and of the
    two sides the one with more crests is taken.
    """
    total = mesh.face_normals.sum(axis=0)
    share = float(np.linalg.norm(total) / np.linalg.norm(mesh.face_normals, axis=1).sum())
    if share > _OPEN_SHARE:
        return unit(total)
    spread = np.linalg.svd(mesh.points[::7] - mesh.points.mean(axis=0), full_matrices=False)[2][2]
    sides = [spread, -spread]
    counts = [int(crests(height_image(mesh.moved(level_axes(side)), _CELL)).sum()) for side in sides]
    best: Floats = sides[int(np.argmax(counts))]
    return best


def inside_out(mesh: Mesh) -> bool:
    """Whether the triangles of a scan (mm) are listed the wrong way round, so that its surface faces inward.

    A closed cast then encloses less than nothing. An open scan shows its teeth on the side that its surface turns
    from.
    """
    total = mesh.face_normals.sum(axis=0)
    if np.linalg.norm(total) < _OPEN_SHARE * np.linalg.norm(mesh.face_normals, axis=1).sum():
        first = mesh.points[mesh.faces[:, 0]] - mesh.points.mean(axis=0)
        return bool(np.einsum("ij,ij->", first, mesh.face_normals) < 0)
    up = unit(total)
    toward = _crest_cells(mesh, up)
    return toward < _MANY_CRESTS and _crest_cells(mesh, -up) > _MORE_CRESTS * toward


def _crest_cells(mesh: Mesh, up: Floats) -> int:
    return int(crests(height_image(mesh.moved(level_axes(up)), _CELL)).sum())


def auto_level(mesh: Mesh, up: Floats | None = None) -> Floats:
    """Rotation (3, 3) that lays the plane through the crests level, teeth up, with the front of the mouth at +y.

    With ``up`` the level is taken as given and only the front is sought. Raises ``ScanError`` where no teeth stand
    out.
    """
    rotation = level_axes(first_up(mesh) if up is None else up)
    for _ in range(6 if up is None else 1):
        image = height_image(mesh.moved(rotation), _CELL)
        plane = _crest_plane(image)
        if up is not None:
            break
        normal = unit(np.array([-plane[0], -plane[1], 1.0]))
        if np.degrees(np.arccos(normal[2])) < 0.3:
            break
        rotation = level_axes(normal) @ rotation
    return _front_first(image, plane) @ rotation


def _crest_plane(image: HeightImage) -> Floats:
    """Plane z = a x + b y + c through the crests; low ones count little."""
    cells = np.argwhere(crests(image))
    if len(cells) < 12:
        raise ScanError("no teeth stand out of the scan: it is empty, upside down or not of a jaw")
    heights = image.heights[tuple(cells.T)]
    base = np.column_stack([cells * image.cell, np.ones(len(cells))])
    weight = np.ones(len(heights))
    plane: Floats = np.zeros(3)
    for _ in range(15):
        plane = np.linalg.lstsq(base * weight[:, None], heights * weight, rcond=None)[0]
        over = heights - base @ plane
        weight = np.where(over > -0.3, 1.0, np.exp(-(((over + 0.3) / 1.5) ** 2)) + 0.02)
        weight = np.where(over > 4, 0.2, weight)
    return plane


def _front_first(image: HeightImage, plane: Floats) -> Floats:
    """Turn about z that brings the front of the mouth to +y: away from the open back, on the axis of symmetry."""
    cells = np.argwhere(image.found)
    over = image.heights[tuple(cells.T)] - np.column_stack([cells * image.cell, np.ones(len(cells))]) @ plane
    high = np.zeros(image.heights.shape, bool)
    high[tuple(cells[over > -3.0].T)] = True
    label, count = ndimage.label(ndimage.binary_dilation(high, iterations=2))
    sizes = ndimage.sum_labels(high, label, range(1, count + 1))
    high &= np.isin(label, 1 + np.flatnonzero(sizes > 6 / image.cell**2))
    places = np.argwhere(high) * image.cell
    if len(places) < 20:
        raise ScanError("no row of teeth stands out of the scan")
    middle = _centroid(places[ConvexHull(places).vertices])
    angle = np.sort(np.degrees(np.arctan2(places[:, 1] - middle[1], places[:, 0] - middle[0])))
    gap = np.diff(np.append(angle, angle[0] + 360))
    widest = int(gap.argmax())
    start = -90 - (angle[widest] + gap[widest] / 2)
    turns = np.arange(start - 40, start + 41, 2.0)
    costs = [_unlike_mirror(places - middle, turn) + 0.004 * abs(turn - start) for turn in turns]
    turn = np.radians(turns[int(np.argmin(costs))])
    cosine, sine = np.cos(turn), np.sin(turn)
    return np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])


def _unlike_mirror(places: Floats, turn_deg: float) -> float:
    cosine, sine = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    turned = places @ np.array([[cosine, sine], [-sine, cosine]])
    middle = 0.5 * (np.percentile(turned[:, 0], 1) + np.percentile(turned[:, 0], 99))
    mirrored = np.column_stack([2 * middle - turned[:, 0], turned[:, 1]])
    away = cKDTree(turned[::3]).query(mirrored[::5])[0]
    return float(np.mean(np.minimum(away, 4.0)))


def _centroid(polygon: Floats) -> Floats:
    x, y = polygon[:, 0], polygon[:, 1]
    next_x, next_y = np.roll(x, -1), np.roll(y, -1)
    cross = x * next_y - next_x * y
    total = np.array([((x + next_x) * cross).sum(), ((y + next_y) * cross).sum()])
    result: Floats = total / (3 * cross.sum())
    return result


def up_of_three(points: Floats, rough_up: Floats) -> Floats:
    """The level through three marked points (3, 3), on the side of ``rough_up``. Raises ``ScanError`` if they stand
    in a row."""
    normal = np.cross(points[1] - points[0], points[2] - points[0])
    longest = max(float(np.linalg.norm(points[i] - points[j])) for i, j in ((0, 1), (1, 2), (0, 2)))
    if np.linalg.norm(normal) < 8.0 * longest:
        raise ScanError("the three points of the level stand too nearly in a row or too close together")
    normal = unit(normal)
    result: Floats = normal if normal @ rough_up > 0 else -normal
    return result


def confirmed_turn(places: Floats, nominal: Floats) -> tuple[Floats, Floats]:
    """Turn (3, 3) about z and origin (3,) that lay marked teeth (n, 2) on their published places in an arch (n, 2).

    It follows from marked points alone, so that a scan which was turned or mirrored with its marks gives the same
    frame.
    """
    centre, aim = places.mean(axis=0), nominal.mean(axis=0)
    cross = (places - centre).T @ (nominal - aim)
    angle = np.arctan2(cross[0, 1] - cross[1, 0], cross[0, 0] + cross[1, 1])
    cosine, sine = np.cos(angle), np.sin(angle)
    turn = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    origin = centre - np.array([[cosine, sine], [-sine, cosine]]) @ aim
    return turn, np.append(origin, 0.0)
