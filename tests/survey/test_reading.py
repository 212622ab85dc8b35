"""STL, PLY and OBJ within limits; hostile and cut-off files refused with one sentence."""

import re
import tomllib

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchmarks.survey_scan_files import edge_counts, stl_bytes
from recommender.cli.app import arguments
from recommender.resources import app_script
from recommender.survey.errors import ScanError
from recommender.survey.mesh import Mesh
from recommender.survey.reading import parse_scan
from recommender.survey.scan import likely_units, prepared
from recommender.survey.settings import in_force
from recommender.survey.settings import settings as packaged

# a tetrahedron, outward faces anticlockwise
POINTS = np.array([[0.0, 0, 0], [10, 0, 0], [0, 10, 0], [0, 0, 10]])
FACES = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
SOLID = Mesh(POINTS, FACES)


def text_stl() -> bytes:
    lines = ["solid cast"]
    for face in FACES:
        corners = "\n".join("   vertex " + " ".join(map(str, POINTS[i])) for i in face)
        lines.append(f"  facet normal 0 0 0\n  outer loop\n{corners}\n  endloop\n  endfacet")
    return "\n".join([*lines, "endsolid cast\n"]).encode()


def obj(quote: str = "") -> bytes:
    points = "\n".join("v " + " ".join(map(str, point)) for point in POINTS)
    faces = "\n".join("f " + " ".join(f"{i + 1}{quote}" for i in face) for face in FACES)
    return f"# cast\n{points}\n{faces}\n".encode()


def ply(form: str) -> bytes:
    header = (
        f"ply\nformat {form} 1.0\ncomment invented\nelement vertex 4\nproperty float x\nproperty float y\n"
    )
    header += "property float z\nproperty uchar red\nelement face 4\n"
    header += "property list uchar int vertex_indices\nend_header\n"
    if form == "ascii":
        body = "".join(" ".join(map(str, point)) + " 7\n" for point in POINTS)
        return (header + body + "".join("3 " + " ".join(map(str, face)) + "\n" for face in FACES)).encode()
    order = "<" if "little" in form else ">"
    points = np.zeros(4, [("p", order + "f4", 3), ("c", "u1")])
    points["p"] = POINTS
    faces = np.zeros(4, [("n", "u1"), ("i", order + "i4", 3)])
    faces["n"], faces["i"] = 3, FACES
    return header.encode() + points.tobytes() + faces.tobytes()


FILES = {
    "binary STL": stl_bytes(SOLID), "text STL": text_stl(), "OBJ": obj(), "OBJ with normals": obj("/1/1"),
    "text PLY": ply("ascii"), "PLY": ply("binary_little_endian"), "PLY, other order": ply("binary_big_endian"),
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_every_form_gives_the_same_solid(name: str) -> None:
    mesh = parse_scan(FILES[name])
    assert len(mesh.faces) == 4
    assert len(mesh.points) == 4
    volume = np.einsum("ij,ij->i", mesh.points[mesh.faces[:, 0]], mesh.face_normals).sum() / 6
    assert volume == pytest.approx(1000 / 6, rel=1e-5)
    assert (edge_counts(mesh) > 1).all()


HOSTILE = {
    "nothing": b"",
    "no mesh": b"\x00" * 500,
    "cut-off binary STL": stl_bytes(SOLID)[:-30],
    "count beyond the file": b"x" * 80 + (4_000_000_000).to_bytes(4, "little") + b"\x00" * 100,
    "cut-off text STL": text_stl()[:-120],
    "text STL without end": text_stl().replace(b"endsolid", b""),
    "not a number": text_stl().replace(b"10.0", b"nan"),
    "infinite": text_stl().replace(b"10.0", b"1e999"),
    "far away": text_stl().replace(b"10.0", b"1e30"),
    "word for a number": text_stl().replace(b"10.0", b"ten"),
    "four-sided faces": obj().replace(b"f 1 3 2", b"f 1 3 2 4"),
    "a point that is not there": obj().replace(b"f 1 3 2", b"f 1 3 9"),
    "point zero": obj().replace(b"f 1 3 2", b"f 0 3 2"),
    "no faces": b"v 0 0 0\nv 1 0 0\nv 0 1 0\n",
    "flat triangles": b"v 0 0 0\nv 1 0 0\nf 1 1 2\n",
    "PLY without end of header": ply("ascii").replace(b"end_header", b"end"),
    "PLY of a huge count": ply("ascii").replace(b"vertex 4", b"vertex 4000000000"),
    "PLY of a negative count": ply("ascii").replace(b"vertex 4", b"vertex -4"),
    "cut-off PLY": ply("binary_little_endian")[:-5],
    "PLY of an unknown type": ply("ascii").replace(b"float x", b"quad x"),
    "PLY of another form": ply("ascii").replace(b"ascii", b"packed"),
    "PLY face to nowhere": ply("ascii").replace(b"3 0 2 1", b"3 0 2 7"),
    "a picture": b"\x89PNG\r\n\x1a\n" + b"\x00" * 200,
    "an archive": b"PK\x03\x04" + b"\x00" * 200,
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_files_are_refused_in_one_sentence(name: str) -> None:
    with pytest.raises(ScanError) as refused:
        parse_scan(HOSTILE[name])
    message = str(refused.value)
    assert message
    assert "\n" not in message
    assert len(message) < 120


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.sampled_from(sorted(FILES)), st.integers(0, 10_000), st.binary(min_size=0, max_size=8), st.booleans()
)
def test_damaged_files_are_refused_or_read_and_nothing_else(
    name: str, place: int, junk: bytes, cut: bool
) -> None:
    data = FILES[name]
    place %= len(data)
    damaged = data[:place] + junk + (b"" if cut else data[place + len(junk) :])
    try:
        mesh = parse_scan(damaged)
    except ScanError:
        return
    assert np.isfinite(mesh.points).all()
    assert mesh.faces.max() < len(mesh.points)


def test_more_bytes_than_allowed_are_refused() -> None:
    figures = packaged()
    limited = {**figures, "limits": {**figures["limits"], "bytes": 100}}
    with in_force(limited), pytest.raises(ScanError, match="larger"):
        parse_scan(stl_bytes(SOLID))


def test_units_are_told_by_the_size_of_a_jaw() -> None:
    rng = np.random.default_rng(0)
    jaw = Mesh(rng.uniform([-30, -25, -10], [30, 25, 10], (300, 3)), np.arange(300).reshape(-1, 3))
    assert likely_units(jaw) == ["mm"]
    for name, factor in (("cm", 10.0), ("m", 1000.0), ("inch", 25.4)):
        other = Mesh(jaw.points / factor, jaw.faces)
        assert name in likely_units(other)
        with pytest.raises(ScanError, match="confirm the unit"):
            prepared(other, "x")
        assert prepared(other, "x", name).raw.points.max() == pytest.approx(jaw.points.max())
    with pytest.raises(ScanError, match="no unit"):
        prepared(Mesh(jaw.points * np.array([1, 0.05, 0.05]), jaw.faces), "x")
    with pytest.raises(ScanError, match="size of a jaw"):
        prepared(jaw, "x", "inch")


def test_the_screens_let_a_scan_pass_that_may_be_read() -> None:
    most = packaged()["limits"]["bytes"] // 1_000_000
    assert f"--server.maxUploadSize={most}" in arguments(8501, no_browser=True)
    beside = app_script().parent / ".streamlit" / "config.toml"
    assert tomllib.loads(beside.read_text(encoding="utf-8"))["server"]["maxUploadSize"] == most
    # no place for a file offers more than the server lets pass
    sources = [page.read_text(encoding="utf-8") for page in app_script().parent.glob("recommender/screens/**/*.py")]
    assert any("max_upload_size=MOST_UPLOAD_MB" in source for source in sources)
    assert all(int(size) <= most for source in sources for size in re.findall(r"max_upload_size=(\d+)", source))
