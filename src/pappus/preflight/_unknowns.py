"""What makes the landing area as large as it is: each source of spread flown alone."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from pappus.preflight._briefing import Unknown
from pappus.trajectory import Conditions, Draws, fly

SAMPLE = 200
_SOURCES: dict[str, tuple[str, ...]] = {
    "wind": ("wind_error_m_s", "member"),
    "burst height": ("burst_diameter_m", "early_burst_msl_m"),
    "climb (drag and gas temperature)": ("drag_factor", "gas_excess_offset_k"),
    "fill": ("gas_mol",),
    "fall under the canopy": ("drag_area_m2", "fouled", "fall_exponent", "remnant_kg"),
}


def largest_unknowns(conditions: Conditions, draws: Draws) -> tuple[Unknown, ...]:
    """Spread of the landing when one source varies and all others stand at their middle; largest first.

    Sources do not add up exactly (a low burst shortens every drift); the order is what a director can act on.
    """
    few = min(SAMPLE, draws.flights)
    middle = _middle(draws, few)
    found = []
    for name, varied in _SOURCES.items():
        alone = replace(middle, **{key: _head(getattr(draws, key), few) for key in varied})
        flights = fly(conditions, alone)
        landed = flights.landed
        if landed.sum() < 2:
            continue
        north = np.radians(flights.end_latitude_deg[landed]) * 6_371_000.0
        east = (
            np.radians(flights.end_longitude_deg[landed])
            * 6_371_000.0
            * np.cos(np.radians(conditions.release.latitude_deg))
        )
        found.append(Unknown(name, float(np.hypot(north.std(), east.std()))))
    return tuple(sorted(found, key=lambda unknown: -unknown.landing_spread_m))


def _head(values: np.ndarray | None, few: int) -> np.ndarray | None:
    return None if values is None else values[:few]


def _middle(draws: Draws, few: int) -> Draws:
    """Every parameter at its median; no early burst, no fouled canopy, no wind error."""
    values: dict[str, object] = {}
    for field in fields(Draws):
        column = getattr(draws, field.name)
        if field.name == "wind_error_m_s":
            values[field.name] = None
        elif field.name == "early_burst_msl_m":
            values[field.name] = np.full(few, np.nan)
        elif column.dtype == bool:
            values[field.name] = np.zeros(few, dtype=bool)
        elif field.name == "member":
            values[field.name] = np.zeros(few, dtype=np.intp)
        else:
            values[field.name] = np.full(few, np.median(column))
    return Draws(**values)  # type: ignore[arg-type]  # built field by field above
