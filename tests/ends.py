"""A text that sends a reader round for ever is told from one that is read on a slow machine."""

import time
from collections.abc import Iterator
from contextlib import contextmanager

# Reading any of these texts takes well under a second; patterns that try every way of cutting one take hours.
SECONDS = 60.0


@contextmanager
def ends_soon() -> Iterator[None]:
    """Fails where what is inside takes more than a minute of processor time (s)."""
    start = time.process_time()
    yield
    assert time.process_time() - start < SECONDS
