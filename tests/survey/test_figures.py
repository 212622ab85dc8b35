"""Survey figures against the closed form; short forms of what ``benchmarks.survey`` prints in full."""

import os
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from benchmarks.survey_bench import (
    Bench,
    Errors,
    compared,
    own_level,
    path_judge,
    path_quality,
    random_plan,
    turned_and_mirrored,
    with_base,
)
from benchmarks.survey_guards import tried
from benchmarks.survey_marking import true_marks
from benchmarks.survey_scan_files import edge_counts
from recommender.documents.results.survey import survey_document
from recommender.domain.statement import say
from recommender.survey.errors import ScanError
from recommender.survey.marks import Marks, ToothMarks
from recommender.survey.mesh import Mesh
from recommender.survey.result import Survey
from recommender.survey.scan import prepared
from recommender.survey.surveying import Dentition, survey
from recommender.wording.words import Words

LONG = os.environ.get("RPD_LONG") == "1"


def long_form(test: Callable[..., None]) -> Callable[..., None]:
    """Marked slow, and left out unless the long run is asked for."""
    marked: Callable[..., None] = pytest.mark.slow(
        pytest.mark.skipif(not LONG, reason="long form: RPD_LONG=1")(test)
    )
    return marked


def errors(bench: Bench, result: Survey) -> Errors:
    return compared(result, bench.truth(result, own_level(result, bench.arch.arch, (0.0, 0.0))))


def test_undercuts_with_outline_and_margin_given(bench: Bench, confirmed: Survey) -> None:
    found = errors(bench, confirmed)
    assert len(found.off) > 50
    assert np.abs(found.off).mean() <= 0.04
    assert np.percentile(np.abs(found.off), 95) <= 0.11
    assert found.held.mean() >= 0.9
    assert (found.gauges_apart <= 1).mean() >= 0.99


def test_undercuts_found_automatically(bench: Bench, marks: Marks) -> None:
    found = errors(bench, bench.surveyed(replace(marks, teeth={})))
    assert np.abs(found.off).mean() <= 0.06
    assert np.percentile(np.abs(found.off), 95) <= 0.15
    assert found.held.mean() >= 0.9


def test_turned_or_mirrored_the_same(bench: Bench) -> None:
    turned, mirrored, count = turned_and_mirrored(bench)
    assert turned <= 0.01
    assert mirrored <= 0.01
    assert count > 400


def test_nothing_is_confirmed_before_unit_side_and_level_are(bench: Bench, confirmed: Survey) -> None:
    assert set(confirmed.confirmed) == set(bench.arch.standing)
    assert replace(confirmed, unit_confirmed=False).confirmed == ()
    assert replace(confirmed, side_confirmed=False).confirmed == ()
    assert replace(confirmed, level_confirmed=False).confirmed == ()


def test_a_zone_at_a_contact_has_a_reason_and_no_number(confirmed: Survey) -> None:
    mesial = confirmed.teeth[37].undercuts_mm["mesial"]
    assert mesial.value is None
    assert mesial.low is None
    assert mesial.why == say("survey.why.touches_neighbour")
    printed = survey_document(Words(), confirmed)["teeth"][37]["undercuts_mm"]["mesial"]
    assert printed["value"] is None
    assert printed["why"] == "touches its neighbour"


def test_document_holds_nothing_of_the_mesh(confirmed: Survey) -> None:
    def longest(value: object) -> int:
        if isinstance(value, dict):
            return max([0, *map(longest, value.values())])
        if isinstance(value, (list, tuple)):
            return max([len(value), *map(longest, value)])
        return 0

    document = survey_document(Words(), confirmed)
    assert longest({k: v for k, v in document.items() if k != "as_good"}) <= 14
    assert "points" not in str({k: v for k, v in document.items() if k != "survey"})


def test_a_mirrored_scan_is_refused(bench: Bench, marks: Marks) -> None:
    mirror = np.array([-1.0, 1.0, 1.0])
    mesh = prepared(Mesh(bench.clean.points * mirror, bench.clean.faces[:, ::-1]), "x")
    assert marks.side is not None
    assert marks.level is not None
    level = marks.level * mirror
    with pytest.raises(ScanError, match="mirrored"):
        survey(mesh, bench.dentition, Marks(side=(marks.side[0], marks.side[1] * mirror), level=level))


def test_the_other_jaw_is_refused(bench: Bench, marks: Marks) -> None:
    swap = {3: 2, 4: 1}
    other = Dentition("maxilla", tuple(swap[t // 10] * 10 + t % 10 for t in bench.dentition.standing), ())
    # a tooth at either end marked by a person who took the cast for the other jaw: one way to lay the scan
    ends = {tooth: bench.arch.crown(tooth) for tooth in (37, 47)}
    named = {
        swap[tooth // 10] * 10 + tooth % 10: ToothMarks(
            inside=crown.world(np.array([0.0, 0.0, crown.height / 2]))
        )
        for tooth, crown in ends.items()
    }
    with pytest.raises(ScanError, match="jaw"):
        survey(prepared(bench.clean, "x"), other, Marks(level=marks.level, teeth=named))


def test_a_scan_without_teeth_is_refused() -> None:
    rng = np.random.default_rng(0)
    x, y = np.meshgrid(np.linspace(-30, 30, 80), np.linspace(-25, 25, 70), indexing="ij")
    points = np.column_stack(
        [x.ravel(), y.ravel(), 5 * np.cos(x.ravel() / 12) + 0.01 * rng.normal(size=x.size)]
    )
    index = np.arange(x.size).reshape(x.shape)
    a, b, c, d = (
        index[:-1, :-1].ravel(),
        index[1:, :-1].ravel(),
        index[1:, 1:].ravel(),
        index[:-1, 1:].ravel(),
    )
    mesh = Mesh(points, np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])]))
    with pytest.raises(ScanError):
        survey(prepared(mesh, "x"), Dentition("maxilla", (13, 12, 11, 21, 22, 23), ()))


@pytest.mark.parametrize("seed", [
    3,
    167,  # three front teeth beside a space, before long ridges on both sides
    170,  # incisors that lean forward and leave open spaces between them
])  # fmt: skip
def test_teeth_are_split_right(seed: int) -> None:
    found = tried(random_plan(seed), edge_mm=0.6, wrongly=False)
    assert found.wrong == ()
    assert found.corrections == 0
    assert not found.doubted


def test_a_closed_cast_gives_what_the_open_scan_gives(bench: Bench, confirmed: Survey, marks: Marks) -> None:
    closed = with_base(bench.scan().raw)
    assert (edge_counts(closed) > 1).all()
    inside_out = Mesh(closed.points, closed.faces[:, ::-1])
    for mesh in (closed, inside_out):
        found = survey(prepared(mesh, "closed", "mm"), bench.dentition, marks)
        for tooth, entry in confirmed.teeth.items():
            for zone, figure in entry.undercuts_mm.items():
                other = found.teeth[tooth].undercuts_mm[zone]
                assert (other.value is None) == (figure.value is None)
                if figure.value is not None and other.value is not None:
                    assert abs(other.value - figure.value) <= 0.02


def test_loose_scraps_are_left_out(bench: Bench) -> None:
    raw = bench.scan().raw
    scrap = np.array([[150.0, 0, 0], [151, 0, 0], [150, 1, 0], [150, 0, 1]])
    faces = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]]) + len(raw.points)
    joined = Mesh(np.vstack([raw.points, scrap]), np.vstack([raw.faces, faces]))
    assert prepared(joined, "x", "mm").triangles == raw.faces.shape[0]


def test_the_path_found_is_better_in_closed_form_than_level_and_than_far_tilts(bench: Bench) -> None:
    result = bench.surveyed(true_marks(bench.arch))
    judged = path_judge(bench, result)
    own = judged((result.path.tilt_ap_deg, result.path.tilt_lateral_deg))
    assert own >= judged((0.0, 0.0)) - 0.02
    assert all(own >= judged(far) - 0.02 for far in ((12.5, 0.0), (-12.5, 0.0), (0.0, 12.5), (0.0, -12.5)))


@long_form
def test_path_is_near_the_best_of_the_closed_form() -> None:
    benches = [
        Bench.of(name)
        for name in ("drifted lower", "lone molar lower", "front space lower", "premolars upper")
    ]
    benches += [Bench.random(seed) for seed in (2, 5)]
    found = [quality for bench in benches if (quality := path_quality(bench)) is not None]
    assert np.mean([quality.angle for quality in found]) <= 4.0
    assert max(quality.loss for quality in found) <= 0.1


@long_form
def test_bands_hold_the_truth_with_clicked_margins() -> None:
    found = []
    for name in ("drifted lower", "front space lower", "two-sided extension lower", "crowded complete lower"):
        bench = Bench.of(name)
        clicked = true_marks(bench.arch, path=(0.0, 0.0), clicks=10, unsteady_mm=0.33, outlines=False)
        found.append(errors(bench, bench.surveyed(clicked)))
    assert Errors.joined(found).held.mean() >= 0.9


@long_form
@pytest.mark.parametrize("first", range(0, 200, 20))
def test_two_hundred_arches_split_right_and_every_wrong_scan_caught(first: int) -> None:
    for seed in range(first, first + 20):
        found = tried(random_plan(seed))
        assert found.wrong == (), seed
        assert False not in found.caught.values(), (seed, found.caught)
