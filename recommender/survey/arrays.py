"""Short names for the array types of this room."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

# The names say what an array holds; its exact width is left open, since the stubs of numpy and scipy disagree on it.
Floats = NDArray[Any]
Ints = NDArray[Any]
Bools = NDArray[Any]


def unit(vector: Floats) -> Floats:
    """The vector (last axis) at length one; a vector without length stays as it is."""
    length: Floats = np.linalg.norm(vector, axis=-1, keepdims=True)
    result: Floats = vector / np.maximum(length, 1e-12)
    return result
