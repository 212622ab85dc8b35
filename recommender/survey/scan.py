"""A scan made ready: read within limits, its unit and size guarded, its noise evened out."""

import hashlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from recommender.survey.errors import ScanError
from recommender.survey.levelling import inside_out
from recommender.survey.mesh import Mesh, without_scraps
from recommender.survey.reading import parse_scan, read_scan
from recommender.survey.settings import settings


@dataclass(frozen=True)
class Scan:
    """``raw`` and ``mesh`` (noise evened out), both in mm in the frame of the file; ``sha256`` of the file; ``unit``
    it was drawn in."""

    raw: Mesh
    mesh: Mesh
    sha256: str
    unit: str
    roughness_mm: float

    @property
    def triangles(self) -> int:
        """How many triangles the scan has."""
        return len(self.raw.faces)


def load_scan(path: Path, unit: str | None = None) -> Scan:
    """A scan from a file. ``unit`` is what a person confirmed; without it anything but millimetres is refused.

    Raises ``ScanError`` with one sentence; ``OSError`` if the file cannot be read.
    """
    mesh, data = read_scan(path)
    return prepared(mesh, hashlib.sha256(data).hexdigest(), unit)


def scan_of_bytes(data: bytes, unit: str | None = None) -> Scan:
    """As ``load_scan``, from bytes that were never a file of ours."""
    return prepared(parse_scan(data), hashlib.sha256(data).hexdigest(), unit)


def prepared(mesh: Mesh, sha256: str, unit: str | None = None) -> Scan:
    """A scan from a mesh as it stood in its file, without loose scraps, its surface facing outward."""
    mesh = without_scraps(mesh, settings()["smoothing"]["scrap_share"])
    chosen = _unit(mesh, unit)
    factor = settings()["units"][chosen]
    raw = Mesh(mesh.points * factor, mesh.faces) if factor != 1.0 else mesh
    if inside_out(raw):
        raw = Mesh(raw.points, np.ascontiguousarray(raw.faces[:, ::-1]))
    figures = settings()["smoothing"]
    if raw.edge_mm >= figures["coarsest_edge_mm"]:
        return Scan(raw, raw, sha256, chosen, float(settings()["bands"]["coarse_roughness_mm"]))
    smooth = raw.smoothed(figures["reach_mm"])
    rough = float(np.sqrt(np.mean(((smooth.points - raw.points) ** 2).sum(axis=1)) / 3))
    return Scan(raw, smooth, sha256, chosen, rough)


def likely_units(mesh: Mesh) -> list[str]:
    """The units in which the mesh would have the size of a jaw."""
    figures = settings()["jaw"]
    sides = np.sort(mesh.points.max(axis=0) - mesh.points.min(axis=0))[::-1]
    if np.ptp(mesh.points, axis=0).min() > 0:
        # a scan may lie askew in its file, so its own axes are measured
        centred = mesh.points[:: max(1, len(mesh.points) // 20_000)] - mesh.points.mean(axis=0)
        along = centred @ np.linalg.svd(centred, full_matrices=False)[2].T
        sides = np.sort(np.ptp(along, axis=0))[::-1]
    ranges = (figures["longest_mm"], figures["middle_mm"], figures["shortest_mm"])
    return [
        name
        for name, factor in settings()["units"].items()
        if all(low <= side * factor <= high for side, (low, high) in zip(sides, ranges, strict=True))
    ]


def _unit(mesh: Mesh, confirmed: str | None) -> str:
    likely = likely_units(mesh)
    if confirmed is not None:
        if confirmed not in settings()["units"]:
            raise ScanError(f"the unit may be {', '.join(settings()['units'])}")
        if confirmed not in likely:
            raise ScanError(f"drawn in {confirmed} the scan would not have the size of a jaw")
        return confirmed
    if "mm" in likely:
        return "mm"
    if likely:
        raise ScanError(f"the scan seems to be drawn in {likely[0]}, not in mm; confirm the unit")
    raise ScanError("no unit gives the scan the size of a jaw")
