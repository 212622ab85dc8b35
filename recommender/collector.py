"""Python's collector of circular garbage waits while a case is worked out.

Working a case out makes some ten thousand small values and throws hardly any circle away. The collector counts them and
looks through everything that is loaded, rules and library with it, again and again: a fifth of the time.
"""

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

_lock = Lock()
_waiting = 0
_was_on = False


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
                gc.enable()
