"""Which height a file gives, geometric or geopotential, judged by the pressure and temperature beside it.

The two part by 0.5 % to 0.9 % of the thickness above 300 hPa, where the air is dry and the hydrostatic balance holds to
0.2 % (37 real flights); so a flight that reaches the stratosphere tells them apart.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.sources.soundings._hydrostatics import geopotential_above_first_m
from pappus.sources.soundings._levels import TEMPERATURE_K, geopotential_of

Array = NDArray[np.float64]

DRY_BELOW_PA = 30_000.0
THINNEST_M = 5_000.0
CLOSE = 0.0035
"""Half of what parts the two kinds."""


def as_geopotential(
    height_m: Array,
    pressure_pa: Array,
    temperature_k: Array,
    latitude_deg: float,
    notes: list[str],
    *,
    stands_for_geometric: bool,
) -> Array:
    """Geopotential metres of heights of either kind; the note says which kind was taken and why.

    ``stands_for_geometric``: what the file says or suggests, taken where pressure and temperature do not tell.
    """
    converted = geopotential_of(height_m, latitude_deg)
    as_geometric = _mismatch(converted, pressure_pa, temperature_k)
    as_given = _mismatch(height_m, pressure_pa, temperature_k)
    geometric = stands_for_geometric
    why = "pressure and temperature do not tell"
    if as_geometric is not None and as_given is not None and min(as_geometric, as_given) < CLOSE:
        if max(as_geometric, as_given) > 2.0 * min(as_geometric, as_given):
            geometric = as_geometric < as_given
        better, worse = (as_geometric, as_given) if geometric else (as_given, as_geometric)
        why = f"{better:.2%} off pressure and temperature above 300 hPa, the other kind {worse:.2%}"
    notes.append(f"heights taken as {'geometric' if geometric else 'geopotential'}: {why}")
    return converted if geometric else np.where(np.isfinite(converted) | np.isnan(height_m), height_m, np.inf)


def _mismatch(geopotential_m: Array, pressure_pa: Array, temperature_k: Array) -> float | None:
    """How far heights are off the hydrostatic thickness above 300 hPa; None without enough of it."""
    known = np.isfinite(geopotential_m) & (pressure_pa > 0.0) & (pressure_pa < DRY_BELOW_PA)
    known &= (temperature_k > TEMPERATURE_K[0]) & (temperature_k < TEMPERATURE_K[1])
    order = np.flatnonzero(known)[np.argsort(-pressure_pa[known], kind="stable")]
    if order.size < 2:
        return None
    given = float(geopotential_m[order[-1]] - geopotential_m[order[0]])
    if given < THINNEST_M:
        return None
    worked_out = float(geopotential_above_first_m(-np.log(pressure_pa[order]), temperature_k[order])[-1])
    return abs(given / worked_out - 1.0)
