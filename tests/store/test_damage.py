"""Single changed bytes in a library's file: nothing ends in a traceback, no export differs silently, and every case
that is damaged is named.

The short form tries some dozens of bytes, the long one (RPD_LONG=1) two thousand. Asked each time: what would come out?
"""

import json
import os
import random
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from sqlalchemy import select, update

from recommender.cli.main import main
from recommender.curation import review
from recommender.curation.outcomes import FollowUp, add_follow_up
from recommender.precedents.store import backup, documents
from recommender.precedents.store.checking import faults, find
from recommender.precedents.store.database_source import DatabaseSource
from recommender.precedents.store.databases import create_database, open_database
from recommender.precedents.store.engine import LibraryError
from recommender.precedents.store.errors import DamagedLibrary
from recommender.precedents.store.importing.batch import import_all
from recommender.precedents.store.importing.reports import Terms
from recommender.precedents.store.importing.rows import Row
from recommender.precedents.store.library import Library
from recommender.precedents.store.repairing import repair
from recommender.precedents.store.schema import cases, versions
from tests.store.invented import invented_cases

CASES = list(invented_cases(9, seed=77))
LONG = bool(os.environ.get("RPD_LONG"))


def grown(library: Library) -> None:
    """A library that has been worked in: brought in, followed up, edited, approved, with changes that wait."""
    rows = [Row(str(number), case) for number, case in enumerate(CASES)]
    import_all(library, rows, Terms("KM", "register", keep_status=True), lambda _report: None)
    for number, case in enumerate(CASES[:6]):
        held = library.get(case.id)
        months = (held.case.outcome.followed_months if held.case.outcome else None) or 0
        add_follow_up(
            library, case.id, FollowUp(months + 12, True, None, 4, []), who="KM", why="called", opened=None
        )
        if number % 2:
            held = library.get(case.id)
            retitled = held.case.model_copy(update={"title": f"another title {number}"})
            review.revise(library, retitled, opened=held.revision, who="tutor", why="put right")


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, dict[str, dict]]:
    """The bytes of a sound library, and every case that an export of it gives."""
    path = tmp_path_factory.mktemp("whole") / "cases.db"
    with create_database(str(path)) as library:
        grown(library)
        given = {version.case_id: json.loads(version.document) for version in library.latest()}
    with open_database(str(path)) as library:
        assert faults(library) == []
    return path.read_bytes(), given


def run(*arguments: str) -> Result:
    result = CliRunner().invoke(main, ["library", *arguments, "--library", "cases.db"])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise AssertionError(
            f"library {' '.join(arguments)} ended in {result.exception!r}"
        ) from result.exception
    assert result.exit_code in (0, 1), result.output
    return result


def exported(path: Path) -> dict[str, dict]:
    return {case["id"]: case for case in map(json.loads, path.read_text(encoding="utf-8").splitlines())}


def try_flip(data: bytes, place: int, bit: int, given: dict[str, dict], *, backed_up: bool) -> str:
    """Everything that is asked of a library with one changed byte; what kind of trouble it was."""
    Path("cases.db").write_bytes(data[:place] + bytes([data[place] ^ (1 << bit)]) + data[place + 1 :])
    for left in ("out.jsonl", "sound.jsonl", "copy.db", "copy.db.sha256"):
        Path(left).unlink(missing_ok=True)
    out = run("export", "out.jsonl")
    checked = run("check")
    refused = out.exit_code != 0
    if not refused:
        assert exported(Path("out.jsonl")) == given, "an export differs and nobody says so"
    else:
        assert out.stderr.strip()
        assert checked.exit_code == 1, "an export is refused, and check finds nothing"
    taken = run("export", "sound.jsonl", "--sound")
    if taken.exit_code == 0:
        found = exported(Path("sound.jsonl"))
        assert all(given[case_id] == case for case_id, case in found.items())
        for case_id in given.keys() - found.keys():
            named = case_id in taken.stderr + checked.stdout + checked.stderr
            assert named or "damaged file" in checked.stdout, f"{case_id} is left out and nobody says so"
    if backed_up and run("backup", "copy.db").exit_code == 0:
        assert checked.exit_code == 0, "check finds something, and the backup is called verified"
        with open_database("copy.db") as copy:
            assert {v.case_id: json.loads(v.document) for v in copy.latest()} == given
    try:
        with open_database("cases.db") as library:
            source = DatabaseSource(library)
            ids = {case.id for case in source.cases()}
            missing = {case_id for case_id in given if case_id not in ids}
            assert missing <= source.left_out.keys() or find(library).whole, (
                "advice does not say what it leaves out"
            )
    except LibraryError:
        assert refused
    return "refused" if refused else "found by check" if checked.exit_code else "without effect"


def places(data: bytes, number: int, seed: int) -> Iterator[tuple[int, int]]:
    """Bytes all over the file, and as many again where something is written: most of a small file is empty space."""
    chance = random.Random(seed)
    written = [place for place in range(len(data)) if data[place]]
    for count in range(number):
        yield (chance.choice(written) if count % 2 else chance.randrange(len(data))), chance.randrange(8)


def test_no_changed_byte_goes_unnoticed(
    whole: tuple[bytes, dict[str, dict]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    data, given = whole
    told: Counter[str] = Counter()
    wrong: list[str] = []
    number, seed = int(os.environ.get("RPD_FLIPS", 2000 if LONG else 40)), int(os.environ.get("RPD_SEED", 5))
    for count, (place, bit) in enumerate(places(data, number, seed)):
        try:
            told[try_flip(data, place, bit, given, backed_up=LONG or count % 4 == 0)] += 1
        except AssertionError as error:
            wrong.append(f"byte {place}, bit {bit}: {error}")
    print(f"{told.total() + len(wrong)} changed bytes: {dict(told)}; not as promised: {len(wrong)}")
    assert not wrong, "\n".join(wrong)
    assert told["refused"]


@pytest.mark.parametrize(
    "spoilt", [lambda data: data[:61440], lambda data: b"X" + data[1:]], ids=["cut off", "head"]
)
def test_a_file_that_cannot_be_opened_is_made_anew_from_a_backup(
    whole: tuple[bytes, dict[str, dict]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    spoilt: Callable[[bytes], bytes],
) -> None:
    monkeypatch.chdir(tmp_path)
    data, given = whole
    Path("cases.db").write_bytes(data)
    run("backup", "spare.db")
    Path("cases.db").write_bytes(spoilt(data))
    for verb in (["check"], ["export", "out.jsonl"], ["repair", "--yes"]):
        assert "nothing of it can be read" in run(*verb).stderr
    assert f"mended; {len(given)} cases" in run("repair", "--from", "spare.db", "--yes").stdout
    assert [path.read_bytes() for path in Path().glob("cases.db.damaged-*")] == [spoilt(data)]
    assert run("check").exit_code == 0
    run("export", "out.jsonl")
    assert exported(Path("out.jsonl")) == given


def spoil(library: Library, case_id: str, revision: int) -> None:
    with library.writing() as connection:
        here = (versions.c.case_id == case_id) & (versions.c.revision == revision)
        old = connection.scalar(select(versions.c.document).where(here))
        connection.execute(update(versions).where(here).values(document=old.replace('"alloy"', '"aloly"')))


def test_one_damaged_case_stops_no_other(library: Library) -> None:
    grown(library)
    bad = CASES[0].id
    spoil(library, bad, library.get(bad).revision)
    source = DatabaseSource(library)
    assert [case.id for case in source.latest()] == [case.id for case in CASES if case.id != bad]
    assert list(source.left_out) == [bad]
    with pytest.raises(DamagedLibrary, match=bad):
        _ = library.get(bad).case
    assert [line for line in faults(library) if bad not in line] == []


def test_repair_from_history_and_from_a_backup(library: Library, tmp_path: Path) -> None:
    grown(library)
    spare = tmp_path / "spare.db"
    backup.back_up(library, spare)
    before = {version.case_id: version.document for version in library.latest()}
    one, two, three = CASES[1].id, CASES[3].id, CASES[8].id
    spoil(library, one, library.get(one).revision)
    spoil(library, three, 1)
    with library.writing() as connection:
        connection.execute(update(cases).where(cases.c.id == two).values(revision=1, arch="neither"))
    with pytest.raises(DamagedLibrary, match=one):
        backup.back_up(library, tmp_path / "no.db")
    with open_database(str(spare)) as sound:
        done = repair(library, sound)
    assert set(done.told) == {one, two, three}
    assert not done.lost
    with open_database(library.where if "://" in library.where else str(library.where)) as again:
        assert faults(again) == []
        assert {version.case_id: version.document for version in again.latest()} == before


def test_repair_without_a_backup_says_what_is_lost(library: Library) -> None:
    grown(library)
    one, three = CASES[1].id, CASES[8].id
    latest, state = library.get(one).revision, documents.status(library.get(one).case)
    spoil(library, one, latest)
    spoil(library, three, 1)
    served = library.serving_of([one])[one].revision
    done = repair(library)
    assert f"revision {latest}: lost; revision {latest - 1} stands in its place" in done.told[one]
    assert "what its source last said" in done.told[three][0]
    with open_database(library.where) as again:
        assert faults(again) == []
        assert again.get(one).kind == "lost"
        heads = {head.id: head for head in again.heads()}
        # an approval does not come back by itself, and a retirement is not taken away
        assert (heads[one].status, heads[three].status) == (
            "retired" if state == "retired" else "draft",
            "draft",
        )
        assert heads[one].serving in (None, served)
