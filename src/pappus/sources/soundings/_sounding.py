"""A sounding: the air over one station as one balloon measured it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pappus.wind import SourceFile

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Sounding:
    """One radiosonde ascent or descent; all arrays have one entry a level, from the lowest level upwards.

    Every level holds pressure, height, temperature and wind. Heights rise strictly; pressures never rise with height
    (a coarse report may repeat one).
    """

    station: str
    """Identifier of the station, or its position where the file names none."""
    latitude_deg: float
    longitude_deg: float
    """Station of an ascent; first reported position of a descent. NaN, like the longitude, where a file names its
    stations by code only: such a sounding has winds over height and no place."""
    station_height_msl_m: float | None
    """None when the file does not say."""
    release: datetime
    """Release of an ascent, start of the record of a descent (the highest record of a whole flight); UTC-aware."""
    is_descent: bool
    time_s: Array | None
    """After ``release``; NaN where a level has no time, None when no level has one."""
    pressure_pa: Array
    height_msl_m: Array
    """Geometric height above mean sea level."""
    temperature_k: Array
    wind_u_m_s: Array
    """Eastward wind."""
    wind_v_m_s: Array
    """Northward wind."""
    level_latitude_deg: Array | None
    level_longitude_deg: Array | None
    """Position of the balloon at each level; NaN and None as for ``time_s``."""
    positions_measured: bool
    """False where the file says that its positions were summed from the winds."""
    source: SourceFile
    notes: tuple[str, ...]
    """What was left out or worked out; shown in the answer."""
    wind_speed_step_m_s: float = 0.0
    wind_direction_step_deg: float = 0.0
    """The steps in which the file writes its winds; 0 where they are fine or not regular."""

    @property
    def levels(self) -> int:
        """Number of levels."""
        return len(self.height_msl_m)
