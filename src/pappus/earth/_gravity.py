"""Gravity and geopotential height.

Two forms live here. The standard form (no latitude) belongs to the standard atmosphere, the latitude form to real
soundings and forecasts: taking the first for the second errs by up to 80 m at 30 km (pole or equator).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pappus.earth._ellipsoid import ECCENTRICITY_SQUARED, FLATTENING, SEMI_MAJOR_AXIS_M
from pappus.earth._limits import Array, require_range
from pappus.units import standard_gravity_m_s2

STANDARD_RADIUS_M = 6_356_766.0
"""Radius of the earth in the US Standard Atmosphere 1976."""

LOWEST_M, HIGHEST_M = -5_000.0, 1_000_000.0

_EQUATOR_GRAVITY_M_S2 = 9.7803253359
_SOMIGLIANA = 0.00193185265241
_ROTATION_RATIO = 0.00344978650684
"""m = omega^2 a^2 b / GM."""


def gravity_m_s2(height_msl_m: ArrayLike) -> Array:
    """Gravity of the standard atmosphere, g0 (r / (r + Z))^2 with r = 6 356 766 m.

    Valid for geometric heights from -5 to 1000 km. Source: US Standard Atmosphere 1976, eq. 17.
    """
    height = require_range("height above mean sea level", height_msl_m, LOWEST_M, HIGHEST_M, "m")
    return np.asarray(standard_gravity_m_s2 * (STANDARD_RADIUS_M / (STANDARD_RADIUS_M + height)) ** 2)


def normal_gravity_m_s2(latitude_deg: ArrayLike) -> Array:
    """Gravity on the WGS84 ellipsoid by Somigliana's closed form (NIMA TR 8350.2; constants from memory)."""
    sin_squared = np.sin(np.radians(require_range("latitude", latitude_deg, -90, 90, "deg"))) ** 2
    root = np.sqrt(1 - ECCENTRICITY_SQUARED * sin_squared)
    return np.asarray(_EQUATOR_GRAVITY_M_S2 * (1 + _SOMIGLIANA * sin_squared) / root)


def geopotential_height_m(height_msl_m: ArrayLike, latitude_deg: ArrayLike | None = None) -> Array:
    """Geopotential height (standard geopotential metres) of a geometric height above mean sea level.

    H = (g / g0) R Z / (R + Z). Without a latitude g = g0 and R = 6 356 766 m (US Standard Atmosphere 1976, eq. 18).
    With one, g is normal gravity and R the effective radius that gives its vertical gradient,
    R = a / (1 + f + m - 2 f sin^2 latitude): the form of WMO-No. 8 and of the Smithsonian tables, from memory.
    Valid from -5 to 1000 km; broadcasts.
    """
    height = require_range("height above mean sea level", height_msl_m, LOWEST_M, HIGHEST_M, "m")
    gravity_ratio, radius = _gravity_ratio_and_radius(latitude_deg)
    return np.asarray(gravity_ratio * radius * height / (radius + height))


def geometric_height_msl_m(geopotential_height_m: ArrayLike, latitude_deg: ArrayLike | None = None) -> Array:
    """Geometric height above mean sea level of a geopotential height: the exact inverse of ``geopotential_height_m``.

    Valid from -5 to 800 km geopotential; broadcasts.
    """
    geopotential = require_range("geopotential height", geopotential_height_m, LOWEST_M - 50, 800_000, "m")
    gravity_ratio, radius = _gravity_ratio_and_radius(latitude_deg)
    return np.asarray(radius * geopotential / (gravity_ratio * radius - geopotential))


def _gravity_ratio_and_radius(latitude_deg: ArrayLike | None) -> tuple[Array, Array]:
    if latitude_deg is None:
        return np.asarray(1.0), np.asarray(STANDARD_RADIUS_M)
    sin_squared = np.sin(np.radians(np.asarray(latitude_deg, dtype=np.float64))) ** 2
    radius = SEMI_MAJOR_AXIS_M / (1 + FLATTENING + _ROTATION_RATIO - 2 * FLATTENING * sin_squared)
    return normal_gravity_m_s2(latitude_deg) / standard_gravity_m_s2, radius
