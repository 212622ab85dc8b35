"""What an import is told to do, and what it tells of every row."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from recommender.domain.errors import Problem
from recommender.precedents.store.errors import LibraryError
from recommender.precedents.store.importing.merging import Change, Decision

Verdict = Literal[
    "new", "changed", "kept", "identical", "near_duplicate", "undecided", "collision", "invalid"
]
VERDICTS: tuple[Verdict, ...] = (
    "new", "changed", "kept", "identical", "near_duplicate", "undecided", "collision", "invalid",
)  # fmt: skip
REFUSED: tuple[Verdict, ...] = ("undecided", "collision", "invalid")
"""Verdicts of rows that are not brought in until somebody has decided or mended something."""


@dataclass(frozen=True, slots=True)
class Report:
    """What would happen, or happened, to one row.

    ``new``: no case of that id is there; ``changed``: something of it is taken over; ``kept``: it says something
    else, and the library's word stands in all of it; ``identical``: it says nothing new; ``near_duplicate``: new,
    but nearly the same as the case ``of``, with that ``overlap`` (0-1); ``undecided``: file and library both changed
    a field; ``collision``: the case of that id is another arch or dentition; ``invalid``. ``changes`` are the
    fields on which file and library differ.
    """

    place: str
    case_id: str | None
    verdict: Verdict
    of: str | None = None
    overlap: float | None = None
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()


@dataclass(slots=True)
class Summary:
    """Counts by verdict; ``written`` is how many cases were added or changed in the library."""

    counts: dict[str, int] = field(default_factory=lambda: dict.fromkeys(VERDICTS, 0))
    written: int = 0
    passed_over: int = 0

    @property
    def rows(self) -> int:
        """How many rows were looked at."""
        return sum(self.counts.values())

    @property
    def refused(self) -> int:
        """How many rows cannot come in as they are."""
        return sum(self.counts[verdict] for verdict in REFUSED)


class ImportRefused(LibraryError):  # noqa: N818
    """All of it was wanted, but some rows are invalid, collide or wait for a decision; nothing was imported."""

    def __init__(self, summary: Summary) -> None:
        self.summary = summary
        what = {
            "invalid": "are invalid",
            "collision": "mean another patient's arch or dentition than the case of that id",
            "undecided": "say what a person has to decide, field by field as shown (--changed keep or take)",
        }
        told = "; ".join(
            f"{summary.counts[verdict]} of {summary.rows} rows {words}"
            for verdict, words in what.items()
            if summary.counts[verdict]
        )
        super().__init__(f"{told}; nothing was imported. Put them right, or import the valid ones only")


@dataclass(frozen=True, slots=True)
class Terms:
    """How to import. A case with a text that may identify a patient comes in as a draft, whatever is wanted.

    ``keep_status``: take over approval as the source states it, where no reviewer of this library has decided;
    otherwise everything comes in as a draft. A change of a case that is approved here always waits for a reviewer.
    ``skip_near``: leave out near-duplicates. ``changed``: whose word stands in a field that the file and the library
    both changed; ``ask`` decides such a case where ``changed`` is ``ask`` (without it, it is not brought in).
    ``named``: those of ``merging.GUARDED`` that the file may take back.
    """

    who: str
    why: str
    keep_status: bool = field(default=False, kw_only=True)
    skip_near: bool = field(default=False, kw_only=True)
    changed: Decision = field(default="ask", kw_only=True)
    ask: Callable[[Report], Decision] | None = field(default=None, kw_only=True)
    named: frozenset[str] = field(default=frozenset(), kw_only=True)

    @property
    def stamp(self) -> str:
        """What tells an import under these terms from one under others, for going on after a stop."""
        return repr((self.keep_status, self.skip_near, self.changed, sorted(self.named)))
