"""Results of a long run kept as they come, so that it can be broken off and taken up again."""

import json
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

Result = dict[str, Any]


class Kept:
    """Results by name, one JSON line each in ``folder/PART.jsonl``; without a folder in memory only.

    They count for the code that made them: take a new folder after changing it. ``others`` are parts whose results
    say as much and more.
    """

    def __init__(self, folder: Path | None, part: str, minutes: float, others: Iterable[str] = ()) -> None:
        self._file = None if folder is None else folder / f"{part}.jsonl"
        self._end = time.monotonic() + 60 * minutes
        self._known: dict[str, Result] = {}
        if folder is not None:
            folder.mkdir(parents=True, exist_ok=True)
            for file in (folder / f"{name}.jsonl" for name in (part, *others)):
                lines = file.read_text().splitlines() if file.exists() else []
                self._known.update({line["name"]: line for line in map(json.loads, lines)})

    def all_of(self, names: Iterable[str], work: Callable[[str], Result]) -> tuple[list[Result], int]:
        """The results of ``work`` by name, and how many are still missing when the time is over."""
        found, missing = [], 0
        for name in names:
            if name not in self._known and time.monotonic() > self._end:
                missing += 1
                continue
            if name not in self._known:
                self._known[name] = {"name": name, **work(name)}
                if self._file is not None:
                    with self._file.open("a") as file:
                        file.write(json.dumps(self._known[name]) + "\n")
            found.append(self._known[name])
        return found, missing
