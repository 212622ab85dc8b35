"""Features, weights and difference tables: what ``shared/similarity.yaml`` says, as arrays of fixed-point
numbers.

A value of a feature is a code, one byte; ``GAP`` stands for *not recorded*. How far apart two codes are
stands in a table, in units of ``1 / ONE``, so that graded, measured, categorical and taxonomic features all
cost the same and every sum is exact: weights are whole numbers that add up to about ``WEIGHT_SUM``, and no
sum of weight times difference can pass 32 bits.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from recommender.facts.values import Fact, Value
from recommender.resources import read_yaml

GAP = 255
CODES = 256
ONE = 32767
WEIGHT_SUM = 65536

FeatureValue = Value | tuple[float, float]
"""What was recorded of a feature: its value, or the bounds within which a measure is known."""

Credit = Callable[[str, str, str], float]
Codes = npt.NDArray[np.uint8]
Words = npt.NDArray[np.uint32]


class SimilarityError(ValueError):
    """Something in the similarity file, or a value that it does not know; the message says what and where."""


@dataclass(frozen=True, slots=True)
class Feature:
    """One feature: how its values become codes, and how far apart two codes are.

    ``table[here, there]`` is the difference in units of ``1 / ONE`` (``int64``, one row and column a code). A
    numeric feature keeps ``start + code * step``; the others keep ``values[code]``.
    """

    name: str
    label: str
    fact: str
    scale: str
    values: tuple[Value, ...]
    codes: Mapping[Value, int]
    table: npt.NDArray[np.int64]
    start: float = 0.0
    step: float = 0.0
    unit: str = ""
    holds: str | None = None

    def encode(self, value: FeatureValue | None) -> int:
        """The code of a value, of the middle of a pair of bounds; ``GAP`` for ``None``; ``SimilarityError`` for a
        word that the table does not know."""
        if value is None:
            return GAP
        if isinstance(value, tuple):
            value = (value[0] + value[1]) / 2
        if self.scale == "numeric":
            if isinstance(value, bool) or not isinstance(value, (int, float)):
                raise SimilarityError(f"{self.name}: found {value!r}, allowed a number")
            at = int((value - self.start) / self.step + 0.5) if value > self.start else 0
            return min(at, len(self.table) - 1)
        code = self.codes.get(value)
        if code is None:
            allowed = ", ".join(str(known) for known in self.values)
            raise SimilarityError(f"{self.name}: found {value!r}, allowed {allowed}")
        return code

    def codes_between(self, low: float, high: float) -> tuple[int, int]:
        """The first and last code of the values between two bounds."""
        return self.encode(low), self.encode(high)

    def decode(self, code: int) -> Value | None:
        """The value that a code stands for, to the fineness that the feature keeps."""
        if code == GAP:
            return None
        if self.scale == "numeric":
            return round(self.start + code * self.step, 6)
        return self.values[code]

    def read(self, fact: Fact) -> FeatureValue | None:
        """A fact as this feature's own value: a set becomes whether it holds the word in question.

        A measure that was recorded within bounds stays a pair of them. Bounds that something not recorded leaves
        open are no record: that is ``None``, so that a gap never makes two cases more alike.
        """
        value = fact.value
        if value is not None:
            return value if self.holds is None else isinstance(value, frozenset) and self.holds in value
        if self.scale != "numeric" or not fact.within_bounds:
            return None
        assert fact.low is not None
        assert fact.high is not None
        return fact.low, fact.high


@dataclass(frozen=True, slots=True)
class Weighted:
    """A feature's share in the likeness at one kind of decision, and why it has it."""

    feature: Feature
    weight: float
    why: str
    arch: str | None = None


@dataclass(frozen=True, slots=True)
class FeatureSet:
    """The features of one kind of decision, in the order of their codes."""

    kind: str
    weighted: tuple[Weighted, ...]
    same: tuple[str, ...]
    near: float
    version: str
    # whole weights of each arch where none is replaced, once they were asked for
    published: dict[str, npt.NDArray[np.int64]] = field(default_factory=dict, compare=False, repr=False)

    @property
    def names(self) -> tuple[str, ...]:
        """Feature names in code order."""
        return tuple(item.feature.name for item in self.weighted)

    def applies(self, arch: str) -> npt.NDArray[np.bool_]:
        """Which features apply to this arch."""
        return np.array([item.arch in (None, arch) for item in self.weighted], dtype=np.bool_)

    def whole_weights(self, arch: str, weights: Mapping[str, float] | None = None) -> npt.NDArray[np.int64]:
        """Weights as whole numbers that add up to about ``WEIGHT_SUM``; 0 where a feature does not apply.

        ``weights`` replaces single weights by feature name. Raises ``SimilarityError`` for an unknown name,
        or a weight that is negative or not a number.
        """
        if weights:
            return self._whole(arch, weights)
        if arch not in self.published:
            self.published[arch] = self._whole(arch, {})
            self.published[arch].setflags(write=False)
        return self.published[arch]

    def _whole(self, arch: str, weights: Mapping[str, float]) -> npt.NDArray[np.int64]:
        given = dict(weights)
        unknown = set(given) - set(self.names)
        if unknown:
            raise SimilarityError(f"{self.kind}: no feature {', '.join(sorted(unknown))}")
        wanted = np.array([float(given.get(w.feature.name, w.weight)) for w in self.weighted])
        if not np.isfinite(wanted).all() or (wanted < 0).any():
            raise SimilarityError(f"{self.kind}: a weight is negative or not a number")
        wanted = np.where(self.applies(arch), wanted, 0.0)
        total = float(wanted.sum())
        if total == 0.0:
            return np.zeros(len(wanted), dtype=np.int64)
        whole: npt.NDArray[np.int64] = np.rint(wanted * (WEIGHT_SUM / total)).astype(np.int64)
        return whole


@dataclass(frozen=True, slots=True)
class Likeness:
    """The whole similarity file: a feature set for each kind of decision."""

    kinds: Mapping[str, FeatureSet]
    version: str


def _differences(name: str, spec: Mapping[str, object], values: Sequence[Value]) -> npt.NDArray[np.float64]:
    size = len(values)
    places = spec.get("at")
    if spec["scale"] == "graded":
        at = np.linspace(0.0, 1.0, size) if places is None else np.array(places, dtype=float)
        if len(at) != size:
            raise SimilarityError(f"{name}: {len(at)} places for {size} values")
        table = np.abs(at[:, None] - at[None, :])
    else:
        table = 1.0 - np.eye(size)
    order = {value: index for index, value in enumerate(values)}
    for key, both_ways in (("between", True), ("toward", False)):
        entries = spec.get(key) or ()
        assert isinstance(entries, (list, tuple))
        for here, there, difference in entries:
            if here not in order or there not in order or not 0 <= difference <= 1:
                raise SimilarityError(
                    f"{name}: {key} [{here}, {there}, {difference}] is not of its values, 0 to 1"
                )
            table[order[here], order[there]] = difference
            if both_ways:
                table[order[there], order[here]] = difference
    return np.asarray(table, dtype=np.float64)


def _fixed(table: npt.NDArray[np.float64]) -> npt.NDArray[np.int64]:
    fixed: npt.NDArray[np.int64] = np.rint(np.clip(table, 0.0, 1.0) * ONE).astype(np.int64)
    fixed.setflags(write=False)
    return fixed


def _numeric(name: str, spec: Mapping[str, object]) -> tuple[float, float, npt.NDArray[np.int64]]:
    start, stop, step, span = (float(str(spec[key])) for key in ("from", "to", "step", "span"))
    if step <= 0 or span <= 0 or stop <= start:
        raise SimilarityError(f"{name}: step and span must be positive and from below to")
    size = round((stop - start) / step) + 1
    if size > GAP:
        raise SimilarityError(f"{name}: {size} steps, allowed at most {GAP}")
    at = np.arange(size) * step
    return start, step, _fixed(np.abs(at[:, None] - at[None, :]) / span)


def make_feature(
    name: str, spec: Mapping[str, object], credit: Credit, options: Mapping[str, Sequence[str]]
) -> Feature:
    """One feature from its entry. ``credit(decision, one, other)`` and ``options`` serve taxonomic
    features."""
    scale = str(spec.get("scale"))
    label, fact = str(spec.get("label", name)), str(spec.get("fact", name))
    holds = str(spec["holds"]) if "holds" in spec else None
    if scale == "numeric":
        start, step, table = _numeric(name, spec)
        return Feature(name, label, fact, scale, (), {}, table, start, step, str(spec.get("unit", "")), holds)
    values: tuple[Value, ...]
    if scale == "boolean":
        values = (False, True)
        grades = 1.0 - np.eye(2)
    elif scale == "taxonomic":
        decision = str(spec["of"])
        values = tuple(options[decision])
        grades = np.array([[1.0 - credit(decision, str(a), str(b)) for b in values] for a in values])
    elif scale in ("graded", "category"):
        found = spec.get("values")
        if not isinstance(found, list) or not found or len(set(found)) != len(found):
            raise SimilarityError(f"{name}: values must be a list without repeats")
        values = tuple(found)
        grades = _differences(name, spec, values)
    else:
        raise SimilarityError(
            f"{name}: found scale {scale!r}, allowed graded, numeric, category, boolean, taxonomic"
        )
    if len(values) > GAP:
        raise SimilarityError(f"{name}: {len(values)} values, allowed at most {GAP}")
    codes = {value: index for index, value in enumerate(values)}
    return Feature(name, label, fact, scale, values, codes, _fixed(grades), holds=holds)


def parse(
    text: str, credit: Credit, options: Mapping[str, Sequence[str]], name: str = "similarity.yaml"
) -> Likeness:
    """The feature sets that the text of a similarity file describes. Raises ``SimilarityError``."""
    import yaml

    try:
        raw = read_yaml(text)
    except yaml.YAMLError as error:
        raise SimilarityError(f"{name}: {error}") from error
    return _likeness(raw, text, credit, options, name)


def likeness_of(document: Mapping[str, Any], credit: Credit) -> Likeness:
    """The feature sets that the plain values of a similarity file describe. Raises ``SimilarityError``."""
    import json

    text = json.dumps(document, sort_keys=True)
    return _likeness(document, text, credit, _options(), "similarity.yaml")


def _likeness(
    raw: Any, text: str, credit: Credit, options: Mapping[str, Sequence[str]], name: str
) -> Likeness:
    import hashlib

    if not isinstance(raw, Mapping) or raw.get("format") != 1:
        raise SimilarityError(f"{name}: format must be 1")
    features = {key: make_feature(key, spec, credit, options) for key, spec in raw["features"].items()}
    tables = hashlib.blake2b(text.encode(), digest_size=8)
    for feature in features.values():
        tables.update(feature.table.tobytes())
    version = f"{raw.get('version')}-{tables.hexdigest()}"
    kinds: dict[str, FeatureSet] = {}
    for kind, spec in raw["kinds"].items():
        weighted: list[Weighted] = []
        for key, entry in spec["weights"].items():
            if key not in features:
                raise SimilarityError(f"{name}: kinds.{kind}.{key} is not among the features")
            weight = float(entry["weight"])
            if not weight >= 0 or weight == float("inf"):
                raise SimilarityError(f"{name}: kinds.{kind}.{key}.weight found {weight}, allowed 0 or more")
            weighted.append(Weighted(features[key], weight, str(entry["why"]), entry.get("arch")))
        kinds[kind] = FeatureSet(
            kind, tuple(weighted), tuple(spec.get("same", ())), float(raw["near"]), version
        )
    return Likeness(kinds, version)


def load(path: Path | None = None, credit: Credit | None = None) -> Likeness:
    """The similarity file of the project (or another one), with family shares from the option catalogue."""
    from recommender.resources import shared

    if credit is None:
        from recommender.domain import catalogue

        credit = catalogue.load().credit
    where = path or shared("similarity.yaml")
    return parse(where.read_text(encoding="utf-8"), credit, _options(), where.name)


def _options() -> Mapping[str, Sequence[str]]:
    from recommender.domain.vocabulary import REPLACEMENTS, RESTS, RETAINERS

    return {"retainer": RETAINERS, "replacement": REPLACEMENTS, "rest": RESTS}
