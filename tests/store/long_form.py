"""The long forms of the reliability checks, by one command, with the counts that it reports.

    python -m tests.store.long_form [kills] [clients] [fuzz] [--kills 50] [--seconds 60] [--inputs 100000]
                                    [--of whole_imports,edits] [--on postgres]

Without a name all three run. PostgreSQL takes part where RPD_TEST_POSTGRES_URL names a server. Kills are at
random moments (SIGKILL) of an edit, an import of the valid rows, an import of all or nothing, a migration, a backup
and a restore, so many of each on each database; ``--of`` and ``--on`` choose among them.
"""

import argparse
import multiprocessing
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from .clients import many_clients
from .conftest import SERVER
from .fuzzing import Led
from .harness import Ordeal
from .test_migrate_and_back_up import older_library
from .test_reliability import fresh


def databases() -> list[str]:
    """The databases that take part."""
    return ["sqlite", "postgres"] if SERVER else ["sqlite"]


WORK = ("edits", "imports", "whole_imports", "migrations", "backups", "restores")


def kills(times: int, work: Sequence[str] = WORK, on: Sequence[str] = ()) -> None:
    """So many kills of each kind of work on each database."""
    for kind in on or databases():
        for name in work:
            with tempfile.TemporaryDirectory() as folder:
                ordeal = Ordeal(Path(folder), lambda k=kind, f=folder: fresh(k, Path(f)), seed=101)
                start = time.monotonic()
                extra = (older_library,) if name == "migrations" else ()
                getattr(ordeal, name)(times, *extra)
                print(
                    f"kills, {kind}, {name.replace('_', ' ')}: {ordeal.kills} killed ({ordeal.cut_short} at work), "
                    f"nothing lost or half-written ({time.monotonic() - start:.0f} s)",
                    flush=True,
                )


def clients(seconds: float) -> None:
    """16 writers and 16 readers for so many seconds on each database."""
    for kind in databases():
        with tempfile.TemporaryDirectory() as folder, fresh(kind, Path(folder)) as where:
            told = many_clients(where, 16, 16, seconds)
        print(
            f"clients, {kind}: {seconds:.0f} s, {told.saved} saves, {told.stale} told that somebody was first, "
            f"{told.added} cases added, {told.reads} reads; slowest {told.slowest:.2f} s; errors {len(told.errors)}, "
            f"lost {len(told.lost)}",
            flush=True,
        )
        for line in (*told.errors[:5], *told.lost[:5]):
            print("   ", line, flush=True)
        if told.errors or told.lost:
            sys.exit(1)


def fuzz(inputs: int) -> None:
    """So many inputs led by coverage, shared among the processors, and a tenth as many examples from Hypothesis."""
    workers = os.cpu_count() or 1
    with tempfile.TemporaryDirectory() as folder, multiprocessing.Pool(workers) as pool:
        jobs = [(folder, seed, inputs // workers + 1) for seed in range(1, workers + 1)]
        told = pool.starmap(_fuzz, jobs)
    outcomes: Counter[str] = Counter()
    for counted, _, _ in told:
        outcomes.update(counted)
    print(f"fuzz, led by coverage: {outcomes.total()} inputs, {max(kept for _, kept, _ in told)} kept, "
          f"{max(lines for _, _, lines in told)} lines reached; no crash, no partial write", flush=True)  # fmt: skip
    for outcome, number in sorted(outcomes.items()):
        print(f"    {outcome}: {number}", flush=True)
    examples = max(100, inputs // 40)
    environment = {**os.environ, "RPD_FUZZ_EXAMPLES": str(examples)}
    command = [sys.executable, "-m", "pytest", "-q", str(Path(__file__).with_name("test_hostile_imports.py"))]
    subprocess.run(command, env=environment, check=True)
    print(f"fuzz, Hypothesis: 4 properties of {examples} examples each; none failed", flush=True)


def _fuzz(folder: str, seed: int, inputs: int) -> tuple[Counter[str], int, int]:
    own = Path(folder) / f"seed-{seed}"
    own.mkdir()
    led = Led(own, seed)
    try:
        led.run(
            inputs, lambda done: None if done % 2500 else print(f"seed {seed}: {done} inputs", flush=True)
        )
    except BaseException:
        for failing in own.glob("failing*"):
            kept = Path(tempfile.gettempdir()) / failing.name
            kept.write_bytes(failing.read_bytes())
            print(f"the input that failed: {kept}", flush=True)
        raise
    return led.outcomes, len(led.kept), len(led.reached)


def main() -> None:
    """Runs what is named on the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("what", nargs="*", choices=["kills", "clients", "fuzz", []], default=[])
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--of", default=",".join(WORK), help="kinds of work to kill, parted by commas")
    parser.add_argument(
        "--on", choices=["sqlite", "postgres"], default=None, help="kill on this database alone"
    )
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--inputs", type=int, default=100_000)
    given = parser.parse_args()
    chosen = given.what or ["kills", "clients", "fuzz"]
    if "clients" in chosen:
        clients(given.seconds)
    if "kills" in chosen:
        kills(given.kills, given.of.split(","), [given.on] if given.on else [])
    if "fuzz" in chosen:
        fuzz(given.inputs)


if __name__ == "__main__":
    main()
