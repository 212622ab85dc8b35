"""What was found of each case (or house), a JSON line each, so that long work that was stopped goes on where it was."""

import json
from pathlib import Path
from typing import Any


class Kept:
    """Lines of a file, by case; ``None`` for a path keeps nothing.

    ``how`` names what was asked of each case: lines that were kept under another name are passed over. Whoever changes
    rules or figures in between takes another file.
    """

    def __init__(self, path: Path | None, how: str) -> None:
        self.path, self.how = path, how
        self._known: dict[str, Any] = {}
        if path is None or not path.exists():
            return
        whole = path.read_bytes()
        sound = whole[: whole.rfind(b"\n") + 1]
        if sound != whole:  # the last line was cut off
            path.write_bytes(sound)
        for line in sound.splitlines():
            kept = json.loads(line)
            if kept["how"] == how:
                self._known[kept["case"]] = kept["found"]

    def known(self, case: str) -> Any:
        """What was found of a case; ``None`` where it was not asked yet."""
        return self._known.get(case)

    def keep(self, case: str, found: Any) -> None:
        """Writes what was found of a case."""
        self._known[case] = found
        if self.path is not None:
            with self.path.open("a", encoding="utf-8") as file:
                file.write(json.dumps({"how": self.how, "case": case, "found": found}) + "\n")
