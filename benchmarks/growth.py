"""How a library grows: import, index, coverage, near-duplicates, conflicts, check, leave-one-out, beside an earlier
version of the program.

    python -m benchmarks.growth --cases 10000 [--base FOLDER] [--only import,check] [--base-only import]
                                [--work FOLDER] [--found]

Cases are the demo cases varied by chance (invented themselves; evidence of nothing). Each step is a process of its own,
with its wall seconds, the processor seconds of it and its children, and the most memory that all of them held at once;
``leave-one-out-some`` advises 100 of the cases in one process, after some to warm up, and tells the ms for each.
``--base`` names a checkout of another version: every step (or those of ``--base-only``) runs in it too, right after,
on the same cases. ``--only`` names the steps; ``--work`` keeps the libraries in a folder, so that later steps go on
with them. ``--found`` says how many of all conflicts the search beside sorted rows finds (compares every pair: up to
some 2,000 cases).
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parents[1]
_IMPORT = """
import os, sys
from pathlib import Path
from recommender.precedents.store.databases import create_database
source, where = Path(sys.argv[1]), sys.argv[2]
try:
    from recommender.precedents.store.importing.batch import import_all
    from recommender.precedents.store.importing.reading import ready_rows
    from recommender.precedents.store.importing.reports import Terms
    rows = ready_rows(source, keep_status=True, jobs=os.cpu_count() or 1)
    terms = Terms("bench", "measured", keep_status=True)
except ImportError:  # as the program was laid out before
    from recommender.precedents.store.bringing_in import Terms, import_all
    from recommender.precedents.store.incoming import rows as all_rows
    rows, terms = all_rows(source), Terms("bench", "measured", lambda case: [], True)
if __name__ == "__main__":
    with create_database(where) as library:
        print(import_all(library, rows, terms, lambda report: None).written)
"""


# cases that both versions can read are made by the earlier one
_MAKE = """
import sys
from pathlib import Path
from benchmarks.whole_cases import varied_cases
try:
    from recommender.precedents.store.exporting.export import to_lines
except ImportError:
    from recommender.precedents.store.taking_out import to_lines
to_lines(varied_cases(int(sys.argv[1])), Path(sys.argv[2]))
"""


_SOME = """
import json, sys, time
from recommender.precedents.store.opening import open_library
where = sys.argv[1]
known = [
    case for case in open_library(where).cases()
    if case.design is not None and case.missing and case.review and case.review.status == "approved"
]
chosen = known[:: max(1, len(known) // 116)][:116]
try:
    from recommender.curation.evaluation.leave_one_out import evaluate_batch
except ImportError:
    from recommender.curation.leave_one_out import evaluate_batch
evaluate_batch(where, chosen[:16])
begun, busy, rows = time.perf_counter(), time.process_time(), 0
for start in range(16, len(chosen), 8):
    rows += len(evaluate_batch(where, chosen[start : start + 8]))
number = len(chosen) - 16
print(json.dumps({"cases": number, "decisions_a_case": round(rows / number, 1),
                  "ms_a_case": round(1e3 * (time.perf_counter() - begun) / number, 1),
                  "processor_ms_a_case": round(1e3 * (time.process_time() - busy) / number, 1)}))
"""


@dataclass(slots=True)
class Measured:
    """Wall and processor seconds, and the most memory of all processes together (MB)."""

    seconds: float
    processor: float
    memory: float
    said: str


def measured(command: list[str], folder: Path) -> Measured:
    """Runs a command in a checkout."""
    before = os.times()
    start = time.perf_counter()
    environment = {**os.environ, "PYTHONPATH": str(folder), "RPD_CASEBOOK_WHO": "bench"}
    process = subprocess.Popen(command, cwd=folder, env=environment, stdout=subprocess.PIPE, text=True)
    most = [0.0]
    watch = threading.Thread(target=_watch, args=(process, most), daemon=True)
    watch.start()
    said, _ = process.communicate()
    seconds = time.perf_counter() - start
    after = os.times()
    if process.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(command)} ended with {process.returncode}")
    busy = after.children_user + after.children_system - before.children_user - before.children_system
    return Measured(seconds, busy, most[0], said)


def _watch(process: "subprocess.Popen[str]", most: list[float]) -> None:
    while process.poll() is None:
        most[0] = max(most[0], sum(map(_share, _tree(process.pid))))
        time.sleep(0.5)  # a look at large processes holds them up


def _tree(pid: int) -> list[int]:
    try:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text(encoding="ascii").split()
    except OSError:
        return []
    return [pid, *(one for child in children for one in _tree(int(child)))]


def _share(pid: int) -> float:
    """Memory of a process, pages that it shares counted by their share (MB)."""
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii").splitlines()
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("Pss:")), 0.0)


def steps(work: Path, source: Path, *, now: bool) -> list[tuple[str, list[str]]]:
    """Every step with its command."""
    every = ["--every"] if now else []
    where = str(work / "cases.db")
    program = [sys.executable, "-m", "recommender"]
    verb = [*program, "library"]
    return [
        ("import", [sys.executable, "-c", _IMPORT, str(source), where]),
        ("index", [*verb, "index", "--library", where]),
        ("coverage", [*verb, "coverage", "--library", where, "--json"]),
        ("duplicates", [*verb, "duplicates", "--library", where, "--json"]),
        ("conflicts", [*verb, "conflicts", "--library", where, "--json"]),
        ("check", [*verb, "check", "--rules", "--library", where, "--json"]),
        ("leave-one-out-some", [sys.executable, "-c", _SOME, where]),
        ("leave-one-out", [*program, "evaluate", "leave-one-out", *every, "--jobs", "2", "--library", where, "--json"]),
    ]  # fmt: skip


def found_share(where: str) -> None:
    """How many of all conflicts the search beside sorted rows finds."""
    from recommender.curation.conflict_search import stored_conflicts
    from recommender.precedents.index.building import library_of
    from recommender.precedents.store.opening import open_library

    library = library_of(open_library(where))
    some = stored_conflicts(library, 40)
    every = stored_conflicts(library, 40, every_pair=True)
    first = {(c.first.case_id, c.second.case_id, c.first.site) for c in every.first}
    met = sum((c.first.case_id, c.second.case_id, c.first.site) in first for c in some.first)
    print(json.dumps({"conflicts": every.number, "found": some.number, "share": some.number / (every.number or 1),
                      "of_the_first_40": met}))  # fmt: skip


def main() -> None:
    """Measures."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--base", type=Path, default=None)
    parser.add_argument("--found", action="store_true")
    parser.add_argument("--only", default="")
    parser.add_argument("--base-only", default="")
    parser.add_argument("--work", type=Path, default=None)
    given = parser.parse_args()
    if given.work is not None:
        given.work.mkdir(parents=True, exist_ok=True)
        _measure(given, given.work)
    else:
        with tempfile.TemporaryDirectory() as home:
            _measure(given, Path(home))


def _measure(given: argparse.Namespace, home: Path) -> None:
    source = home / f"{given.cases}.jsonl"
    checkouts = {"now": HERE} | ({"base": given.base.resolve()} if given.base else {})
    if not source.exists():
        measured([sys.executable, "-c", _MAKE, str(given.cases), str(source)], checkouts.get("base", HERE))
    works = {name: home / f"{name}-{given.cases}" for name in checkouts}
    commands = {name: steps(work, source, now=name == "now") for name, work in works.items()}
    wanted = given.only.split(",") if given.only else [step for step, _ in commands["now"]]
    for work in works.values():
        work.mkdir(exist_ok=True)
    for number, (step, _) in enumerate(commands["now"]):
        if step not in wanted and not (step == "import" and not (works["now"] / "cases.db").exists()):
            continue
        row: dict[str, object] = {"step": step, "cases": given.cases}
        for name, folder in checkouts.items():
            if name == "base" and given.base_only and step not in given.base_only.split(","):
                continue
            if step == "import":
                (works[name] / "cases.db").unlink(missing_ok=True)
            told = measured(commands[name][number][1], folder)
            row[name] = {"seconds": round(told.seconds, 1), "processor": round(told.processor, 1),
                         "memory_mb": round(told.memory)}  # fmt: skip
            if step == "leave-one-out-some":
                row[name] |= json.loads(told.said)  # type: ignore[operator]
        if "base" in row:
            row["times"] = round(row["base"]["seconds"] / row["now"]["seconds"], 1)  # type: ignore[index]
            row["times_processor"] = round(row["base"]["processor"] / row["now"]["processor"], 1)  # type: ignore[index]
        print(json.dumps(row), flush=True)
    if given.found:
        found_share(str(works["now"] / "cases.db"))


if __name__ == "__main__":
    main()
