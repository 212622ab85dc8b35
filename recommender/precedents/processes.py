"""Work shared among processes that end with the one that started them, however that one ends."""

import gc
import multiprocessing
import os
import signal
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from itertools import islice
from typing import TypeVar

_Thing = TypeVar("_Thing")
_Made = TypeVar("_Made")
_BETWEEN_COLLECTIONS = 50_000  # objects made
_PAUSE = 0.5  # seconds between two looks at whether the parent is still there


def batched(things: Iterable[_Thing], size: int) -> Iterator[list[_Thing]]:
    """Lists of at most ``size`` things."""
    source = iter(things)
    while batch := list(islice(source, size)):
        yield batch


def end_with_parent() -> None:
    """Lets this process end soon after the one that started it, also where that one was killed and said nothing."""
    parent = os.getppid()

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(_PAUSE)
        os._exit(1)

    threading.Thread(target=watch, name="parent", daemon=True).start()


def _begin() -> None:
    # the parent is told to stop, and stops its children
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    end_with_parent()
    # what came along is shared with the parent and lasts; what is made here rarely goes round in circles
    gc.freeze()
    gc.set_threshold(_BETWEEN_COLLECTIONS)


def _context() -> multiprocessing.context.BaseContext:
    alone = threading.active_count() == 1 and sys.platform == "linux"
    return multiprocessing.get_context("fork" if alone else "spawn")


def shared_out(work: Callable[[_Thing], _Made], things: Iterable[_Thing], jobs: int) -> Iterator[_Made]:
    """``work`` of each thing, in order, done by ``jobs`` processes; few are on their way at a time, so that memory does
    not grow with them. With one job everything is done here. A stop half-way ends the processes at once, whatever they
    are at: ``work`` only reads."""
    if jobs == 1:
        yield from map(work, things)
        return
    waiting: deque[Future[_Made]] = deque()
    pool = ProcessPoolExecutor(jobs, mp_context=_context(), initializer=_begin)
    ended = False
    try:
        for thing in things:
            waiting.append(pool.submit(work, thing))
            if len(waiting) > 2 * jobs:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
        ended = True
    finally:
        if not ended:
            for process in list((getattr(pool, "_processes", None) or {}).values()):
                process.kill()
        pool.shutdown(wait=True, cancel_futures=True)
