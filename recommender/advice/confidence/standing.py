"""Firm, firm if, open: how a choice stands, from the worlds of unrecorded facts.

The limits, and the measurements that a choice never rests on unmeasured, stand in ``shared/plausible/standing.yaml``.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from recommender.advice.confidence.values import Answer, Standing, Taken
from recommender.advice.confidence.worlds import Worlds
from recommender.advice.model import Decision
from recommender.advice.scoring.judge import Judged
from recommender.domain.fields import asked_in_vain
from recommender.knowledge.model import Knowledge

Flags = npt.NDArray[np.bool_]
_EXPECTED_NOISE = 0.7978845608028654  # mean of the absolute value of a standard normal number


def own_place(knowledge: Knowledge, decision: Decision, judged: Judged) -> tuple[str, ...]:
    """Unrecorded fields of the choice's own place: what its tip, rest, crossing or bar needs measured."""
    found: dict[str, None] = {}
    families = knowledge.catalogue.families
    option, scope = judged.option, judged.scope

    def within(name: str) -> set[str]:
        every: set[str] = set()
        at: str | None = name
        while at is not None and at not in every:
            every.add(at)
            at = families[at].is_a if at in families else None
        return every

    kinds = {kind for family in option.families for kind in within(family)}
    for line in knowledge.figures.standing.own_place.get(decision.kind, ()):  # type: ignore[call-overload]
        if line.options is not None and option.id not in line.options:
            continue
        if option.id in line.excepted or (line.family is not None and line.family not in kinds):
            continue
        if line.has == "tip" and option.tip is None:
            continue
        for name in line.facts:
            fact = scope.fact({"tip": "arm.engaged_mm", "seat": "rest.room_mm"}.get(name, name))
            deep = name == "tip" and option.tip is not None and (fact.low or 0.0) >= option.tip.least_mm
            if fact.value is None and not deep:
                found.update(dict.fromkeys(fact.gaps))
    return tuple(found)


class Answers:
    """The drawn fields behind a choice, and where it stands: what each answer would do to it.

    ``stands`` says in which worlds it stands; ``fields`` are those on which it hangs. Fields asked in vain are left
    out: nobody will answer them.
    """

    def __init__(self, worlds: Worlds, stands: Flags, fields: Iterable[str]) -> None:
        self.worlds = worlds
        self.stands = stands
        self.every = tuple(sorted(fields))
        self.fields = tuple(path for path in self.every if not asked_in_vain(worlds.case, path))

    def codes(self, path: str) -> tuple[npt.NDArray[np.intp], tuple[Any, ...]]:
        """The values of a field and which world has which."""
        return coded(self.worlds, path)

    def _weights(self) -> npt.NDArray[np.float64]:
        """Of each field, the share of worlds in which other values than the average one cost the choice its standing,
        beyond what chance alone would show; never below zero."""
        told = [self.codes(path) for path in self.every]
        sizes = np.array([len(values) for _, values in told])
        firsts = np.cumsum(sizes) - sizes
        cells = np.concatenate(
            [codes + first for (codes, _), first in zip(told, firsts.tolist(), strict=True)]
        )
        total = int(sizes.sum())
        count = np.bincount(cells, minlength=total)
        held = np.bincount(cells, weights=np.tile(self.stands, len(told)), minlength=total)
        rate, worlds = float(self.stands.mean()), len(self.stands)
        share, seen = count / worlds, np.maximum(count, 1)
        away = share * np.abs(held / seen - rate)
        noise = share * np.sqrt(rate * (1 - rate) * np.maximum(0.0, 1 / seen - 1 / worlds))
        shift = 0.5 * np.add.reduceat(away - _EXPECTED_NOISE * noise, firsts)
        found: npt.NDArray[np.float64] = np.maximum(0.0, shift)
        return found

    @cached_property
    def telling(self) -> tuple[str, ...]:
        """Fields that could change or forbid the choice, the most telling first."""
        least = self.worlds.known.standing.could_change
        if self.stands.all() or not self.every:
            return ()
        weights = dict(zip(self.every, self._weights().tolist(), strict=True))
        return tuple(sorted((p for p, w in weights.items() if w >= least), key=lambda p: (-weights[p], p)))

    def that_make_it_firm(self, own: Sequence[str]) -> tuple[Answer, ...] | None:
        """A few answers with which the choice would be firm; ``None`` where none do."""
        how = self.worlds.known.standing
        firm, most, hold = how.firm, how.answers, how.answers_hold * len(self.stands)
        if len(own) > most or any(
            path not in self.fields and asked_in_vain(self.worlds.case, path) for path in own
        ):
            return None
        mask = np.ones(len(self.stands), dtype=bool)
        chosen: dict[str, Flags] = {}
        for path in own:
            mask, chosen[path] = self._narrowed(path, mask, hold)
        open_ = [path for path in self.telling if path in self.fields]
        while self._rate(mask) < firm and len(chosen) < most:
            best: tuple[float, str, Flags, Flags] | None = None
            for path in open_:
                if path in chosen:
                    continue
                narrower, values = self._narrowed(path, mask, hold)
                rate = self._rate(narrower)
                if best is None or rate > best[0] + 1e-12:
                    best = rate, path, narrower, values
            if best is None or best[0] <= self._rate(mask) + 1e-12:
                return None
            _, path, mask, chosen[path] = best
        if self._rate(mask) < firm:
            return None
        return tuple(self._told(path, values) for path, values in chosen.items())

    def _rate(self, mask: Flags) -> float:
        return float(self.stands[mask].mean()) if mask.any() else 0.0

    def _narrowed(self, path: str, mask: Flags, hold: float) -> tuple[Flags, Flags]:
        """The worlds whose value of a field is good for the choice, and those values: words each by itself, numbers
        from one on, up or down."""
        codes, values = self.codes(path)
        count = np.bincount(codes[mask], minlength=len(values))
        held = np.bincount(codes[mask], weights=self.stands[mask], minlength=len(values))
        rates = np.where(count > 0, held / np.maximum(count, 1), -1.0)
        if _numbers(values):
            orders = [np.argsort(values, kind="stable"), np.argsort(values, kind="stable")[::-1]]
        else:
            orders = [np.argsort(-rates, kind="stable")]
        best: tuple[float, Flags] | None = None
        for order in orders:
            good = np.zeros(len(values), dtype=bool)
            for place in order.tolist()[:-1]:
                good[place] = True
                if count[good].sum() < hold:
                    continue
                rate = float(held[good].sum() / count[good].sum())
                if (
                    best is None
                    or rate > best[0] + 1e-12
                    or (rate >= best[0] - 1e-12 and count[good].sum() > count[best[1]].sum())
                ):
                    best = rate, good.copy()
        if best is None:
            return mask, np.ones(len(values), dtype=bool)
        return mask & best[1][codes], best[1]

    def _told(self, path: str, good: Flags) -> Answer:
        _, values = self.codes(path)
        kept = [value for value, fits in zip(values, good, strict=True) if fits]
        least = most = None
        if _numbers(values):
            others = [value for value, fits in zip(values, good, strict=True) if not fits]
            if others and min(kept) > max(others):
                least = float(min(kept))
            elif others and max(kept) < min(others):
                most = float(max(kept))
        return Answer(path, tuple(tuple(v) if isinstance(v, list) else v for v in kept), least, most)


def _numbers(values: Sequence[Any]) -> bool:
    return all(isinstance(value, (int, float)) and not isinstance(value, bool) for value in values)


def coded(worlds: Worlds, path: str) -> tuple[npt.NDArray[np.intp], tuple[Any, ...]]:
    """The values of a drawn field and which world has which. The list of teeth likely to be lost counts as one field:
    none, or some."""
    if path == "future_loss_likely":
        lost = np.zeros(worlds.count, dtype=np.intp)
        for name, drawn in worlds.drawn().items():
            if name.startswith("future_loss_likely[") and drawn is not None:
                lost |= np.array([bool(value) for value in drawn.values])[drawn.codes].astype(np.intp)
        return lost, ("none", "some")
    drawn = worlds.draw(path)
    assert drawn is not None
    return drawn.codes, drawn.values


def standing(answers: Answers, own: Sequence[str], firsts: Mapping[str, float], choice: str) -> Standing:
    """The word for a choice. ``firsts``: first-rank acceptability over the unrecorded facts."""
    leader = max(firsts, key=lambda option: (firsts[option], option == choice))
    if firsts[leader] > firsts[choice]:
        return Standing("open", leads=leader)
    if not own and float(answers.stands.mean()) >= answers.worlds.known.standing.firm:
        return Standing("firm")
    found = answers.that_make_it_firm(own)
    return Standing("firm_if", found) if found else Standing("open")


def taken_for_granted(worlds: Worlds, paths: Sequence[str]) -> tuple[Taken, ...]:
    """What is taken for granted of these fields, where there are words for it."""
    found: list[Taken] = []
    for path in paths:
        drawn = worlds.draw(path) if path != "future_loss_likely" else None
        if drawn is None or drawn.entry is None:
            continue
        place = int(np.argmax(drawn.share))
        value = drawn.values[place]
        word = drawn.entry.word(value)
        if word and all(word != each.word for each in found):
            taken = tuple(value) if isinstance(value, list) else value
            found.append(Taken(path, taken, float(drawn.share[place]), word, drawn.entry.own))
    return tuple(found)
