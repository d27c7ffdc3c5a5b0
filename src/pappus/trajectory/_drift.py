"""Dead reckoning: carry a point along measured winds at measured times and heights."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pappus.earth import radii_of_curvature_m

Array = NDArray[np.float64]


def drift(
    time_s: Array,
    height_msl_m: Array,
    wind_u_m_s: Array,
    wind_v_m_s: Array,
    latitude_deg: float,
    longitude_deg: float,
) -> tuple[Array, Array]:
    """Latitude and longitude [deg] at each time of a record, from its first point; arrays of shape (N,).

    Trapezoid rule in time, on the WGS84 ellipsoid at flight height; longitudes are not wrapped. Times must ascend.
    """
    step = np.diff(time_s)
    if bool((step < 0.0).any()):
        raise ValueError("times must ascend")
    north_m = 0.5 * (wind_v_m_s[1:] + wind_v_m_s[:-1]) * step
    east_m = 0.5 * (wind_u_m_s[1:] + wind_u_m_s[:-1]) * step
    height = 0.5 * (height_msl_m[1:] + height_msl_m[:-1])
    # the meridional radius changes by less than 2e-4 over a degree: one pass with the first latitude, one corrected
    latitude = np.full(len(time_s), latitude_deg)
    for _ in range(2):
        meridional, _ = radii_of_curvature_m(0.5 * (latitude[1:] + latitude[:-1]))
        latitude = latitude_deg + np.concatenate([[0.0], np.cumsum(np.degrees(north_m / (meridional + height)))])
    middle = 0.5 * (latitude[1:] + latitude[:-1])
    _, prime_vertical = radii_of_curvature_m(middle)
    turned = np.degrees(east_m / ((prime_vertical + height) * np.cos(np.radians(middle))))
    return latitude, longitude_deg + np.concatenate([[0.0], np.cumsum(turned)])
