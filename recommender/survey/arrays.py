"""Short names for the array types of this room."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def unit(vector: Floats) -> Floats:
    """The vector (last axis) at length one; a vector without length stays as it is."""
    length: Floats = np.linalg.norm(vector, axis=-1, keepdims=True)
    result: Floats = vector / np.maximum(length, 1e-12)
    return result
