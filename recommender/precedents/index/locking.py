"""One writer at a time in a folder. The lock goes with the process that holds it, however it ends."""

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_PATIENCE = 0.5  # seconds: a process that only looks holds the lock for an instant


class FolderLockedError(Exception):
    """Another process holds the lock."""


@contextmanager
def locked(folder: Path, *, shared: bool = False) -> Iterator[None]:
    """Hold the lock of ``folder`` (``shared``: only keep writers out, together with others who do).

    Raises ``FolderLockedError`` if another process has it, ``OSError`` if the lock file cannot be opened.
    """
    handle = os.open(folder / "lock", os.O_RDWR | os.O_CREAT, 0o666)
    try:
        until = time.monotonic() + (0.0 if shared else _PATIENCE)
        while not _take(handle, shared):
            if time.monotonic() >= until:
                raise FolderLockedError(str(folder))
            time.sleep(0.02)
        yield
    finally:
        os.close(handle)  # closing lets it go


if sys.platform == "win32":
    import msvcrt

    def _take(handle: int, shared: bool) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _take(handle: int, shared: bool) -> bool:
        try:
            fcntl.flock(handle, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
