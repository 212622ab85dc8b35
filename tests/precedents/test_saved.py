"""The kept library: the same answers as the one in memory, and nothing served that does not fit."""

import json
import shutil
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchmarks import generate
from recommender.precedents.index import saved
from recommender.precedents.index.building import keep, library_of
from recommender.precedents.library import Filters, PrecedentLibrary
from recommender.precedents.model import Situation
from recommender.precedents.search.tables import Likeness, load
from recommender.precedents.source import FolderSource
from recommender.resources import demo_library

SIZE = 11_000  # enough for the trie


@pytest.fixture(scope="module")
def likeness() -> Likeness:
    return load()


@pytest.fixture(scope="module")
def rows(likeness: Likeness) -> list[Situation]:
    made = generate.library(likeness.kinds["retainer"], SIZE)
    few = generate.library(likeness.kinds["connector"], 40)
    return [made.situation(n) for n in range(SIZE)] + [few.situation(n) for n in range(40)]


@pytest.fixture(scope="module")
def library(likeness: Likeness, rows: list[Situation]) -> PrecedentLibrary:
    return PrecedentLibrary.build(rows, likeness)


@pytest.fixture
def folder(tmp_path: Path, library: PrecedentLibrary) -> Path:
    saved.save(library, tmp_path, "v1")
    return tmp_path


def ask(rows: list[Situation]) -> Iterable[Situation]:
    return (replace(rows[n], case_id="query", fingerprint="") for n in [*range(0, SIZE, 1500), SIZE + 3])


def test_same_answers_as_in_memory(
    folder: Path, library: PrecedentLibrary, likeness: Likeness, rows: list[Situation]
) -> None:
    kept = saved.load(folder, "v1", likeness)
    for here in ask(rows):
        assert kept.nearest(here, 10) == library.nearest(here, 10)
        assert kept.candidates(here, 3, 0.05) == library.candidates(here, 3, 0.05)
        assert kept.candidates(here, 3, 0.5, cap=5) == library.candidates(here, 3, 0.5, cap=5)


def test_changes_are_kept(
    tmp_path: Path, library: PrecedentLibrary, likeness: Likeness, rows: list[Situation]
) -> None:
    changed = library.changed(["g00000007"], [replace(rows[40], case_id="new", worth=-1.0)])
    saved.save(changed, tmp_path, "v2")
    kept = saved.load(tmp_path, "v2", likeness)
    assert len(kept.shelves["retainer"].parts) == 2
    assert kept.count("retainer") == changed.count("retainer") == SIZE - generate.CASE_SITUATIONS + 1
    for here in ask(rows):
        assert kept.nearest(here, 10, filters=Filters(False)) == changed.nearest(
            here, 10, filters=Filters(False)
        )


def test_damage_is_noticed(folder: Path, likeness: Likeness) -> None:
    """One altered byte in any file, or a shortened or missing file."""
    (build,) = folder.glob("build-*")
    files = sorted(build.iterdir())
    assert len(files) > 30
    rng = np.random.default_rng(5)
    for path in files:
        content = path.read_bytes()
        at = int(rng.integers(0, len(content)))
        path.write_bytes(content[:at] + bytes([content[at] ^ 0x10]) + content[at + 1 :])
        with pytest.raises(saved.UnfitIndexError, match="damaged"):
            saved.load(folder, "v1", likeness)
        path.write_bytes(content)
    saved.load(folder, "v1", likeness)
    files[0].write_bytes(files[0].read_bytes()[:-1])
    with pytest.raises(saved.UnfitIndexError, match="damaged"):
        saved.load(folder, "v1", likeness)
    files[0].unlink()
    with pytest.raises(saved.UnfitIndexError, match="cannot be read"):
        saved.load(folder, "v1", likeness)


def test_other_versions_are_not_served(folder: Path, likeness: Likeness) -> None:
    with pytest.raises(saved.UnfitIndexError, match="source"):
        saved.load(folder, "v2", likeness)
    with pytest.raises(saved.UnfitIndexError, match="likeness"):
        saved.load(folder, "v1", Likeness(likeness.kinds, "another"))
    stamp = folder / "current.json"
    stamp.write_text(stamp.read_text().replace("v1", "v2"))
    with pytest.raises(saved.UnfitIndexError, match="damaged"):
        saved.load(folder, "v2", likeness)
    stamp.write_text(json.dumps([1]))
    with pytest.raises(saved.UnfitIndexError, match="cannot be read"):
        saved.load(folder, "v1", likeness)


def test_kept_library_follows_its_source(tmp_path: Path, likeness: Likeness) -> None:
    """Kept once, opened while the cases stay, passed over when they change, and brought up to date."""
    cases, place = tmp_path / "cases", tmp_path / "kept"
    shutil.copytree(
        demo_library(), cases, ignore=lambda _, names: [n for n in names if n > "harbour-0012.yaml"]
    )
    counted: list[int] = []
    first = keep(FolderSource(cases), place, likeness, counted.append)
    assert counted == list(range(1, 13))
    again = keep(FolderSource(cases), place, likeness, lambda _: pytest.fail("it fits"))
    assert saved.held_version(place) == FolderSource(cases).version()
    here = replace(first.shelves["connector"].parts[0].rows[0], case_id="query", fingerprint="")
    assert first.nearest(here, 20) == again.nearest(here, 20)
    (cases / "harbour-0003.yaml").unlink()
    fresh = library_of(FolderSource(cases), likeness, place)
    assert "harbour-0003" not in {
        n.situation.case_id for n in fresh.nearest(here, 20, filters=Filters(False))
    }
    old = saved.load(place, str(saved.held_version(place)), likeness)
    saved.save(old.changed(["harbour-0003"], []), place, FolderSource(cases).version())
    updated = library_of(FolderSource(cases), likeness, place)
    assert updated.nearest(here, 20) == fresh.nearest(here, 20)
    assert saved.held_version(tmp_path / "nowhere") is None
