"""Situations as compact rows: encoded one by one as they come, put in order, joined, and read back.

A million situations as Python objects would need gigabytes; here each needs some fifty bytes. Feature values come
back to the fineness of their codes (``shared/similarity.yaml`` names the step of each measured value).
"""

from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.facts.values import Value
from recommender.precedents.model import Situation
from recommender.precedents.search.columns import APPROVED, MAXILLA, OUTCOME, Columns, flags_of, print_words
from recommender.precedents.search.encode import encode_one
from recommender.precedents.search.tables import FeatureSet


class DecodedValues(Mapping[str, Value | None]):
    """The feature values of a row, decoded when they are looked at."""

    __slots__ = ("_codes", "_features", "_places")

    def __init__(self, features: FeatureSet, places: Mapping[str, int], codes: bytes) -> None:
        self._features, self._places, self._codes = features, places, codes

    def __getitem__(self, name: str) -> Value | None:
        place = self._places[name]
        return self._features.weighted[place].feature.decode(self._codes[place])

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._places)

    def __repr__(self) -> str:
        return repr(dict(self))


@dataclass(frozen=True, slots=True)
class StoredRows:
    """Rows as situations. Feature values come back to the fineness of their codes, fingerprints as 32 digits."""

    features: FeatureSet
    columns: Columns
    choices: npt.NDArray[np.int32]
    worths: npt.NDArray[np.float64]
    verdicts: npt.NDArray[np.int32]
    words: tuple[str, ...]
    places: Mapping[str, int]

    def __getitem__(self, row: int, /) -> Situation:
        columns, flags = self.columns, int(self.columns.flags[row])
        values = DecodedValues(self.features, self.places, columns.codes[row].tobytes())
        high, low = columns.prints[row].tolist()
        choice = int(self.choices[row])
        return Situation(
            columns.case_ids[row].decode(), self.features.kind, int(columns.sites[row]),  # type: ignore[arg-type]
            "maxilla" if flags & MAXILLA else "mandible", values, None if choice < 0 else self.words[choice],
            float(self.worths[row]), self.words[int(self.verdicts[row])], bool(flags & APPROVED),
            bool(flags & OUTCOME), f"{high:016x}{low:016x}" if high or low else "",
        )  # fmt: skip

    def fared(self, row: int) -> tuple[str | None, float]:
        """What the row chose, and its worth."""
        choice = int(self.choices[row])
        return None if choice < 0 else self.words[choice], float(self.worths[row])

    def joined(self, keep: npt.NDArray[np.int64], more: Sequence[Situation]) -> "StoredRows":
        """These rows, of which only some are kept, and more situations, in tie order."""
        added = packed(self.features, more)
        words = tuple(dict.fromkeys((*self.words, *added.words)))
        place = {word: number for number, word in enumerate(words)}
        renamed = np.array([place[word] for word in added.words] + [-1], dtype=np.int32)
        one, other = self.columns, added.columns
        return _in_order(
            self.features,
            Columns(
                np.concatenate((one.codes[keep], other.codes)),
                np.concatenate((one.flags[keep], other.flags)),
                np.concatenate((one.prints[keep], other.prints)),
                np.concatenate((one.case_ids[keep], other.case_ids)),
                np.concatenate((one.sites[keep], other.sites)),
            ),
            np.concatenate((self.choices[keep], renamed[added.choices])),
            np.concatenate((self.worths[keep], added.worths)),
            np.concatenate((self.verdicts[keep], renamed[added.verdicts])),
            words,
        )


def places_of(features: FeatureSet) -> dict[str, int]:
    """Feature name to its place in a row of codes."""
    return {name: place for place, name in enumerate(features.names)}


Block = tuple[
    bytes, bytes, bytes, "array[int]", "array[float]", "array[int]", "array[int]", tuple[bytes, ...], tuple[str, ...]
]  # fmt: skip


class Packer:
    """Takes situations of one kind one by one, in any order, and gives them as rows."""

    def __init__(self, features: FeatureSet) -> None:
        self._features = features
        self._codes, self._flags, self._sites = bytearray(), bytearray(), bytearray()
        self._prints, self._worths = array("Q"), array("d")
        self._choices, self._verdicts = array("i"), array("i")
        self._ids: list[bytes] = []
        self._words: dict[str, int] = {}

    def add(self, situation: Situation) -> None:
        """One more situation."""
        self._codes += encode_one(self._features, situation.features).tobytes()
        self._flags.append(flags_of(situation))
        self._sites.append(situation.site)
        self._prints.extend(print_words(situation.fingerprint))
        self._worths.append(situation.worth)
        self._choices.append(-1 if situation.choice is None else self._number(situation.choice))
        self._verdicts.append(self._number(situation.verdict))
        self._ids.append(situation.case_id.encode())

    def _number(self, word: str) -> int:
        return self._words.setdefault(word, len(self._words))

    def block(self) -> Block:
        """What has been taken so far, to be handed to another packer (also one in another process)."""
        return (
            bytes(self._codes), bytes(self._flags), bytes(self._sites), self._prints, self._worths,
            self._choices, self._verdicts, tuple(self._ids), tuple(self._words),
        )  # fmt: skip

    def extend(self, block: Block) -> None:
        """Everything that another packer of the same features had taken."""
        codes, flags, sites, prints, worths, choices, verdicts, ids, words = block
        numbers = [self._number(word) for word in words]
        self._codes += codes
        self._flags += flags
        self._sites += sites
        self._prints.extend(prints)
        self._worths.extend(worths)
        self._choices.extend(numbers[place] if place >= 0 else -1 for place in choices)
        self._verdicts.extend(numbers[place] for place in verdicts)
        self._ids.extend(ids)

    def rows(self) -> StoredRows:
        """All of them, in tie order."""
        count, width = len(self._ids), len(self._features.weighted)
        columns = Columns(
            np.frombuffer(bytes(self._codes), dtype=np.uint8).reshape(count, width),
            np.frombuffer(bytes(self._flags), dtype=np.uint8),
            np.array(self._prints, dtype=np.uint64).reshape(-1, 2),
            np.array(self._ids, dtype=np.bytes_),
            np.frombuffer(bytes(self._sites), dtype=np.uint8),
        )
        choices = np.array(self._choices, dtype=np.int32)
        verdicts = np.array(self._verdicts, dtype=np.int32)
        worths = np.array(self._worths, dtype=np.float64)
        return _in_order(self._features, columns, choices, worths, verdicts, tuple(self._words))


def packed(features: FeatureSet, situations: Iterable[Situation]) -> StoredRows:
    """Situations of one kind as rows, in tie order."""
    packer = Packer(features)
    for situation in situations:
        packer.add(situation)
    return packer.rows()


def _in_order(
    features: FeatureSet,
    columns: Columns,
    choices: npt.NDArray[np.int32],
    worths: npt.NDArray[np.float64],
    verdicts: npt.NDArray[np.int32],
    words: tuple[str, ...],
) -> StoredRows:
    order = np.lexsort((columns.sites, columns.case_ids))
    at = Columns(
        np.ascontiguousarray(columns.codes[order]),
        columns.flags[order],
        columns.prints[order],
        columns.case_ids[order],
        columns.sites[order],
    )
    return StoredRows(
        features, at, choices[order], worths[order], verdicts[order], words, places_of(features)
    )
