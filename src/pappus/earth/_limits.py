"""Refusing values outside the range of a formula, for scalars and arrays alike."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.errors import OutOfRange

Array = NDArray[np.float64]


def require_range(quantity: str, value: ArrayLike, low: float, high: float, unit: str) -> Array:
    """``value`` as float64 array, or ``OutOfRange`` naming its first element outside ``low .. high``.

    A missing value (NaN) lies in no range and is refused too.
    """
    array = np.asarray(value, dtype=np.float64)
    outside = ~((array >= low) & (array <= high))
    if outside.any():
        raise OutOfRange(quantity, float(array[outside][0]), low, high, unit)
    return array
