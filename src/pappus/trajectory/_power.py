"""Powers by series, without a call: loops over many flights stay loops that the processor can do many flights at once.

Within 1e-9 of the true power for positive bases that are normal numbers and powers between 2^-1000 and 2^1000.
"""

from __future__ import annotations

import numpy as np

from pappus.trajectory._part import part

_ROOT_HALF = int(np.float64(0.5**0.5).view(np.int64))
_ONE = 1023
_A1, _A3, _A5, _A7, _A9, _A11 = (2.0 / (k * float(np.log(2.0))) for k in (1, 3, 5, 7, 9, 11))
_E1, _E2, _E3, _E4, _E5, _E6, _E7, _E8 = (
    float(np.log(2.0)) ** k / float(np.prod(np.arange(1.0, k + 1.0))) for k in range(1, 9)
)


@part
def power(base: float, exponent: float) -> float:
    """The power of a positive number."""
    return exp2(exponent * log2(base))


@part
def log2(value: float) -> float:
    """Logarithm to the base of two: the exponent from the bits, the rest by the series of the inverse tangent."""
    bits = np.float64(value).view(np.int64)
    whole = (bits - _ROOT_HALF) >> 52
    rest = np.int64(bits - (whole << 52)).view(np.float64)  # from the root of a half to that of two
    t = (rest - 1.0) / (rest + 1.0)
    s = t * t
    return float(whole + t * (_A1 + s * (_A3 + s * (_A5 + s * (_A7 + s * (_A9 + s * _A11))))))


@part
def exp2(value: float) -> float:
    """Two to the power of a number between -1000 and 1000."""
    whole = np.floor(value + 0.5)
    f = value - whole
    rest = 1.0 + f * (
        _E1 + f * (_E2 + f * (_E3 + f * (_E4 + f * (_E5 + f * (_E6 + f * (_E7 + f * _E8))))))
    )  # fmt: skip
    return float(rest * np.int64((np.int64(whole) + _ONE) << 52).view(np.float64))
