"""What is wrong with a file, so that a person can mend it: place, field, found, allowed, hint."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import Any

MOST_PROBLEMS = 50
_LONGEST_FOUND = 80


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong.

    ``at`` is ``file:line:column`` (1-based; the file alone where there is no line), ``field`` the path in
    the document (``abutments[14].crown_height_mm``; empty for the document itself), ``found`` what stands
    there and ``allowed`` what may stand there; ``hint`` is a suggestion, or empty.
    """

    at: str
    field: str
    found: str
    allowed: str
    hint: str = ""

    def __str__(self) -> str:
        field = f" {self.field}:" if self.field else ""
        hint = f" ({self.hint})" if self.hint else ""
        return f"{self.at}:{field} found {self.found}; allowed {self.allowed}{hint}"

    def document(self) -> dict[str, str]:
        """As an entry of ``error`` in the result format."""
        entry = {"at": self.at, "field": self.field, "found": self.found, "allowed": self.allowed}
        if self.hint:
            entry["hint"] = self.hint
        return entry


class CaseError(Exception):
    """A case (or another file of the project) that cannot be used, with everything that is wrong with it.

    ``case`` is the case's id where it could be read, else the file's name.
    """

    def __init__(self, problems: Sequence[Problem], case: str = "") -> None:
        self.case = case
        shown = list(problems[:MOST_PROBLEMS])
        if len(problems) > MOST_PROBLEMS:
            last = problems[MOST_PROBLEMS]
            shown.append(
                replace(last, hint=f"and {len(problems) - MOST_PROBLEMS - 1} more problems after this")
            )
        self.problems: tuple[Problem, ...] = tuple(shown)
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def document(self) -> dict[str, Any]:
        """The error document of the result format, version 1."""
        return {"format": 1, "case": self.case, "error": [problem.document() for problem in self.problems]}


def shown(value: object) -> str:
    """A value as it is quoted in a message: short, on one line, without control characters."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return f"a mapping of {len(value)} entries" if value else "an empty mapping"
    if isinstance(value, list):
        if value and len(value) <= 16 and all(isinstance(item, (int, float, str)) for item in value):
            text = "[" + ", ".join(str(item) for item in value) + "]"
        else:
            return f"a list of {len(value)} entries" if value else "an empty list"
    else:
        text = str(value) if value != "" else '""'
    text = "".join(letter if letter.isprintable() else "�" for letter in text[: 4 * _LONGEST_FOUND])
    return text if len(text) <= _LONGEST_FOUND else text[: _LONGEST_FOUND - 1] + "…"


def did_you_mean(word: object, known: Sequence[str]) -> str:
    """``did you mean "…"?`` for a word that is close to a known one, else an empty string."""
    if not isinstance(word, str) or not word or len(word) > 60:
        return ""
    tried = word.strip().lower().replace("-", "_").replace(" ", "_")
    close = get_close_matches(tried, known, n=1, cutoff=0.6)
    return f'did you mean "{close[0]}"?' if close else ""
