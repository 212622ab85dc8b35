"""A large library is looked through by other ways than a small one: the same answers, and no process left behind."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from benchmarks.whole_cases import varied_cases
from recommender.curation.citations import citations, citations_in
from recommender.curation.conflict_search import stored_conflicts
from recommender.curation.conflicts import conflicts
from recommender.curation.contradictions import _rules_only, chosen
from recommender.curation.coverage import coverage, covered
from recommender.curation.duplicates import near_duplicates, stored_near_duplicates
from recommender.curation.evaluation.leave_one_out import Row, evaluate_some
from recommender.curation.looking import look_at_cases, look_at_library
from recommender.curation.near_pairs import Marks, near_pairs
from recommender.curation.stored_look import look_at_stored
from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.processes import shared_out
from recommender.precedents.search.tables import load
from recommender.precedents.situations import all_situations
from recommender.precedents.store.database_source import DatabaseSource
from recommender.precedents.store.databases import create_database
from recommender.precedents.store.exporting import export
from recommender.precedents.store.importing import reading
from recommender.precedents.store.importing import rows as incoming
from recommender.precedents.store.importing.batch import import_all
from recommender.precedents.store.importing.reports import Terms

CASES = list(varied_cases(60, seed=4))
TERMS = Terms("KM", "past work", keep_status=True)


def test_cases_read_by_several_processes_come_in_alike(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading, "_WORTH", 0)
    monkeypatch.setattr(reading, "_CHUNK", 7)
    source = tmp_path / "in.jsonl"
    export.to_lines(CASES, source)
    source.write_bytes(source.read_bytes() + b'{"format":1,"id":"bad","arch":"upper","missing":[15]}\n')
    documents = []
    for jobs in (1, 2):
        with create_database(str(tmp_path / f"{jobs}.db")) as library:
            rows = list(reading.ready_rows(source, keep_status=True, jobs=jobs))
            assert [row.problems for row in rows] == [row.problems for row in incoming.rows(source)]
            told: list[tuple[str, object]] = []
            import_all(library, rows[:-1], TERMS, lambda report, told=told: told.append((report.verdict, report.notes)))
            documents.append((told, [(v.document, v.checksum) for v in library.latest()]))
    assert documents[0] == documents[1]


def test_a_database_is_looked_through_as_its_cases_are(tmp_path: Path) -> None:
    copies = [case.model_copy(update={"id": f"copy-{case.id}", "title": None}) for case in CASES[:6]]
    with create_database(str(tmp_path / "cases.db")) as library:
        import_all(library, [incoming.Row(case.id, case) for case in (*CASES, *copies)], TERMS, lambda _report: None)
        source = DatabaseSource(library)
        assert stored_near_duplicates(library) == near_duplicates(source.cases())
        assert len(stored_near_duplicates(library)) >= 4
        steps: list[int] = []
        assert covered(look_at_stored(source, 1, steps.append)) == coverage(source.cases())
        assert steps[-1] == len(CASES) + len(copies)


def test_conflicts_and_citations_of_a_library_that_stands() -> None:
    likeness, few = load(), CASES[:12]
    library = PrecedentLibrary.packed(all_situations(few, likeness), likeness)
    exact = citations(few)
    found = citations_in(library, most_asked=None)
    assert (found.asked, found.of, found.half, found.never) == (exact.asked, exact.of, exact.half, exact.never)
    assert citations_in(library, most_asked=10).asked <= 10

    def key(one: object) -> tuple:
        return (one.first.kind, one.first.case_id, one.first.site, one.second.case_id, one.second.site)

    every = stored_conflicts(library, 10_000, every_pair=True)
    assert {key(one) for one in conflicts(few)} <= {key(one) for one in every.first}
    some = stored_conflicts(library, 10_000)
    assert {key(one) for one in some.first} <= {key(one) for one in every.first}
    assert some.number >= every.number / 2
    assert [key(one) for one in stored_conflicts(library, 5).first] == [key(one) for one in every.first][:5]


def _slowly(number: int) -> int:
    time.sleep(0.05)
    return number * 2


def test_work_is_shared_out_in_order_and_stops_cleanly() -> None:
    assert list(shared_out(_slowly, range(9), 3)) == [0, 2, 4, 6, 8, 10, 12, 14, 16]
    started = shared_out(_slowly, range(1000), 2)
    assert next(started) == 0
    before = time.monotonic()
    started.close()
    assert time.monotonic() - before < 5


_AT_WORK = """
import signal, time
from recommender.precedents.processes import shared_out
if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell ignores it for what runs in the background
    for _ in shared_out(time.sleep, [0.01, *[60] * 20], 2):
        print("begun", flush=True)
"""


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="looks into /proc")
def test_children_end_with_their_parent(tmp_path: Path) -> None:
    """Killed without a word, a process leaves none of its children behind."""
    process = subprocess.Popen([sys.executable, "-c", _AT_WORK], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "begun\n"
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
    assert len(children) == 2
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    until = time.monotonic() + 15
    while time.monotonic() < until and any(_alive(child) for child in children):
        time.sleep(0.1)
    assert not [child for child in children if _alive(child)]


def _alive(pid: str) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().split()[2] not in ("Z", "X")
    except OSError:
        return False


def test_near_pairs_pass_no_pair_over() -> None:
    """Beside every pair compared in full."""
    chance = np.random.default_rng(3)
    base = chance.integers(0, 2**64, 120, dtype=np.uint64)
    marks = []
    for number in range(60):
        other_leaves = chance.integers(0, 2**64, 120, dtype=np.uint64)
        own = np.where(chance.random(120) < chance.choice([0.02, 0.05, 0.3]), other_leaves, base)
        marks.append(Marks(f"c{number:02d}", "maxilla:15|", np.unique(own)))
    for least in (0.8, 0.9):
        found = {pair[:2]: pair[2] for pair in near_pairs(marks, least)}
        every = {
            (one.case_id, other.case_id): len(set(one.leaves) & set(other.leaves)) / len({*one.leaves, *other.leaves})
            for place, one in enumerate(marks)
            for other in marks[place + 1 :]
        }
        assert found == {pair: share for pair, share in every.items() if share >= least}
        assert 5 < len(found) < len(every)


def test_one_option_is_judged_alone_as_among_all() -> None:
    for case in CASES[:4]:
        analysis = _rules_only().work(case)
        for decision, option, result in chosen(analysis):
            given = result.given if decision.kind == "rest" else None
            among = {entry.option: (entry.status, entry.blocked_by) for entry in result.ranked}
            alone = analysis.judged_alone(decision, option, given)
            assert among.get(option) == (None if alone is None else (alone.status, alone.blocks))


def test_a_library_is_looked_at_and_advised_as_its_cases_are(tmp_path: Path) -> None:
    """By two processes, each with its own connection; of a sample the rows are those of the whole."""
    where = str(tmp_path / "cases.db")
    with create_database(where) as library:
        import_all(library, [incoming.Row(case.id, case) for case in CASES[:14]], TERMS, lambda _report: None)
        source = DatabaseSource(library)
        looks = list(look_at_library(source, rules=True, jobs=1))
        assert looks == list(look_at_cases(source.latest(), rules=True))
        assert any(one.against for one in looks)
    folder = tmp_path / "cases"
    folder.mkdir()
    for case in CASES[:14]:
        (folder / f"{case.id}.json").write_text(case.model_dump_json(exclude_none=True), encoding="utf-8")
    rows, of = evaluate_some(where, jobs=2, batch=2, most=4)
    ids = {row.case_id for row in rows}
    assert 4 <= of <= 14
    assert 2 <= len(ids) <= 4
    told = evaluate_some(str(folder), jobs=1, most=4)[0]
    assert sorted(rows, key=_place) == sorted(told, key=_place)


def _place(row: Row) -> tuple[str, str, int]:
    return row.case_id, row.kind, row.tooth


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="looks into /proc")
def test_a_stop_ends_the_work_at_once() -> None:
    """Ctrl-C while every process is at a long piece of work."""
    pipe = subprocess.PIPE
    process = subprocess.Popen([sys.executable, "-c", _AT_WORK], stdout=pipe, stderr=pipe, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "begun\n"
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=20)
    assert process.returncode != 0
    assert not [child for child in children if _alive(child)]
