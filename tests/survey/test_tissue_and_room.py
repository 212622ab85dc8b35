"""Overhang of the gum, vault, rugae, length of the palate and clearance at an embrasure, each in closed form."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import cKDTree

from benchmarks.survey_bench import Bench
from benchmarks.survey_marking import true_marks
from benchmarks.survey_truth import margin_ring, true_overhang
from recommender.survey.generate.opposing import Opposing
from recommender.survey.result import Figure, Survey
from recommender.survey.settings import settings
from recommender.survey.surveying import survey

PLACES = {"incisive_papilla": np.array([0.0, 36.0, -3.0]), "vibrating_line": np.array([0.5, -4.0, -12.0])}


@pytest.fixture(scope="module")
def upper() -> Bench:
    return Bench.of("two spaces upper", edge_mm=0.45)


@pytest.fixture(scope="module")
def opposing(upper: Bench) -> Opposing:
    return Opposing(upper.arch, upper.clean, edge_mm=0.7)


@pytest.fixture(scope="module")
def found(upper: Bench, opposing: Opposing) -> Survey:
    marks = replace(true_marks(upper.arch, path=(0.0, 0.0)), palate=PLACES)
    return survey(upper.scan(), upper.dentition, marks, opposing.mesh)


def holds(figure: Figure, truth: float, most_off: float) -> None:
    assert figure.value is not None
    assert abs(figure.value - truth) <= most_off
    assert figure.low is not None
    assert figure.high is not None
    assert figure.low - 0.005 <= truth <= figure.high + 0.005


def test_an_overhang_below_a_tooth(upper: Bench, found: Survey) -> None:
    true = {crown.tooth: true_overhang(upper.arch, crown) for crown in upper.arch.crowns}
    assert max(true.values()) > 0.4
    assert min(true.values()) < 0.05
    for tooth, depth in true.items():
        figure = found.teeth[tooth].tissue_undercut_mm
        assert figure.value is not None
        assert abs(figure.value - depth) <= 0.2, tooth


def test_depth_of_the_vault(upper: Bench, found: Survey) -> None:
    assert found.palate is not None
    assert upper.arch.palate is not None
    lingual = {
        crown.tooth: margin_ring(upper.arch, crown, 72)[54]
        for crown in upper.arch.crowns
        if crown.tooth % 10 >= 4
    }
    level = np.mean(
        [np.mean([p[2] for tooth, p in lingual.items() if tooth // 10 == side]) for side in (1, 2)]
    )
    rows = np.arange(min(p[1] for p in lingual.values()), max(p[1] for p in lingual.values()), 0.4)
    deepest = np.percentile(upper.arch.palate.height(np.zeros(len(rows)), rows), 10)
    holds(found.palate.vault_mm, float(level - deepest), 0.8)


def test_height_of_the_rugae(upper: Bench, found: Survey) -> None:
    assert found.palate is not None
    assert upper.arch.palate is not None
    holds(found.palate.rugae_mm, upper.arch.palate.ruga, 0.25)


def test_length_of_the_palate_is_between_the_places(found: Survey) -> None:
    assert found.palate is not None
    length = float(np.linalg.norm(PLACES["incisive_papilla"] - PLACES["vibrating_line"]))
    holds(found.palate.length_mm, length, 0.01)
    assert found.palate.length_mm.high is not None
    # each place off by 1 mm (standard deviation): Gaussian propagation, 90 % of a normal distribution
    assert found.palate.length_mm.high - length == pytest.approx(1.645 * np.sqrt(2), abs=0.02)


def test_clearance_at_an_embrasure(upper: Bench, opposing: Opposing, found: Survey) -> None:
    frame = found.parts[13].surface.frame
    rotation, origin = found.located.rotation, found.located.origin
    figure = found.teeth[13].embrasure_clearance_mm["mesial"]
    middle = frame.world(np.array([[frame.half[0], 0.0, 0.0]])) @ rotation + origin
    disc = _grid(middle[0, :2], settings()["opposing"]["embrasure_disc_mm"], 0.25)
    below = np.column_stack([disc, upper.arch.surface_heights(disc, 0.0, 12.0, 0.25)])
    around = _grid(middle[0, :2], 3.0, 0.3)
    above = np.column_stack([around, opposing.heights(around, 0.25)])
    below, above = (points[np.isfinite(points).all(axis=1)] for points in (below, above))
    holds(figure, float(cKDTree(above).query(below)[0].min()), 0.35)


def _grid(middle: np.ndarray, reach: float, step: float) -> np.ndarray:
    axis = np.arange(-reach, reach + step / 2, step)
    places = np.stack(np.meshgrid(axis, axis, indexing="ij"), axis=-1).reshape(-1, 2)
    return middle + places[np.hypot(*places.T) <= reach]
