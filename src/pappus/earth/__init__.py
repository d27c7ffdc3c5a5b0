"""Positions on the WGS84 ellipsoid, geodesics, a local flat map, gravity and the kinds of height."""

from pappus.earth._ellipsoid import (
    ECCENTRICITY_SQUARED,
    SEMI_MAJOR_AXIS_M,
    LookAngle,
    Position,
    distance_m,
    geocentric_m,
    look_angle,
    radii_of_curvature_m,
)
from pappus.earth._geodesic import geodesic_direct, geodesic_inverse
from pappus.earth._geoid import Geoid
from pappus.earth._gravity import (
    STANDARD_RADIUS_M,
    geometric_height_msl_m,
    geopotential_height_m,
    gravity_m_s2,
    normal_gravity_m_s2,
)
from pappus.earth._limits import require_range
from pappus.earth._plane import LocalPlane

__all__ = [
    "ECCENTRICITY_SQUARED",
    "SEMI_MAJOR_AXIS_M",
    "STANDARD_RADIUS_M",
    "Geoid",
    "LocalPlane",
    "LookAngle",
    "Position",
    "distance_m",
    "geocentric_m",
    "geodesic_direct",
    "geodesic_inverse",
    "geometric_height_msl_m",
    "geopotential_height_m",
    "gravity_m_s2",
    "look_angle",
    "normal_gravity_m_s2",
    "radii_of_curvature_m",
    "require_range",
]
