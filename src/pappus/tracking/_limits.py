"""How far and how fast a balloon, its payload or its wreck can move: the bounds that a true position never breaks."""

from __future__ import annotations

import math

import numpy as np

from pappus.atmosphere import standard_air

HEIGHT_LEAST_MSL_M = -450.0
"""Shore of the Dead Sea, the lowest land; from memory."""
HEIGHT_MOST_MSL_M = 54_000.0
"""A sheet of film without payload reached 53.7 km, the highest balloon on record (JAXA, 2013; from memory)."""
WIND_MOST_LOW_M_S = 140.0
"""Wind below 20 km. Jet streams over Japan in winter, the strongest there are, are measured at 100 to 110 m/s and
seldom above (from memory); a margin of about a quarter."""
WIND_MOST_HIGH_M_S = 185.0
"""Wind above 20 km: the strongest on record is 182 m/s, at 47 km over South Uist, 1967 (from memory)."""
JET_TOP_MSL_M = 20_000.0
RISE_MOST_M_S = 35.0
"""An overfilled small balloon climbs at 8 to 10 m/s; storms add up to some 25 m/s (from memory)."""
FALL_MOST_GROUND_M_S = 40.0
"""Terminal speed at sea level, twice that of a tumbling box of 1 kg and 0.2 m square (20 m/s, drag coefficient 1):
also a bare box of 6 kg and 0.3 m square, 33 m/s, stays below it."""
FALL_MOST_M_S = 280.0
"""Below the speed of sound at 30 km (302 m/s): a box that tumbles from 35 km nears 240 m/s and no more."""
POSITION_SLACK_M = 100.0
"""Noise of two positions together, with room to spare: satellite positions err by 5 m, seldom by 50."""
HEIGHT_SLACK_M = 80.0
"""As for positions; heights err by 5 to 15 m."""
TIME_SLACK_S = 1.0
"""Stamps are cut to whole seconds."""
HIGHEST_UNKNOWN_MSL_M = 35_000.0
"""Height taken for the bounds where a fix tells none."""

_STEP_M = 1000.0
_HEIGHTS = np.arange(0.0, HEIGHT_MOST_MSL_M + _STEP_M, _STEP_M)
_THINNER = np.sqrt(standard_air(0.0).density_kg_m3 / standard_air(_HEIGHTS).density_kg_m3)
_FALL_MOST_M_S = tuple(float(v) for v in np.minimum(FALL_MOST_GROUND_M_S * _THINNER, FALL_MOST_M_S))
_EARTH_RADIUS_M = 6_371_008.8


def wind_most_m_s(height_msl_m: float) -> float:
    """The strongest wind that a balloon up to this height can meet [m/s]."""
    return WIND_MOST_LOW_M_S if height_msl_m <= JET_TOP_MSL_M else WIND_MOST_HIGH_M_S


def fall_most_m_s(height_msl_m: float) -> float:
    """The fastest fall from this height [m/s]: terminal speed grows with the root of thin air (standard atmosphere)."""
    index = min(max(math.ceil(height_msl_m / _STEP_M), 0), len(_FALL_MOST_M_S) - 1)
    return _FALL_MOST_M_S[index]


def arc_m(latitude1_deg: float, longitude1_deg: float, latitude2_deg: float, longitude2_deg: float) -> float:
    """Distance on a sphere of the mean radius [m]: within 0.6 % of the ellipsoid, fast, for bounds only."""
    lat1, lat2 = math.radians(latitude1_deg), math.radians(latitude2_deg)
    half_lat = math.sin(0.5 * (lat2 - lat1))
    half_lon = math.sin(0.5 * math.radians(longitude2_deg - longitude1_deg))
    chord = half_lat * half_lat + math.cos(lat1) * math.cos(lat2) * half_lon * half_lon
    return 2.0 * _EARTH_RADIUS_M * math.asin(min(1.0, math.sqrt(chord)))


def reach_m(seconds: float, height_msl_m: float | None, step_m: float) -> float:
    """How far a balloon can have drifted in a time, with the noise of both positions [m].

    :param height_msl_m: the greater of the two heights; None where neither is known.
    :param step_m: steps to which both positions are rounded, together.
    """
    height = HIGHEST_UNKNOWN_MSL_M if height_msl_m is None else height_msl_m
    return wind_most_m_s(height) * (abs(seconds) + TIME_SLACK_S) + POSITION_SLACK_M + step_m


def height_change_possible(seconds: float, before_msl_m: float, after_msl_m: float) -> bool:
    """Whether the height can have changed so in the time."""
    change, span = after_msl_m - before_msl_m, abs(seconds) + TIME_SLACK_S
    most = RISE_MOST_M_S if change > 0 else fall_most_m_s(max(before_msl_m, after_msl_m))
    return abs(change) <= most * span + HEIGHT_SLACK_M


def east_north_m(
    latitude1_deg: float, longitude1_deg: float, latitude2_deg: float, longitude2_deg: float, height_msl_m: float
) -> tuple[float, float]:
    """Short way from the first to the second point at flight height, eastward and northward [m].

    On the WGS84 radii of curvature at the middle latitude: within 1e-4 of the geodesic for ways up to 50 km and
    latitudes up to 80 degrees. Height above sea level stands for height above the ellipsoid (1.6e-5 at most).
    """
    middle = math.radians(0.5 * (latitude1_deg + latitude2_deg))
    sine = math.sin(middle)
    w_squared = 1.0 - 0.006694379990141316 * sine * sine
    prime_vertical = 6_378_137.0 / math.sqrt(w_squared)
    meridian = prime_vertical * (1.0 - 0.006694379990141316) / w_squared
    turn = (longitude2_deg - longitude1_deg + 180.0) % 360.0 - 180.0
    east = math.radians(turn) * (prime_vertical + height_msl_m) * math.cos(middle)
    return east, math.radians(latitude2_deg - latitude1_deg) * (meridian + height_msl_m)
