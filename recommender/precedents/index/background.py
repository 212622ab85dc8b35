"""Writing the index of a library in a process of its own, while the screens go on.

``start(where)`` starts ``python -m recommender.precedents.index.background``. The address goes through the
environment, as it may hold a password, which other users of the machine must not read in the list of processes.
"""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING

from recommender.precedents.processes import end_with_parent
from recommender.precedents.store.opening import ENVIRONMENT

if TYPE_CHECKING:
    from recommender.precedents.index.serving import Indexed

_PAUSE = 0.3  # seconds


def start(where: str) -> "subprocess.Popen[bytes]":
    """Start to bring the index of the library at ``where`` up to date; ``serving.progress`` tells how far it is."""
    quiet = subprocess.DEVNULL
    return subprocess.Popen(
        [sys.executable, "-m", "recommender.precedents.index.background"],
        env={**os.environ, ENVIRONMENT: where},
        stdin=quiet,
        stdout=quiet,
        stderr=quiet,
    )


def until_kept(where: str, source: "Indexed") -> Iterator[tuple[int, int]]:
    """Have the index of a large library written where there is none to start from, and tell (done, of) until it is.

    Ends at once where the index fits or only few cases have to be read, and also where it could not be written.
    """
    from recommender.precedents.index import serving

    if serving.standing(source)[1] < serving.KEPT_FROM:
        return
    process = start(where)
    while process.poll() is None or serving.progress(source) is not None:
        yield serving.progress(source) or (0, source.count())
        time.sleep(_PAUSE)


def main() -> int:
    """Bring the index of the configured library up to date, giving way to other programs."""
    from recommender.domain.errors import CaseError
    from recommender.precedents.index import serving
    from recommender.precedents.index.locking import FolderLockedError
    from recommender.precedents.store.errors import LibraryError
    from recommender.precedents.store.opening import open_library

    end_with_parent()
    if hasattr(os, "nice"):
        os.nice(5)
    try:
        source = open_library(None)
        if isinstance(source, serving.Indexed):
            serving.keep_up(source)
    except FolderLockedError:
        return 0  # somebody else is at it
    except (LibraryError, CaseError, OSError) as error:
        sys.stderr.write(f"{error}\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
