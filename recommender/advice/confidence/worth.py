"""What it is worth to ask: the value of perfect information, field by field and as a set.

The value of a field is the mean, over what it could be, of the acceptability that the best choice would have then, less
that of the best choice now (expected value of perfect partial information; Raiffa and Schlaifer 1961, *Applied
Statistical Decision Theory*). Choosing and judging on the same worlds would flatter every field, so the choice is made
on one part of the worlds and judged on the other, and the other way round. Values of sets are not sums: a set is
judged by a regression of each choice's standing on the answers, fitted on one part and judged on the other.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import numpy.typing as npt

from recommender.knowledge.figures.plausible import AskFigures

Flags = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Codes = npt.NDArray[np.intp]
Coded = Callable[[str], tuple[Codes, tuple[Any, ...]]]
_RIDGE = 1.0


@dataclass(frozen=True, slots=True)
class Ask:
    """A field worth asking. ``worth`` is its value by itself, ``adds`` what it adds to those named before it."""

    field: str
    worth: float
    adds: float


@dataclass(frozen=True, slots=True)
class Rare:
    """An answer to a field, and the worlds in which it is so."""

    field: str
    value: Any
    worlds: Flags


class Worth:
    """``stands`` (``choices, worlds``): where each choice stands; ``coded`` gives the values of a field in each."""

    def __init__(self, stands: Flags, coded: Coded) -> None:
        self.stands = stands.astype(np.float64)
        self.coded = coded
        count = stands.shape[1]
        # Alternate worlds of each mirrored half: both parts have as many worlds of either half.
        part = np.arange(count) % 2 == 0
        self.parts = ((part, ~part), (~part, part))
        self.now = float(self.stands.mean(axis=1).max()) if len(stands) else 0.0
        self._marks: dict[str, Floats] = {}

    def single(self, path: str) -> float:
        """The value of knowing one field; never below zero."""
        codes, values = self.coded(path)
        if len(self.stands) < 2:
            return 0.0
        total = 0.0
        part = _halved(codes)
        marks = _marks(codes, len(values))
        for chosen_on, judged_on in ((part, ~part), (~part, part)):
            first, second = (
                self.stands[:, chosen_on] @ marks[chosen_on],
                self.stands[:, judged_on] @ marks[judged_on],
            )
            seen = marks[chosen_on].sum(axis=0)
            here = self.stands[:, chosen_on]
            whole = here.mean(axis=1, keepdims=True)
            lead = int(np.argmax(whole[:, 0]))
            # A cell with few worlds is drawn toward the whole, and another choice than the one that leads is taken only
            # where it stands more often by more than a standard error of the worlds in which they differ, so that
            # chance does not choose.
            drawn = (first + _RIDGE * whole) / (seen + _RIDGE)
            differ = first + first[lead] - 2 * ((here * here[lead]) @ marks[chosen_on])
            sure = first - first[lead] > np.sqrt(differ)
            sure[lead] = True
            best = np.argmax(np.where(sure, drawn, -1.0), axis=0)
            gained = second[best, np.arange(len(values))].sum() - self.stands[lead, judged_on].sum()
            total += gained
        return float(max(0.0, total / len(codes)))

    def worse_with(self, paths: Iterable[str], least: float, most: int) -> list[Rare]:
        """The answers with which the best choice stands less often than now, by at least ``least`` of all worlds; the
        worst first, ``most`` of them."""
        found: list[tuple[float, str, int]] = []
        for path in paths:
            codes, values = self.coded(path)
            count = np.bincount(codes, minlength=len(values))
            held = np.array([np.bincount(codes, weights=line, minlength=len(values)) for line in self.stands])
            lost = (self.now * count - held.max(axis=0)) / len(codes)
            found += [(-float(lost[place]), path, place) for place in np.flatnonzero(lost >= least).tolist()]
        return [
            Rare(path, self.coded(path)[1][place], self.coded(path)[0] == place)
            for _, path, place in sorted(found)[:most]
        ]

    def several(self, paths: Sequence[str]) -> float:
        """The value of knowing several fields at once, by regression; never below zero."""
        if len(self.stands) < 2 or not paths:
            return 0.0
        marks = np.concatenate(
            [np.ones((self.stands.shape[1], 1)), *(self._mark(path) for path in paths)], axis=1
        )
        total = 0.0
        for chosen_on, judged_on in self.parts:
            fitted_on = marks[chosen_on]
            penalty = _RIDGE * np.eye(marks.shape[1])
            penalty[0, 0] = 1e-9
            weights = np.linalg.solve(
                fitted_on.T @ fitted_on + penalty, fitted_on.T @ self.stands[:, chosen_on].T
            )
            best = np.argmax(marks[judged_on] @ weights, axis=1)
            lead = int(np.argmax(self.stands[:, chosen_on].mean(axis=1)))
            here = self.stands[:, judged_on]
            total += float(here[best, np.arange(len(best))].sum() - here[lead].sum())
        return float(max(0.0, total / self.stands.shape[1]))

    def _mark(self, path: str) -> Floats:
        if path not in self._marks:
            codes, values = self.coded(path)
            marks = _marks(codes, len(values))
            self._marks[path] = marks - marks.mean(axis=0)
        return self._marks[path]

    def ask_next(self, worths: Mapping[str, float], how: AskFigures) -> tuple[Ask, ...]:
        """The few fields that are worth most as a set: the best by itself first, then what adds most, by itself or
        with another; it stops where nothing adds enough."""
        least, most = how.least_worth, how.most
        order = sorted(worths, key=lambda path: (-worths[path], path))
        pool = order[: how.pairs_from]
        chosen: list[Ask] = []
        held = 0.0
        if pool and worths[pool[0]] >= least:
            held = worths[pool[0]]
            chosen.append(Ask(pool[0], held, held))
        while len(chosen) < most:
            names = [ask.field for ask in chosen]
            left = [path for path in pool if path not in names]
            steps: list[tuple[str, ...]] = [(path,) for path in left]
            if len(chosen) + 2 <= most:
                steps += list(combinations(left[:6], 2))
            best: tuple[float, tuple[str, ...]] | None = None
            for step in steps:
                adds = (self.several([*names, *step]) - held) / len(step)
                if best is None or adds > best[0] + 1e-12:
                    best = adds, step
            if best is None or best[0] < least:
                break
            for path in sorted(best[1], key=lambda p: (-worths[p], p)):
                chosen.append(Ask(path, worths[path], best[0]))
            held += best[0] * len(best[1])
        return tuple(chosen)


def _marks(codes: Codes, values: int) -> Floats:
    """1 where a world has a value, else 0 (``worlds, values``)."""
    marks = np.zeros((len(codes), values))
    marks[np.arange(len(codes)), codes] = 1.0
    return marks


def _halved(codes: Codes) -> Flags:
    """Half of the worlds of each value, so that a rare one is not met on one side alone; alike for the mirrored case,
    whose worlds have their halves the other way round."""
    half = len(codes) // 2
    part = np.zeros(len(codes), dtype=bool)
    for start, worlds in enumerate((slice(0, half), slice(half, None))):
        own = codes[worlds]
        order = np.argsort(own, kind="stable")
        _, firsts, counts = np.unique(own[order], return_index=True, return_counts=True)
        rank = np.arange(len(own)) - np.repeat(firsts, counts)
        here = np.zeros(len(own), dtype=bool)
        here[order] = (rank + start) % 2 == 0
        part[worlds] = here
    return part


def worths(worth: Worth, paths: Iterable[str]) -> dict[str, float]:
    """The value of each field by itself."""
    return {path: worth.single(path) for path in paths}
