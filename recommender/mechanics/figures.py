"""The model figures of ``shared/mechanics.yaml``: everything that the published tables lack.

The packaged figures are in force unless a caller puts others there for a while (``in_force``): a draft of them is
tried without a word to the functions in between. What is worked out from figures is kept apart for each set
(``remembered``).
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache, wraps
from types import MappingProxyType
from typing import Any, ParamSpec, TypeVar
from weakref import WeakKeyDictionary

from recommender.mechanics.bands import Band
from recommender.resources import InForce, read_yaml, shared

P = ParamSpec("P")
R = TypeVar("R")


@dataclass(frozen=True, eq=False)
class ModelFigures:
    """One set of figures: the documents ``mechanics.yaml`` and ``display.yaml`` as plain values."""

    mechanics: Mapping[str, Any]
    display: Mapping[str, Any]


in_force: InForce[ModelFigures] = InForce("models")


def document(name: str) -> Mapping[str, Any]:
    """``mechanics`` or ``display``, as it counts now."""
    figures = in_force.get()
    found: Mapping[str, Any] = _packaged(name) if figures is None else getattr(figures, name)
    return found


@cache
def _packaged(name: str) -> Mapping[str, Any]:
    path = shared(f"{name}.yaml")
    loaded = read_yaml(path.read_bytes())
    if not isinstance(loaded, dict) or loaded.get("format") != 1:
        raise ValueError(f"{path}: expected a mapping with `format: 1`")
    return MappingProxyType(loaded)


def remembered(most: int = 8192) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """As ``functools.lru_cache``, apart for each set of figures in force."""

    def wrap(function: Callable[P, R]) -> Callable[P, R]:
        packaged = lru_cache(maxsize=most)(function)
        others: WeakKeyDictionary[ModelFigures, Any] = WeakKeyDictionary()

        @wraps(function)
        def call(*args: P.args, **kwargs: P.kwargs) -> R:
            figures = in_force.get()
            if figures is None:
                return packaged(*args, **kwargs)  # type: ignore[arg-type]
            if figures not in others:
                others[figures] = lru_cache(maxsize=most)(function)
            found: R = others[figures](*args, **kwargs)
            return found

        vars(call)["cache_clear"] = packaged.cache_clear
        return call

    return wrap


def figures(section: str) -> Mapping[str, Any]:
    """One block of the file, as plain values; ``KeyError`` if there is no such block."""
    block = document("mechanics")[section]
    if not isinstance(block, Mapping):
        raise ValueError(f"mechanics.yaml: {section} must be a mapping")
    return MappingProxyType(dict(block))


def figure_band(values: Any) -> Band:
    """A ``[low, typical, high]`` list of the file as a band; a bare number has no width."""
    if isinstance(values, (int, float)):
        return Band(float(values), float(values), float(values))
    low, typical, high = (float(value) for value in values)
    return Band(low, typical, high)
