"""Many writers and readers at one library, each in a process of its own."""

import os
import random
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Any

from recommender.precedents.store.checking import faults
from recommender.precedents.store.databases import create_database, open_database
from recommender.precedents.store.errors import LibraryError, StaleEdit
from tests.store.invented import invented_cases

from .harness import FORK

HOT = [f"hot-{number}" for number in range(8)]


@dataclass(frozen=True, slots=True)
class Traffic:
    """What all clients together did, and every error that would have reached a user."""

    saved: int
    stale: int
    added: int
    reads: int
    errors: tuple[str, ...]
    lost: tuple[str, ...]
    slowest: float


def many_clients(where: str, writers: int, readers: int, seconds: float, seed: int = 1) -> Traffic:
    """Writers that edit the same few cases and add new ones, and readers, all at once; then counts what was lost.

    A writer whose case was changed meanwhile is told so (``StaleEdit``) and starts anew, as a user would.
    """
    base = next(iter(invented_cases(1, seed=seed)))
    with create_database(where) as library:
        for name in HOT:
            library.add(base.model_copy(update={"id": name}), who="KM")
    receiving, sending = FORK.Pipe(duplex=False)
    until = time.monotonic() + seconds
    jobs = [(_writer, number) for number in range(writers)] + [(_reader, number) for number in range(readers)]
    processes = [
        FORK.Process(target=_client, args=(job, where, number, until, sending)) for job, number in jobs
    ]
    for process in processes:
        process.start()
    told: list[dict[str, Any]] = [receiving.recv() for _ in processes]
    for process in processes:
        process.join()
    return _account(where, told)


def _account(where: str, told: list[dict[str, Any]]) -> Traffic:
    lost: list[str] = []
    with open_database(where) as library:
        lost += faults(library)
        heads = {head.id: head.revision for head in library.heads()}
        for name in HOT:
            saves = sum(one["saved"].get(name, 0) for one in told)
            if heads[name] != saves + 1:
                lost.append(f"{name}: {saves} saves acknowledged, {heads[name] - 1} there")
        for one in told:
            lost += [f"{name}: added and gone" for name in one["added"] if name not in heads]
    return Traffic(
        sum(sum(one["saved"].values()) for one in told),
        sum(one["stale"] for one in told),
        sum(len(one["added"]) for one in told),
        sum(one["reads"] for one in told),
        tuple(error for one in told for error in one["errors"]),
        tuple(lost),
        max(one["slowest"] for one in told),
    )


def _client(job: Callable[..., None], where: str, number: int, until: float, sending: Connection) -> None:
    told: dict[str, Any] = {"saved": {}, "stale": 0, "added": [], "reads": 0, "errors": [], "slowest": 0.0}
    try:
        job(where, number, until, told)
    except BaseException as error:  # everything counts that would have reached a user
        told["errors"].append(f"{job.__name__} {number}: {type(error).__name__}: {error}")
    sending.send(told)
    os._exit(0)


def _writer(where: str, number: int, until: float, told: dict[str, Any]) -> None:
    chance = random.Random(number)
    with open_database(where, write=True) as library:
        count = 0
        while time.monotonic() < until:
            count += 1
            start = time.monotonic()
            if chance.random() < 0.2:
                name = f"new-{number}-{count}"
                library.add(library.get(HOT[0]).case.model_copy(update={"id": name}), who="KM")
                told["added"].append(name)
            else:
                name = chance.choice(HOT)
                held = library.get(name)
                changed = held.case.model_copy(update={"title": f"writer {number}, edit {count}"})
                try:
                    library.save(changed, opened=held.revision, who=f"W{number}", why="edit")
                    told["saved"][name] = told["saved"].get(name, 0) + 1
                except StaleEdit:
                    told["stale"] += 1
            told["slowest"] = max(told["slowest"], time.monotonic() - start)


def _reader(where: str, number: int, until: float, told: dict[str, Any]) -> None:
    chance = random.Random(1000 + number)
    with open_database(where) as library:
        while not told["reads"] or time.monotonic() < until:  # at least once, however late it comes to it
            start = time.monotonic()
            name = chance.choice(HOT)
            history = library.history(name)
            if [version.revision for version in history] != list(range(1, len(history) + 1)):
                raise LibraryError(f"{name}: a gap in the history")
            if not history[-1].intact or history[-1].case.id != name:
                raise LibraryError(f"{name}: not intact")
            library.heads(status="approved", limit=50)
            told["reads"] += 1
            told["slowest"] = max(told["slowest"], time.monotonic() - start)
