"""The verbs ``drawing``, ``letter`` and ``ticket``: files, refusals, exit statuses."""

import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest
from click.testing import CliRunner

from recommender.cli.advise.documents import drawing, letter, ticket
from recommender.domain import writing
from recommender.resources import demo_library
from tests.documents.reading import reader, words

CASE = str(demo_library() / "harbour-0087.yaml")


@pytest.fixture(autouse=True)
def _no_configured_library(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("RPD_CASEBOOK_LIBRARY", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))


def test_drawing_of_the_own_design_and_of_a_framework(tmp_path: Path) -> None:
    own, proposed = tmp_path / "own.svg", tmp_path / "proposed.svg"
    assert CliRunner().invoke(drawing, [CASE, "-o", str(own), "--own-design"]).exit_code == 0
    result = CliRunner().invoke(
        drawing, [CASE, "-o", str(proposed), "--library", "none", "--numbering", "universal"]
    )
    assert result.exit_code == 0, result.output
    for path in (own, proposed):
        assert ElementTree.parse(path).getroot().tag.endswith("svg")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["own.svg", "proposed.svg"]


def test_what_was_prescribed_or_stored_and_cannot_be_made_is_flagged_on_the_drawing(tmp_path: Path) -> None:
    """At its tooth, before wax; the stored design's own fault beside it."""
    case, target = tmp_path / "asked.yaml", tmp_path / "asked.svg"
    case.write_text(
        "{format: 1, id: asked, arch: mandible, missing: [46, 36, 37], absent: [48, 38], abutments: [{tooth: 47,"
        " preparable: false, undercuts_mm: {mesiofacial: 0, midfacial: 0, distofacial: 0}},"
        " {tooth: 45, undercuts_mm: {distofacial: 0}}], prescription: {retainers: {47: circumferential}},"
        " design: {connector: lingual_bar, retainers: [{tooth: 45, assembly: circumferential, rest: mesial,"
        " approach: mesial, undercut: {zone: distofacial}}]}}"
    )
    result = CliRunner().invoke(drawing, [str(case), "-o", str(target), "--library", "none"])
    assert result.exit_code == 0, result.output
    told = " ".join("".join(ElementTree.parse(target).getroot().itertext()).split())
    assert "ircumferential clasp cannot be made on 47" in told
    assert "n the stored design: 45" in told


def test_letter_to_standard_output_and_to_a_file(tmp_path: Path) -> None:
    result = CliRunner().invoke(letter, [CASE, "-o", "-", "--library", "none", "--paper", "us-letter"])
    assert result.exit_code == 0
    assert result.stdout_bytes.startswith(b"%PDF")
    target = tmp_path / "letter.pdf"
    assert CliRunner().invoke(letter, [CASE, "-o", str(target), "--framework", "2"]).exit_code == 0
    assert "demonstration" in words(target.read_bytes())
    assert len(reader(target.read_bytes()).pages) <= 2


def test_a_provisional_ticket_is_refused_and_writes_nothing(tmp_path: Path) -> None:
    target = tmp_path / "ticket.pdf"
    case = str(demo_library() / "harbour-0001.yaml")
    refused = CliRunner().invoke(ticket, [case, "-o", str(target), "--library", "none"])
    assert refused.exit_code == 1
    assert "provisional" in refused.stderr
    assert "--despite-provisional" in refused.stderr
    assert not target.exists()
    empty = CliRunner().invoke(ticket, [case, "-o", str(target), "--despite-provisional", " "])
    assert empty.exit_code == 2
    printed = CliRunner().invoke(
        ticket,
        [case, "-o", str(target), "--library", "none", "--despite-provisional", "wax trial for teaching"],
    )
    assert printed.exit_code == 0
    assert "wax trial for teaching" in words(target.read_bytes())


@pytest.mark.parametrize("verb", [drawing, letter, ticket])
def test_what_cannot_be_used_is_said_and_nothing_is_written(verb: object, tmp_path: Path) -> None:
    target = tmp_path / "out"
    broken = tmp_path / "broken.yaml"
    broken.write_text("format: 1\nid: x\narch: jaw\nmissing: [11]\n", encoding="utf-8")
    nothing = tmp_path / "nothing.yaml"
    nothing.write_text("format: 1\nid: x\narch: maxilla\nmissing: []\n", encoding="utf-8")
    for path, said in (
        (broken, "arch"),
        (nothing, "No tooth is to be replaced"),
        (tmp_path / "absent.yaml", "absent"),
    ):
        result = CliRunner().invoke(verb, [str(path), "-o", str(target), "--library", "none"])  # type: ignore[arg-type]
        assert result.exit_code == 1, path
        assert said in result.stderr
        assert not target.exists()
    elsewhere = CliRunner().invoke(verb, [CASE, "-o", str(target), "--library", str(tmp_path / "no.db")])  # type: ignore[arg-type]
    assert elsewhere.exit_code == 1
    assert not target.exists()
    no_folder = CliRunner().invoke(  # type: ignore[arg-type]
        verb, [CASE, "-o", str(tmp_path / "no" / "out"), "--library", "none", *_reason(verb)]
    )
    assert no_folder.exit_code == 1
    assert "could not be written" in no_folder.stderr


def _reason(verb: object) -> list[str]:
    return ["--despite-provisional", "test"] if verb is ticket else []


def test_papers_go_by_the_profile_that_was_asked_for(tmp_path: Path) -> None:
    missing = str(tmp_path / "house.yaml")
    for verb in (letter, drawing):
        result = CliRunner().invoke(verb, [CASE, "-o", str(tmp_path / "out"), "--profile", missing])
        assert result.exit_code == 1
        assert "house.yaml" in result.stderr
        assert not (tmp_path / "out").exists()


def test_a_failed_write_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "letter.pdf"
    target.write_bytes(b"before")

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(writing.os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        writing.write_whole(target, b"after")
    assert target.read_bytes() == b"before"
    assert list(tmp_path.iterdir()) == [target]
