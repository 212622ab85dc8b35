"""What is worked out quickly gives what its plain definition gives."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from benchmarks.survey_bench import Bench
from recommender.survey import margins, mesh
from recommender.survey.mesh import Mesh, compact, welded
from recommender.survey.undercuts import depths, horizontal_axes


def plain_depths(points: np.ndarray, reference: np.ndarray, up: np.ndarray, directions: int) -> list[float]:
    turns = np.linspace(0, 2 * np.pi, directions, endpoint=False)
    across = horizontal_axes(up).T @ np.stack([np.cos(turns), np.sin(turns)])
    found = []
    for point in points:
        above = reference[reference @ up >= point @ up]
        reach = (above @ across).max(axis=0) - point @ across if len(above) else np.zeros(1)
        found.append(max(float(reach.min()), 0.0))
    return found


@given(st.integers(0, 10_000))
def test_depths_are_the_least_greatest_reach_of_what_stands_higher(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(12, 3)) * 4
    reference = np.vstack([rng.normal(size=(30, 3)) * 4, points[:4]])
    reference[5:9, 2] = reference[5, 2]  # equally high with the cast level
    for up in (np.array([0.0, 0.0, 1.0]), np.array([0.1, -0.2, 0.97]) / np.linalg.norm([0.1, -0.2, 0.97])):
        found = depths(points[4:], reference, up, 24)
        assert found == pytest.approx(plain_depths(points[4:], reference, up, 24), abs=1e-5)


corners = arrays(
    np.float32, (24, 3), elements=st.sampled_from([np.float32(v) for v in (-1.5, 0.0, 0.25, 3.0)])
)


@given(corners)
def test_equal_points_are_made_one(points: np.ndarray) -> None:
    faces = np.arange(24).reshape(-1, 3)
    found = welded(points.astype(float), faces)
    assert len(np.unique(found.points, axis=0)) == len(found.points)
    different = [face for face in faces if len(np.unique(points[face], axis=0)) == 3]
    assert np.array_equal(found.points[found.faces], points[np.array(different, int).reshape(-1, 3)])


def test_points_that_are_mixed_to_the_same_number_stay_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mesh, "_mixed", lambda keys: np.zeros(len(keys), np.uint64))
    points = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 0, 0], [0, 1, 0], [0, 0, 2]])
    found = welded(points, np.arange(6).reshape(2, 3))
    assert len(found.points) == 4
    assert np.array_equal(found.points[found.faces].reshape(-1, 3), points)


def test_a_moved_mesh_is_what_it_would_be_from_its_points(bench: Bench) -> None:
    whole = compact(bench.clean.points, bench.clean.faces[:4000])
    assert whole.concavity.shape == (len(whole.points),)  # with it edges and neighbours are known
    for turn in (np.eye(3)[[1, 2, 0]], np.diag([-1.0, 1.0, 1.0])):
        moved = whole.moved(turn, np.array([3.0, 1.0, -2.0]))
        anew = Mesh(moved.points, moved.faces)
        assert moved.edge_mm == pytest.approx(anew.edge_mm)
        assert abs(moved.neighbours - anew.neighbours).max() < 1e-6
        assert moved.normals == pytest.approx(whole.normals @ turn.T, abs=1e-9)
        assert moved.concavity == pytest.approx(anew.concavity, abs=1e-6)
        assert moved.concavity == pytest.approx(whole.concavity, abs=1e-6)


def test_normals_and_bend_of_a_ball() -> None:
    turns, rows = np.meshgrid(
        np.linspace(0, 2 * np.pi, 48, endpoint=False), np.linspace(0.2, 2.9, 40), indexing="ij"
    )
    ball = np.stack([np.cos(turns) * np.sin(rows), np.sin(turns) * np.sin(rows), np.cos(rows)], axis=-1) * 5.0
    index = np.arange(48 * 40).reshape(48, 40)
    a, b = index[:, :-1].ravel(), index[:, 1:].ravel()
    c, d = np.roll(index, -1, axis=0)[:, 1:].ravel(), np.roll(index, -1, axis=0)[:, :-1].ravel()
    mesh_of_ball = Mesh(
        ball.reshape(-1, 3), np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    )
    inner = index[:, 3:-3].ravel()
    assert mesh_of_ball.normals[inner] == pytest.approx(mesh_of_ball.points[inner] / 5.0, abs=0.02)
    assert mesh_of_ball.concavity[inner] == pytest.approx(-1 / 5.0, abs=0.01)  # 1 / radius, outward


def test_the_closed_path_is_the_cheapest() -> None:
    rng = np.random.default_rng(3)
    cost = rng.normal(size=(4, 6))
    path = margins._closed_path(cost)

    def price(rows: np.ndarray) -> float:
        step = np.abs(np.diff(np.append(rows, rows[0])))
        turning = 0.35 * 0.35 * (step * 0.15 / 0.35) ** 1.5
        return float(cost[np.arange(4), rows].sum() + turning.sum())

    every = np.stack(np.meshgrid(*[np.arange(6)] * 4, indexing="ij"), axis=-1).reshape(-1, 4)
    assert price(path) == pytest.approx(min(map(price, every)))
