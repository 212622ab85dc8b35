"""A command that is killed leaves no process of its own behind, whatever it was at.

Processes are told apart by a word in their environment, which every child inherits (Linux: ``/proc/PID/environ``).
"""

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from uuid import uuid4

import pytest

from recommender.domain.case import Review
from recommender.precedents.store.databases import create_database
from recommender.precedents.store.importing import rows as incoming
from recommender.precedents.store.importing.batch import Terms, import_all
from tests.store.invented import invented_cases

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not os.environ.get("RPD_LONG"), reason="long form: RPD_LONG=1"),
    pytest.mark.skipif(not Path("/proc/self/environ").exists(), reason="needs /proc"),
]
MARK = "RPD_TEST_FAMILY"
GRACE_SECONDS = 10.0
INDEX = (
    "import sys; from recommender.cli.main import main; "
    "sys.argv[1:] = ['library', 'index', '--anew', '--jobs', '2']; main()"
)
LEAVE_ONE_OUT = (
    "import sys; from recommender.cli.main import main; "
    "sys.argv[1:] = ['evaluate', 'leave-one-out', '--jobs', '2']; main()"
)
BACKGROUND = (
    "import os, time; from recommender.precedents.index import background; "
    "background.start(os.environ['RPD_CASEBOOK_LIBRARY']); time.sleep(60)"
)


def family(name: str) -> list[int]:
    """Living processes that carry that word in their environment."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                if f"{MARK}={name}".encode() in (entry / "environ").read_bytes().split(b"\0"):
                    state = (entry / "stat").read_text().rpartition(")")[2].split()[0]
                    if state != "Z":
                        found.append(int(entry.name))
            except OSError:
                continue  # gone, or somebody else's
    return found


def killed(script: str, library: str, folder: Path, members: int, delay: float) -> tuple[int, list[int]]:
    """Starts a command, kills it alone ``delay`` seconds after it has that many processes, and waits a little.

    Returns how many processes there were at the kill, and those that are still there after the time of grace.
    """
    name = uuid4().hex
    env = {**os.environ, MARK: name, "RPD_CASEBOOK_LIBRARY": library, "XDG_CACHE_HOME": str(folder / "cache")}
    quiet = subprocess.DEVNULL
    parent = subprocess.Popen([sys.executable, "-c", script], env=env, stdout=quiet, stderr=quiet)
    until = time.monotonic() + 60
    while len(family(name)) < members and parent.poll() is None and time.monotonic() < until:
        time.sleep(0.02)
    time.sleep(delay)
    number = len(family(name))
    parent.send_signal(signal.SIGKILL)
    parent.wait()
    until = time.monotonic() + GRACE_SECONDS
    while (left := family(name)) and time.monotonic() < until:
        time.sleep(0.1)
    for pid in left:
        os.kill(pid, signal.SIGKILL)
    return number, left


def library_of(folder: Path, number: int) -> str:
    where = f"sqlite:///{folder / 'cases.db'}"
    drafts = (case.model_copy(update={"review": Review(status="draft")}) for case in invented_cases(number, seed=5))
    with create_database(where) as library:
        import_all(library, (incoming.Row(case.id, case) for case in drafts), Terms("KM", "x"), lambda _: None)
    return where


def test_an_index_in_the_making_ends_with_its_command(tmp_path):
    number, left = killed(INDEX, library_of(tmp_path, 400), tmp_path, 3, 0.2)
    assert number >= 3  # or there was nothing to be left behind
    assert left == []


def test_sixty_kills_leave_no_process(tmp_path):
    where, chance = library_of(tmp_path, 2_000), random.Random(60)
    alive = at_kill = 0
    for _ in range(20):
        for script, members in ((INDEX, 3), (LEAVE_ONE_OUT, 3), (BACKGROUND, 2)):
            number, left = killed(script, where, tmp_path, members, chance.uniform(0, 2.0))
            at_kill += number - 1
            alive += len(left)
    print(f"60 kills, {at_kill} children at the moment of a kill, {alive} alive {GRACE_SECONDS:g} s later")
    assert at_kill >= 60
    assert alive == 0
