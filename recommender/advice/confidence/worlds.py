"""Plausible worlds: for each field that was not recorded, a value in each world, from one joint distribution.

Fields form trees (``plausible``), so what is recorded moves what is plausible for everything that hangs on it
exactly: weights go up from the recorded fields to their parents, values are drawn down from the roots (forward
filtering, backward sampling; Pearl 1988, *Probabilistic Reasoning in Intelligent Systems*).

Lots are fixed: they depend on the field and nothing else, so the same case gives the same worlds, whatever the order
of its lists. Each field's lots are spread evenly over 0 to 1 (Latin hypercube; McKay, Beckman and Conover 1979,
Technometrics 21:239). Worlds come in halves: in the second half the left side has the lots that the right side had
in the first, so that a mirrored case has the same worlds in another order.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import Any

import numpy as np
import numpy.typing as npt

from recommender.advice.confidence.plausible import HIDDEN, Entry, Plausible, normal_pieces, plausible
from recommender.advice.confidence.told import TOOTH, Told, parent_of
from recommender.domain.dentition import mirror
from recommender.domain.measures import Interval
from recommender.facts.derive import CaseFacts
from recommender.mechanics.teeth import tooth_size

Codes = npt.NDArray[np.intp]
_SIGNED = "records.tilt_lateral_deg"
_MOST_KEPT = 6000


@dataclass(frozen=True, slots=True)
class Drawn:
    """A field in every world: ``values[codes[w]]`` in world ``w``. ``share[i]`` is the probability of ``values[i]``
    given what is recorded."""

    path: str
    values: tuple[Any, ...]
    codes: Codes
    share: npt.NDArray[np.float64]
    entry: Entry | None


@lru_cache(maxsize=8192)
def lots(key: str, half: int) -> npt.NDArray[np.float64]:
    """Numbers from 0 to 1 for one half of the worlds, one in each of ``half`` equal pieces, in fixed order."""
    seed = int.from_bytes(hashlib.blake2b(key.encode(), digest_size=16).digest(), "little")
    chance = np.random.Generator(np.random.Philox(key=seed))
    spread: npt.NDArray[np.float64] = (chance.permutation(half) + chance.random(half)) / half
    spread.setflags(write=False)
    return spread


# Draws by what they depend on, from case to case: a field that nothing recorded bears on has the same worlds in every
# case. Each keeps alive what its key tells by identity.
_KEPT: dict[tuple[object, ...], tuple[Codes, npt.NDArray[np.float64], object]] = {}


class Worlds:
    """The worlds of one case. Fields are drawn when they are first asked for.

    ``count`` is the number of worlds (even); ``salt`` gives fresh lots, for figures that must not be read off the
    worlds that they were chosen on.
    """

    def __init__(
        self, facts: CaseFacts, count: int | None = None, salt: str = "", known: Plausible | None = None
    ) -> None:
        self.known = known or plausible()
        wanted = self.known.standing.worlds if count is None else count
        if wanted < 2 or wanted % 2:
            raise ValueError(f"an even number of worlds, found {wanted}")
        self.facts = facts
        self.case = facts.case
        self.count = wanted
        self.salt = salt
        self._drawn: dict[str, Drawn | None] = {}
        self._told = Told(facts, self.known)

    def draw(self, path: str) -> Drawn | None:
        """A field in every world; ``None`` for one of which nothing plausible is known."""
        if path not in self._drawn:
            self._drawn[path] = self._draw(path)
        return self._drawn[path]

    def drawn(self) -> Mapping[str, Drawn | None]:
        """The fields of a case asked for so far."""
        return {path: drawn for path, drawn in self._drawn.items() if not path.startswith(HIDDEN)}

    def share(self, path: str) -> dict[Any, float]:
        """What an unrecorded field may be, with its probability given all that is recorded."""
        drawn = self.draw(path)
        if drawn is None:
            return {}
        return {_hashable(value): float(p) for value, p in zip(drawn.values, drawn.share, strict=True)}

    def lots(self, path: str) -> npt.NDArray[np.float64]:
        """The lots of a field, shape ``(worlds,)``."""
        key, turned = self._key(path)
        half = self.count // 2
        if turned is None:
            one = lots(self.salt + key, half)
            return np.concatenate((one, one))
        first, second = lots(f"{self.salt}{key} 1", half), lots(f"{self.salt}{key} 2", half)
        return np.concatenate((second, first) if turned else (first, second))

    def _draw(self, path: str) -> Drawn | None:
        recorded = None if path.startswith("future_loss_likely[") else self._told.recorded(path)
        if isinstance(recorded, Interval):
            return self._within(path, recorded)
        entry = self._told.entry(path)
        if entry is None:
            return None
        weight = self._told.weight(path, entry)
        rows, mix, above = self._rows(path, entry)
        name, turned = self._key(path)
        told = None if weight is None else weight.tobytes()
        hangs_on = rows if above is None else (id(above.codes), id(above.share), rows.tobytes())
        key = (self.salt, self.count, name, turned, id(entry), told, hangs_on)
        kept = _KEPT.get(key)
        if kept is None:
            if len(_KEPT) > _MOST_KEPT:
                _KEPT.clear()
            codes, share = self._coded(path, entry, weight, rows if above is None else rows[above.codes], mix)
            kept = _KEPT[key] = codes, share, (entry, above)
        return Drawn(path, self._values(path, entry), kept[0], kept[1], entry)

    def _coded(
        self, path: str, entry: Entry, weight: Any, rows: Any, mix: Any
    ) -> tuple[Codes, npt.NDArray[np.float64]]:
        """Which value a field has in each world, and the probability of each value."""
        table = entry.table
        if weight is not None:
            table = table * weight
            table = table / np.maximum(table.sum(axis=1, keepdims=True), 1e-300)
        u = self.lots(path)
        edges = np.cumsum(table, axis=1)[:, :-1]
        one = isinstance(rows, int)
        codes = np.searchsorted(edges[rows], u) if one else (u[:, None] > edges[rows]).sum(axis=1)
        if path == _SIGNED:
            half = self.count // 2
            codes[half:] = len(entry.values) - 1 - codes[half:]
        return codes, mix @ table

    def _rows(self, path: str, entry: Entry) -> tuple[Any, Any, Drawn | None]:
        """The row of the entry's table, and the probability of each row; where an unrecorded field is above it, the
        row of each of that field's values, and the field."""
        size = len(entry.table)
        parent = parent_of(path, entry)
        if parent is None:
            return 0, np.eye(1, size)[0], None
        answer = self._told.recorded(parent)
        if answer is not None:
            row = entry.row(answer.value if isinstance(answer, Interval) else answer)
            return row, np.eye(size)[row], None
        above = self.draw(parent)
        if above is None:
            raise ValueError(f"{path} hangs on {parent}, of which nothing is known here")
        of_value = np.array([entry.row(value) for value in above.values])
        mix = np.bincount(of_value, weights=above.share, minlength=size)
        return of_value, mix, above

    def _within(self, path: str, recorded: Interval) -> Drawn:
        """A measured interval: a normal curve on each side of its value, cut off at its ends."""
        how = self.known.standing.interval
        pieces = how.pieces
        values: list[float] = []
        z = NormalDist().inv_cdf(0.5 + how.share / 2)
        for low, high, count in (
            (recorded.low, recorded.value, pieces // 2),
            (recorded.value, recorded.high, pieces - pieces // 2),
        ):
            if high > low:
                away = (high - low) / z
                middle = recorded.value
                values += normal_pieces(middle, away, low, high, count)
            else:
                values += [recorded.value] * count
        ordered = sorted(values)
        u = self.lots(path)
        codes = np.minimum((u * len(ordered)).astype(np.intp), len(ordered) - 1)
        return Drawn(path, tuple(ordered), codes, np.full(len(ordered), 1 / len(ordered)), None)

    def _values(self, path: str, entry: Entry) -> tuple[Any, ...]:
        if entry.relative_to is None:
            return entry.values
        found = TOOTH.search(path)
        space = self.facts.space_of(int(found[1])) if found else None
        teeth = space.teeth if space else ()
        if entry.relative_to == "teeth":
            return tuple(max(1, len(teeth) + int(value)) for value in entry.values)
        width = sum(tooth_size(min(t, mirror(t))).mesiodistal_mm for t in teeth)
        return tuple(round(width * float(value), 1) for value in entry.values)

    def _key(self, path: str) -> tuple[str, bool | None]:
        """The field with its teeth on the side that comes first, and whether it was turned; ``None`` for a field of
        neither side."""
        teeth = [int(number) for number in TOOTH.findall(path)]
        if not teeth:
            return path, None
        if path.startswith("spans[") and len(teeth) == 1:
            space = self.facts.space_of(teeth[0])
            here = tuple(sorted(space.teeth)) if space else (teeth[0],)
            there = tuple(sorted(mirror(t) for t in here))
            name = TOOTH.sub(str(min(here, there)), path)
            return name, None if here == there else here > there
        tooth = teeth[-1]
        first = min(tooth, mirror(tooth))
        return f"{TOOTH.sub('[]', path)} {first}", tooth != first


def _hashable(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value
