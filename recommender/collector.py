"""Python's collector of circular garbage waits while a case is worked out.

Working a case out makes some ten thousand small values and throws few circles away. The collector counts them and looks
through everything that is loaded, rules and library with it, again and again: a quarter of the time. Let go again, it
would at once look through all that was made; so that counts as old, and everything is looked through after so many
blocks instead.
"""

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

EVERY = 32  # blocks between two collections of everything

_lock = Lock()
_waiting = 0
_was_on = False
_blocks = 0


@contextmanager
def waits() -> Iterator[None]:
    """Inside the block nothing is collected; outside it goes on as it did. Several threads may be inside at once."""
    global _waiting, _was_on
    with _lock:
        if _waiting == 0:
            _was_on = gc.isenabled()
            gc.disable()
        _waiting += 1
    try:
        yield
    finally:
        with _lock:
            _waiting -= 1
            if _waiting == 0 and _was_on:
                _go_on()


def _go_on() -> None:
    global _blocks
    _blocks += 1
    gc.freeze()  # there and back: what was made is old now, and nothing is looked through yet
    gc.unfreeze()
    gc.enable()
    if _blocks % EVERY == 0:
        gc.collect()
