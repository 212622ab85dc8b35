"""The spaces of an arch, and the Kennedy class that follows from them.

Kennedy E. Partial denture construction. Dental Items of Interest, 1928; Applegate OC. The rationale of
partial denture choice. J Prosthet Dent 1960;10:891-907 (the eight rules, from memory).

Words used here: a tooth is *gone* when it is in ``missing``, ``absent`` or ``planned_extractions``. A *gap*
is a run of gone teeth along the arch, and every gap that holds a tooth to be replaced is one *space*: a tooth
that is absent between two missing ones leaves no standing tooth between them, so they share a space whether
or not the absent tooth's own room has closed. A gap of absent teeth alone is not counted. A gap that reaches
the end of the arch is an extension, also when nothing but absent teeth lies behind the missing ones.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, is_anterior, position, side_of
from recommender.domain.statement import Statement

Support = Literal["tooth", "extension"]


@dataclass(frozen=True, slots=True)
class Space:
    """One edentulous space that is being restored.

    ``teeth`` are the teeth to be replaced, in arch order, ``absent`` the gone teeth of the same gap that are
    not. ``borders`` are the standing, usable teeth at its ends, in arch order (two, or one for an extension).
    ``front`` and ``rear`` name the same teeth as seen from the space: an extension has only a front border; a
    bounded space that crosses the midline has two borders that both stand behind it, so both are ``None``.
    """

    teeth: tuple[int, ...]
    absent: tuple[int, ...]
    support: Support
    borders: tuple[int, ...]
    front: int | None
    rear: int | None
    crosses_midline: bool
    anterior: bool

    @property
    def name(self) -> int:
        """The first tooth in arch order, by which paths and keys name the space."""
        return self.teeth[0]

    @property
    def sides(self) -> frozenset[str]:
        """The sides of the arch on which it has teeth to be replaced."""
        return frozenset(side_of(tooth) for tooth in self.teeth)


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the classification.

    ``rule`` is the number of Applegate's rule that decided it, ``None`` where a convention of the case
    format did.
    """

    rule: int | None
    statement: Statement
    teeth: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """Something to ask: the field that would settle it, and the class if the answer were the other one."""

    field: str
    statement: Statement
    otherwise: str


def gaps(arch: str, gone: Collection[int]) -> Iterator[tuple[tuple[int, ...], int | None, int | None]]:
    """Each run of gone teeth in arch order, with the tooth before it and the tooth after it (or ``None``)."""
    before: int | None = None
    run: list[int] = []
    for tooth in ARCH_ORDER[arch]:
        if tooth in gone:
            run.append(tooth)
            continue
        if run:
            yield tuple(run), before, tooth
            run = []
        before = tooth
    if run:
        yield tuple(run), before, None


def arch_spaces(arch: str, missing: Collection[int], gone: Collection[int]) -> tuple[Space, ...]:
    """The spaces of an arch from plain sets: ``missing`` to be replaced, ``gone`` all that bounds nothing."""
    return _arch_spaces(arch, frozenset(missing), frozenset(gone))


@lru_cache(maxsize=4096)  # dentitions recur, within a case and from case to case
def _arch_spaces(arch: str, missing: frozenset[int], gone: frozenset[int]) -> tuple[Space, ...]:
    return tuple(
        _space(tuple(t for t in run if t in missing), run, before, after)
        for run, before, after in gaps(arch, gone)
        if any(tooth in missing for tooth in run)
    )


def _space(teeth: tuple[int, ...], run: tuple[int, ...], before: int | None, after: int | None) -> Space:
    borders = tuple(tooth for tooth in (before, after) if tooth is not None)
    crosses = side_of(teeth[0]) != side_of(teeth[-1])
    front: int | None = None
    rear: int | None = None
    if len(borders) == 1:
        front = borders[0]
    elif len(borders) == 2 and not crosses:
        # In arch order the right side runs from back to front, the left side from front to back.
        rear, front = borders if side_of(teeth[0]) == "right" else reversed(borders)
    return Space(
        teeth=teeth,
        absent=tuple(tooth for tooth in run if tooth not in teeth),
        support="tooth" if len(borders) == 2 else "extension",
        borders=borders,
        front=front,
        rear=rear,
        crosses_midline=crosses,
        anterior=any(is_anterior(tooth) for tooth in teeth),
    )


def kennedy_class(spaces: Collection[Space]) -> tuple[str | None, int]:
    """Class and number of modifications from the spaces alone; ``(None, 0)`` without spaces or borders."""
    if not spaces or any(not space.borders for space in spaces):
        return None, 0
    extensions = sum(space.support == "extension" for space in spaces)
    if extensions == 2:
        return "I", len(spaces) - 2
    if extensions == 1:
        return "II", len(spaces) - 1
    if len(spaces) == 1 and next(iter(spaces)).crosses_midline:
        return "IV", 0
    return "III", len(spaces) - 1


def label(number: str | None, modifications: int) -> str:
    """``Class II, modification 1``; ``no class`` without a number."""
    if number is None:
        return "no class"
    return f"Class {number}, modification {modifications}" if modifications else f"Class {number}"


def gone_teeth(case: Case) -> frozenset[int]:
    """Every tooth that does not stand (planned extractions count as gone)."""
    return frozenset(case.missing) | frozenset(case.absent or ()) | frozenset(case.planned_extractions or ())


def standing_teeth(case: Case) -> tuple[int, ...]:
    """The teeth that stand, in arch order, unused third molars included."""
    gone = gone_teeth(case)
    return tuple(tooth for tooth in ARCH_ORDER[case.arch] if tooth not in gone)


def unused_third_molars(case: Case) -> tuple[int, ...]:
    """Standing third molars that an abutment list was given without: they bound nothing and do not count."""
    if case.abutments is None:
        return ()
    listed = {abutment.tooth for abutment in case.abutments}
    return tuple(t for t in standing_teeth(case) if position(t) == 8 and t not in listed)


def spaces(case: Case) -> tuple[Space, ...]:
    """The spaces of a case that are being restored, in arch order."""
    return arch_spaces(case.arch, frozenset(case.missing), gone_teeth(case) | set(unused_third_molars(case)))
