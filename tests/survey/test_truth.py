"""The generator's closed form, held against geometry that can be done by hand and against brute force."""

import numpy as np
import pytest

from benchmarks.survey_bench import Bench
from benchmarks.survey_scan_files import edge_counts
from benchmarks.survey_truth import TrueSurvey
from recommender.domain.dentition import mirror
from recommender.survey.dimensions import crown_size
from recommender.survey.directions import cone, path_direction, tilts
from recommender.survey.generate.arch import GeneratedArch
from recommender.survey.generate.crowns import Crown, Side
from recommender.survey.generate.plan import Plan, arch_curve
from recommender.survey.mesh import Mesh


def test_crown_sizes_are_the_published_ones() -> None:
    # Ash MM, Nelson SJ, Wheeler's Dental Anatomy, Physiology and Occlusion, table of measurements
    assert (crown_size(11).mesiodistal, crown_size(11).faciolingual, crown_size(11).length) == (
        8.5,
        7.0,
        10.5,
    )
    assert crown_size(36) == crown_size(46)
    assert crown_size(46).mesiodistal == 11.0


def test_the_arch_is_the_published_curve() -> None:
    # Braun S et al. 1998, The form of the human dental arch, Angle Orthodontist 68: y(0) = D
    curve = arch_curve(52.0, 44.0)
    assert curve[:, 1].max() == pytest.approx(44.0, abs=0.01)
    at_front = curve[np.argmax(curve[:, 1])]
    assert abs(at_front[0]) < 0.05


def test_tilts_and_directions_are_inverse() -> None:
    for arch in ("maxilla", "mandible"):
        for pair in cone(15.0, 5.0):
            assert tilts(path_direction(*pair, arch), arch) == pytest.approx(pair)
    # anterior down: the surveyor's vertical leans backward in the cast; patient's right down: toward his left
    assert path_direction(10, 0, "maxilla")[1] < 0
    assert path_direction(0, 10, "maxilla")[0] > 0
    assert path_direction(0, 10, "mandible")[0] < 0


@pytest.mark.parametrize("tilt", [0.0, 5.0, 10.0])
def test_a_barrel_under_a_tilt_is_undercut_as_geometry_says(tilt: float) -> None:
    """A cone of slope t, widest at its rim, is undercut at a depth h below it by h tan(t) on every side."""
    slope = np.tan(np.radians(tilt))
    side = Side(widest=5.0, contour=6.0, neck=6.0 * slope, edge=0.5, bend=2.0)

    class Straight(Side):
        def at(self, height: np.ndarray, crown: float) -> np.ndarray:
            return np.asarray(5.0 - np.clip(6.0 - height, 0, None) * slope)

    straight = Straight(side.widest, side.contour, side.neck, side.edge)
    crown = Crown(14, np.zeros(3), np.eye(3), 6.0, (straight, straight, straight, straight), 2.0)
    arch = GeneratedArch(Plan("maxilla", seed=1))
    true = TrueSurvey(arch, crown)
    true._gum_points = crown.world(crown.wall(true.angles, np.zeros(len(true.angles))))
    found = true.at(np.array([0.0, 0.0, 1.0])).undercut
    assert found == pytest.approx(
        np.full(8, 5.0 * slope), abs=0.06
    )  # 1 mm above the margin is 5 mm below the rim


def test_mesh_lies_on_the_surface_and_faces_outward(bench: Bench) -> None:
    mesh: Mesh = bench.clean
    off = np.abs(bench.arch.value(mesh.points))
    assert np.percentile(off, 98) < 0.01
    step = mesh.points + 0.05 * mesh.normals
    assert (bench.arch.value(step[::50]) > 0).mean() > 0.99
    assert (edge_counts(mesh) > 2).sum() < 1e-3 * len(mesh.faces)
    assert mesh.edge_mm == pytest.approx(0.33, rel=0.15)


def test_the_same_plan_gives_the_same_arch_and_its_gum_lies_below_the_crowns() -> None:
    plan = Plan("maxilla", (15, 16), 7, drift=0.5)
    first, second = GeneratedArch(plan), GeneratedArch(plan)
    assert [c.centre.tolist() for c in first.crowns] == [c.centre.tolist() for c in second.crowns]
    assert 15 not in first.standing
    assert mirror(14) in first.standing
    for crown in first.crowns:
        gum = TrueSurvey(first, crown, angles=36, levels=10, directions=12).gum
        assert gum.max() < crown.height * 0.6
