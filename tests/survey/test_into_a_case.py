"""From a survey into a case, and the command: what is confirmed, what differs, what is never kept."""

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from click.testing import CliRunner

from benchmarks.survey_bench import Bench
from benchmarks.survey_marking import true_marks
from benchmarks.survey_scan_files import stl_bytes
from recommender.cli.main import main
from recommender.domain.case import Case
from recommender.domain.measures import Interval
from recommender.domain.reader import read_case
from recommender.resources import shared
from recommender.survey.entry import survey_scan
from recommender.survey.errors import ScanError
from recommender.survey.marks import Marks, ToothMarks, marks_document, marks_of, read_marks
from recommender.survey.pictures.arch import arch_picture
from recommender.survey.pictures.charts import path_picture, radial_picture, wall_picture
from recommender.survey.pictures.ink import DARK, LIGHT
from recommender.survey.record import recorded_path, taken_over, to_take_over
from recommender.survey.result import Figure, Survey
from recommender.survey.statements import gauge_statement, path_standing
from recommender.wording.words import Words

SCHEMA = json.loads(shared("schema", "survey.schema.json").read_text(encoding="utf-8"))


def case_of(bench: Bench, **more: Any) -> Case:
    return Case.model_validate({
        "format": 1, "id": "invented-1", "arch": bench.arch.arch, "missing": list(bench.arch.plan.missing),
        "absent": [38, 48], **more,
    })  # fmt: skip


@pytest.fixture(scope="module")
def found(confirmed: Survey) -> Survey:
    return replace(confirmed, scan=replace(confirmed.scan, sha256="0" * 64))


def test_confirmed_teeth_become_intervals(bench: Bench, found: Survey) -> None:
    case, rows = taken_over(found, case_of(bench))
    teeth = {entry.tooth: entry for entry in case.abutments or ()}
    assert set(teeth) == {34, 36, 43, 47}  # what borders a space
    undercuts = teeth[34].undercuts_mm
    assert undercuts is not None
    assert isinstance(undercuts.midfacial, Interval)
    assert undercuts.midfacial.value == found.teeth[34].undercuts_mm["midfacial"].value
    assert undercuts.mesial is None  # it touches 33: not recorded, and not 0
    assert case.survey is not None
    assert case.survey.confirmed == [34, 36, 43, 47]
    assert all(row.how == "new" for row in rows)
    assert case.records is not None
    assert case.records.tilt_ap_deg == found.path.tilt_ap_deg


def test_what_was_typed_before_is_never_overwritten_unasked(bench: Bench, found: Survey) -> None:
    typed = case_of(bench, abutments=[{"tooth": 34, "undercuts_mm": {"midfacial": 2.0}, "mobility": 1}])
    path = "abutments[34].undercuts_mm.midfacial"
    kept, rows = taken_over(found, typed)
    assert next(row for row in rows if row.path == path).how == "differs"
    entry = next(entry for entry in kept.abutments or () if entry.tooth == 34)
    assert entry.undercuts_mm is not None
    assert entry.undercuts_mm.midfacial == 2.0
    assert entry.mobility == 1
    replaced, _ = taken_over(found, typed, overwrite={path})
    entry = next(entry for entry in replaced.abutments or () if entry.tooth == 34)
    assert entry.undercuts_mm is not None
    assert isinstance(entry.undercuts_mm.midfacial, Interval)
    assert entry.mobility == 1


def test_another_recorded_path_is_replaced_only_when_asked(bench: Bench, found: Survey) -> None:
    typed = case_of(bench, records={"tilt_ap_deg": 5, "cast": "before_preparation"})
    rows = {row.path: row for row in to_take_over(found, typed)}
    assert (rows["records.tilt_ap_deg"].before, rows["records.tilt_ap_deg"].how) == (5, "differs")
    assert rows["records.tilt_lateral_deg"].how == "new"
    with pytest.raises(ScanError, match="another path"):
        taken_over(found, typed)
    assert recorded_path(typed) == (5.0, 0.0)
    assert recorded_path(case_of(bench)) is None
    case, _ = taken_over(found, typed, overwrite={"records.tilt_ap_deg"})
    assert case.records is not None
    assert (case.records.tilt_ap_deg, case.records.cast) == (0.0, "before_preparation")
    within = case_of(
        bench, records={"tilt_ap_deg": {"low": -2, "value": 0, "high": 2}, "tilt_lateral_deg": 0}
    )
    assert {row.how for row in to_take_over(found, within)[:2]} == {"same"}


def test_a_path_before_margins_and_one_that_is_no_longer_good_are_told(found: Survey) -> None:
    assert path_standing(found) is None or "better" in Words().text(path_standing(found))
    abutments = [term.tooth for term in found.path.terms]
    first = abutments[0]
    unsure = replace(found, teeth={**found.teeth, first: replace(found.teeth[first], margin="found")})
    told = path_standing(unsure)
    assert told is not None
    assert Words().text(told).startswith(f"A first proposal: the gum margin of {first} is not confirmed")
    poor = path_standing(replace(found, path=replace(found.path, score=found.path.score - 1.0)))
    assert poor is not None
    assert "another path is better" in Words().text(poor)


def test_papers_say_measured_from_a_scan_with_path_and_tripod(bench: Bench, found: Survey) -> None:
    from recommender.documents.request import measured
    from recommender.documents.survey_lines import survey_lines
    from recommender.wording.words import Words

    case, _ = taken_over(found, case_of(bench))
    ticket = " ".join(Words().lines(survey_lines(case)))
    assert "Measured from a scan, teeth 34, 36, 43, 47" in ticket
    assert ticket.count("mm forward") == 3
    letter = " ".join(Words().lines(measured(case)))
    assert "measured from a scan" in letter
    assert "front" in letter
    assert "tripod" in letter
    assert "scan" not in " ".join(Words().lines(survey_lines(case_of(bench))))
    assert measured(case_of(bench)) == []


def test_taking_over_twice_changes_nothing(bench: Bench, found: Survey) -> None:
    once, _ = taken_over(found, case_of(bench))
    twice, rows = taken_over(found, once)
    assert twice == once
    assert {row.how for row in rows} == {"same"}


def test_nothing_unconfirmed_is_taken_over(bench: Bench, found: Survey) -> None:
    with pytest.raises(ScanError, match="nothing is confirmed"):
        taken_over(replace(found, side_confirmed=False), case_of(bench))
    unsure = replace(found, teeth={**found.teeth, 34: replace(found.teeth[34], margin="found")})
    assert not [row for row in to_take_over(unsure, case_of(bench)) if row.path.startswith("abutments[34]")]
    with pytest.raises(ScanError, match="not confirmed") as refused:
        to_take_over(unsure, case_of(bench), teeth=[34])
    assert refused.value.statement is not None
    assert Words("universal").text(refused.value.statement) == "outline and margin of 21 are not confirmed"


def test_marks_are_written_and_read_again(marks: Marks) -> None:
    text = yaml.safe_dump(marks_document(marks))
    again = read_marks(text)
    assert marks_document(again) == marks_document(marks)
    assert again.path == marks.path
    assert again.teeth[34].confirmed


@pytest.mark.parametrize(
    "document",
    [
        [], {"levels": 1}, {"level": [[0, 0, 0]]}, {"unit": "feet"}, {"side": {"tooth": 99, "point": [0, 0, 0]}},
        {"side": {"tooth": 34}}, {"teeth": {34: {"margin": [[0, 0]]}}},
        {"teeth": {34: {"outline": {"mesial": [0, 0, 0]}}}}, {"teeth": {"34": {}}},
        {"teeth": {34: {"confirmed": "yes"}}},
        {"path": {"tilt_ap_deg": 90, "tilt_lateral_deg": 0}},
        {"path": {"tilt_ap_deg": float("nan"), "tilt_lateral_deg": 0}}, {"crests": {"a": 1}},
        {"palate": {"incisive_papilla": [0, 0, float("inf")]}},
    ],
)  # fmt: skip
def test_bad_marks_are_refused(document: Any) -> None:
    with pytest.raises(ScanError) as refused:
        marks_of(document)
    assert "\n" not in str(refused.value)


def test_marks_of_another_scan_or_of_the_other_jaw_are_refused(bench: Bench) -> None:
    with pytest.raises(ScanError, match="another scan"):
        bench.surveyed(Marks(scan="f" * 64))
    with pytest.raises(ScanError, match="not in the mandible"):
        bench.surveyed(Marks(teeth={14: ToothMarks()}))


def test_alias_in_marks_is_refused() -> None:
    with pytest.raises(ScanError, match="alias"):
        read_marks("a: &x [1]\nb: *x\n")


def test_gauges_are_told_by_the_band() -> None:
    def said(*band: float) -> str:
        found = gauge_statement(Figure(*band))
        assert found is not None
        return Words().text(found)

    assert said(0.3, 0.35, 0.45) == "0.25 touches"
    assert said(0.0, 0.1, 0.2) == "less than 0.25"
    assert said(0.2, 0.3, 0.4) == "try 0.25 by hand"
    assert said(0.3, 0.5, 0.6) == "0.25 touches; try 0.50 by hand"
    assert gauge_statement(Figure(None, None, None)) is None


@pytest.mark.parametrize("inks", [LIGHT, DARK])
def test_pictures_are_sound_and_of_one_ink(found: Survey, inks: Any) -> None:
    import re
    from xml.etree import ElementTree

    for svg in (
        arch_picture(found, Words(mark=("<b>", "&")), inks), radial_picture(found, 34, Words(), inks),
        wall_picture(found, 34, Words("universal"), inks), path_picture(found, Words(), inks),
    ):  # fmt: skip
        ElementTree.fromstring(svg)
        assert set(re.findall(r"#[0-9a-f]{6}", svg)) <= {inks.ink, inks.paper, inks.pale}
        assert "nan" not in svg
        assert "<script" not in svg
        assert "<image" not in svg


def test_the_command_from_marks_to_a_case(bench: Bench, tmp_path: Path) -> None:
    scan, case, marks = tmp_path / "private name.stl", tmp_path / "case.yaml", tmp_path / "marks.yaml"
    scan.write_bytes(stl_bytes(bench.scan().raw))
    case.write_text(yaml.safe_dump(case_of(bench).model_dump(mode="json", exclude_none=True)))
    marks.write_text(yaml.safe_dump(marks_document(true_marks(bench.arch))))
    out, picture, proposed = tmp_path / "out.yaml", tmp_path / "arch.svg", tmp_path / "proposed.yaml"
    done = subprocess.run(
        [
            sys.executable, "-m", "recommender", "survey", str(scan), "--case", str(case), "--marks", str(marks),
            "-o", str(out),
            "--picture", str(picture), "--charts", str(tmp_path / "charts"), "--propose", str(proposed), "--json",
        ],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    jsonschema.validate(document, SCHEMA)
    assert document["survey"]["scan"]["side_confirmed"] is True
    assert document["taken_over"]
    written = read_case(out)
    assert written.survey is not None
    assert written.survey.confirmed == [34, 36, 43, 47]
    assert "private name" not in out.read_text() + picture.read_text() + done.stdout
    assert len(out.read_bytes()) < 40_000
    assert read_marks(proposed.read_text()).scan == document["survey"]["scan"]["sha256"]
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(
        ["private name.stl", "case.yaml", "marks.yaml", "out.yaml", "arch.svg", "proposed.yaml", "charts"]
    )
    drawn = {path.name for path in (tmp_path / "charts").iterdir()}
    assert drawn == {
        "paths.svg",
        *(f"{kind}-{t}.svg" for kind in ("zones", "wall") for t in (34, 36, 43, 47)),
    }


def test_the_command_refuses_in_one_sentence(bench: Bench, tmp_path: Path) -> None:
    case, scan = tmp_path / "case.yaml", tmp_path / "scan.stl"
    case.write_text(yaml.safe_dump(case_of(bench).model_dump(mode="json", exclude_none=True)))
    scan.write_bytes(b"\x00" * 300)
    arguments = ["survey", str(scan), "--case", str(case)]
    read = CliRunner().invoke(main, arguments)
    assert (read.exit_code, read.stdout) == (1, "")
    assert "no STL, PLY or OBJ" in read.stderr
    printed = CliRunner().invoke(main, [*arguments, "--json"])
    assert (printed.exit_code, printed.stderr) == (1, "")
    document = json.loads(printed.stdout)
    jsonschema.validate(document, SCHEMA)
    assert "no STL, PLY or OBJ" in document["error"][0]["found"]


def test_a_missing_file_is_an_os_error(bench: Bench, tmp_path: Path) -> None:
    with pytest.raises(OSError):
        survey_scan(tmp_path / "nowhere.stl", case_of(bench))
