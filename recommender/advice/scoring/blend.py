"""Precedent evidence: what the most alike stored situations say for each option, and how much it counts.

``P(o) = 50 + 50·Σ aᵢ·cᵢ(o)·vᵢ / (λ + Σ aᵢ)`` over the k nearest, ``w = n / (n + κ)`` with ``n = Σ aᵢ``. Likeness
``a`` is that of ``recommender.precedents``; ``c`` is 1 for the same option and the family's share for a related
one; ``v`` (-1 to 1) says how the precedent fared. λ, κ and k stand in ``shared/scoring.yaml``.

Worked example: two neighbours of likeness 0.8 that chose the option, worth 1.0 and -0.5, λ = 2:
``P = 50 + 50·(0.8 - 0.4) / (2 + 1.6) = 55.6``.

Bounds. While the query has gaps of share ``u``, recording them could raise any likeness by at most ``u`` and
lower none. So every stored situation whose likeness reaches the k-th one less ``u`` might speak, with a
likeness anywhere up to its ceiling; the bounds take the best and the worst k of those. Where there are too many
to list, every one of the k is taken to be as good (or as bad) for the option as any stored situation is.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import fsum
from typing import Protocol

from recommender.knowledge.model import ScoringFigures
from recommender.precedents.model import Neighbour, Situation, Voice

Credit = Callable[[str, str], float]


@dataclass(frozen=True, slots=True)
class Vote:
    """A stored situation that may speak: its likeness now, and the most that filling gaps could make of it."""

    situation: Situation
    likeness: float
    ceiling: float


class Possible(Protocol):
    """Who may speak once gaps are filled; asked only when bounds are wanted."""

    @property
    def pulls(self) -> Mapping[str, Sequence[float]]:
        """Ceiling times worth of every precedent that has a worth, by what it chose."""
        ...

    @property
    def worths(self) -> Mapping[str, tuple[float, float]] | None:
        """Least and greatest worth of each choice where precedents are too many to list; else ``None``."""
        ...


@dataclass(frozen=True, slots=True)
class Votes:
    """Votes one by one."""

    each: Sequence[Vote]
    worths: Mapping[str, tuple[float, float]] | None = None

    @property
    def pulls(self) -> Mapping[str, Sequence[float]]:
        """Ceiling times worth, by what was chosen."""
        by_choice: dict[str, list[float]] = {}
        for vote in self.each:
            pull = vote.ceiling * vote.situation.worth
            if pull:
                by_choice.setdefault(vote.situation.choice or "", []).append(pull)
        return by_choice


@dataclass(frozen=True)
class Evidence:
    """The precedents of one decision."""

    voices: Sequence[Voice]
    heard: Callable[[], tuple[Neighbour, ...]]
    possible: Possible
    open_share: float
    figures: ScoringFigures
    credit: Credit
    may_fall: float = 0.0

    @classmethod
    def of(
        cls,
        neighbours: Sequence[Neighbour],
        possible: Possible,
        open_share: float,
        figures: ScoringFigures,
        credit: Credit,
    ) -> "Evidence":
        """These neighbours heard."""
        voices = [(each.situation.choice, each.situation.worth, each.likeness) for each in neighbours]
        return cls(voices, lambda: tuple(neighbours), possible, open_share, figures, credit)

    @cached_property
    def neighbours(self) -> tuple[Neighbour, ...]:
        """The precedents one by one: read when an explanation asks for them, a score needs only their voices."""
        return self.heard()

    @cached_property
    def _least_total(self) -> float:
        """``n_eff`` were every interval settled in the unlikest way."""
        return max(self.total - len(self.voices) * self.may_fall, 0.0)

    @cached_property
    def total(self) -> float:
        """``n_eff``: the sum of the likenesses of the neighbours."""
        return fsum(likeness for _, _, likeness in self.voices)

    @property
    def weight(self) -> float:
        """``w``, one number for the decision."""
        return weight_of(self.total, self.figures)

    @property
    def weight_bounds(self) -> tuple[float, float]:
        """``w`` now (gaps can only lower it; settling an interval may lower it too) and with every gap filled in the
        likest way."""
        most = min(self.total + len(self.voices) * self.open_share, float(len(self.voices)))
        return weight_of(self._least_total, self.figures), weight_of(max(most, self.total), self.figures)

    @property
    def _scale(self) -> float:
        return 50.0 / (self.figures.lambda_ + self.total)

    def shares(self, option: str) -> list[tuple[Neighbour, float]]:
        """Each neighbour that speaks for or against the option, with its part of ``P - 50``."""
        spoken = []
        for neighbour in self.neighbours:
            stored = neighbour.situation
            said = self.credit(option, stored.choice or "") * stored.worth
            if said:
                spoken.append((neighbour, self._scale * neighbour.likeness * said))
        return spoken

    @cached_property
    def _pulls_by_choice(self) -> dict[str, list[tuple[float, float]]]:
        """The most that each neighbour may say, and its worth, by what it chose."""
        found: dict[str, list[tuple[float, float]]] = {}
        for choice, worth, likeness in self.voices:
            found.setdefault(choice or "", []).append((self._scale * likeness, worth))
        return found

    def opinion(self, option: str) -> float:
        """``P(o)``, the sum of the shares and 50; 50 without precedents."""
        points: list[float] = []
        for choice, pulls in self._pulls_by_choice.items():
            credit = self.credit(option, choice)
            if credit:
                points += [most * (credit * worth) for most, worth in pulls]
        return 50.0 + fsum(points)

    def opinion_bounds(self, option: str) -> tuple[float, float]:
        """The least and the greatest ``P(o)`` that filling the gaps of this case could bring."""
        now = self.opinion(option)
        if not self.voices or (self.open_share <= 0 and self.may_fall <= 0):
            return now, now
        retrieved = len(self.voices)
        lam = self.figures.lambda_
        worths = self.possible.worths
        if worths is not None:
            said = [self.credit(option, choice) * worth for choice, ends in worths.items() for worth in ends]
            speak_for = retrieved * max(0.0, *said)
            speak_against = -retrieved * min(0.0, *said)
        else:
            reach = self._reach(option)
            speak_for = fsum(sorted((r for r in reach if r > 0), reverse=True)[:retrieved])
            speak_against = -fsum(sorted(r for r in reach if r < 0)[:retrieved])
        high = 50.0 + 50.0 * speak_for / (lam + max(speak_for, self._least_total))
        low = 50.0 - 50.0 * speak_against / (lam + max(speak_against, self._least_total))
        return min(low, now), max(high, now)

    def _reach(self, option: str) -> list[float]:
        """The furthest that each precedent could pull for this option; only choices that speak of it are looked at."""
        found: list[float] = []
        for choice, pulls in self._pulls.items():
            said = self.credit(option, choice)
            if said:
                found += [said * pull for pull in pulls]
        return found

    @cached_property
    def _pulls(self) -> dict[str, Sequence[float]]:
        """Ceiling times worth of every precedent, by what it chose; only the strongest k each way can matter."""
        k = len(self.voices)
        return {
            choice: pulls if len(pulls) <= 2 * k else (ordered := sorted(pulls))[:k] + ordered[-k:]
            for choice, pulls in self.possible.pulls.items()
        }


def weight_of(total: float, figures: ScoringFigures) -> float:
    """``w = n / (n + κ)``; 0 without precedents."""
    return total / (total + figures.kappa) if total > 0 else 0.0


def blended_bounds(
    rules: tuple[float, float], precedents: tuple[float, float], weight: tuple[float, float]
) -> tuple[float, float]:
    """Bounds of ``(1 - w)·R + w·P``: it is linear in each, so its extremes lie at the ends."""
    lows = [(1 - w) * rules[0] + w * precedents[0] for w in weight]
    highs = [(1 - w) * rules[1] + w * precedents[1] for w in weight]
    return min(lows), max(highs)
