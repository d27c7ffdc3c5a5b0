"""What makes the landing area as large as it is: each source of spread flown alone."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.earth import LocalPlane
from pappus.preflight.briefing._briefing import Unknown
from pappus.trajectory import Conditions, Draws, fly

SAMPLE = 100
_SOURCES: dict[str, tuple[str, ...]] = {
    "wind": ("wind_error_m_s", "member"),
    "burst height": ("burst_diameter_m", "early_burst_msl_m"),
    "climb (drag and gas temperature)": ("drag_factor", "climb_ln", "gas_excess_offset_k"),
    "fill and leaks": ("gas_mol", "leak_per_s"),
    "moment of release": ("release_delay_s",),
    "fall under the canopy": ("drag_area_m2", "fouled", "fall_exponent", "fall_ln", "remnant_kg"),
}


def largest_unknowns(conditions: Conditions, draws: Draws) -> tuple[Unknown, ...]:
    """Spread of the landing when one source varies and all others stand at their middle; largest first.

    Sources do not add up exactly (a low burst shortens every drift); the order is what a director can act on.
    """
    few = min(SAMPLE, draws.flights)
    # one flight of the whole set: a step costs the same for five hundred flights as for a hundred
    flights = fly(conditions, _each_alone(draws, few))
    plane = LocalPlane(conditions.release.latitude_deg, conditions.release.longitude_deg)
    found = []
    for index, name in enumerate(_SOURCES):
        alone = slice(index * few, (index + 1) * few)
        landed = flights.landed[alone]
        if landed.sum() >= 2:
            east, north = plane.to_east_north_m(
                flights.end_latitude_deg[alone][landed], flights.end_longitude_deg[alone][landed]
            )
            found.append(Unknown(name, float(np.hypot(east.std(), north.std()))))
    return tuple(sorted(found, key=lambda unknown: -unknown.landing_spread_m))


def _each_alone(draws: Draws, few: int) -> Draws:
    """The first ``few`` draws of one source after the other, each with all else at its middle."""
    columns: dict[str, Any] = {}
    for field in fields(Draws):
        values = getattr(draws, field.name)
        if values is not None:
            middle = np.broadcast_to(_middle(field.name, values), values[:few].shape)
            columns[field.name] = np.concatenate(
                [values[:few] if field.name in varied else middle for varied in _SOURCES.values()]
            )
    return Draws(**columns)


def _middle(name: str, values: NDArray[Any]) -> Any:
    """The median; no early burst, no fouled canopy, no leak, no wind error, the first member."""
    if name == "early_burst_msl_m":
        return np.nan
    if name in ("member", "fouled", "wind_error_m_s", "climb_ln", "fall_ln", "leak_per_s", "release_delay_s"):
        return np.zeros((), dtype=values.dtype)
    return np.median(values)
