"""The wind field: what the air does, where and when we know it, and where it came from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SourceFile:
    """One file that the winds came from."""

    name: str
    sha256: str
    description: str
    """What it is, in a few words: ``"radiosonde 94461, release 2016-04-03 23:15 UTC"``."""


@dataclass(frozen=True)
class Coverage:
    """Where and when a wind field may be used.

    A sounding covers a disc around its station for some hours; a forecast covers a box between its valid times.
    """

    first_valid: datetime
    last_valid: datetime
    south_deg: float
    north_deg: float
    west_deg: float
    east_deg: float
    """May exceed 180 when the area crosses the date line; ``east_deg > west_deg`` always."""
    bottom_msl_m: float
    """Lowest geometric height above mean sea level held everywhere in the field."""
    top_msl_m: float
    """Highest geometric height above mean sea level held everywhere in the field."""
    centre_deg: tuple[float, float] | None = None
    """Latitude and longitude of the station of a sounding; None for a forecast."""
    radius_m: float | None = None
    """Radius of the disc around ``centre_deg``; None for a forecast."""


@dataclass(frozen=True)
class WindField:
    """Air on levels: cube ``[member, time, level, latitude, longitude]``; any axis may have length one.

    Levels run from the lowest upwards. Latitudes and longitudes ascend. Winds are earth-relative. A sounding is a
    field with one member, time, latitude and longitude. No field mixes two model runs.
    """

    name: str
    kind: Literal["sounding", "forecast"]
    issued: datetime
    """Run time of a forecast, release time of a sounding; UTC-aware."""
    epoch: datetime
    """``time_s`` counts from here; UTC-aware."""
    time_s: Array
    latitude_deg: Array
    longitude_deg: Array
    pressure_pa: Array
    height_msl_m: Array
    """Geometric height above mean sea level of each level."""
    temperature_k: Array
    wind_u_m_s: Array
    """Eastward wind."""
    wind_v_m_s: Array
    """Northward wind."""
    coverage: Coverage
    sources: tuple[SourceFile, ...]
    notes: tuple[str, ...] = ()
    """What the reader had to repair or leave out; shown in the answer."""
    extended_below_level: int = 0
    """Levels below this index were extrapolated downwards by ``extend``."""
    extended_from_level: int | None = None
    """Levels from this index upwards were extrapolated by ``extend``; None when nothing was."""

    def __post_init__(self) -> None:
        shape = self.wind_u_m_s.shape
        expected = (len(self.time_s), len(self.latitude_deg), len(self.longitude_deg))
        if len(shape) != 5 or (shape[1], shape[3], shape[4]) != expected:
            raise ValueError(f"wind cube {shape} does not fit its axes (time, latitude, longitude) {expected}")
        for name in ("pressure_pa", "height_msl_m", "temperature_k", "wind_v_m_s"):
            if getattr(self, name).shape != shape:
                raise ValueError(f"{name} {getattr(self, name).shape} does not have the shape of the cube {shape}")

    @property
    def members(self) -> int:
        """Number of forecast members."""
        return int(self.wind_u_m_s.shape[0])

    @property
    def levels(self) -> int:
        """Number of levels."""
        return int(self.wind_u_m_s.shape[2])

    @cached_property
    def level_height_msl_m(self) -> Array:
        """Mean height of each level over members, times and places."""
        return np.asarray(self.height_msl_m.mean(axis=(0, 1, 3, 4)))

    @cached_property
    def level_pressure_pa(self) -> Array:
        """Mean pressure of each level, of the logarithms, over members, times and places."""
        return np.asarray(np.exp(np.log(self.pressure_pa).mean(axis=(0, 1, 3, 4))))
