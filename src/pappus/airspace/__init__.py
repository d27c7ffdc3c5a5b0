"""Volumes of airspace: outline on the ellipsoid, floor and ceiling, and whether positions are inside."""

from pappus.airspace._limits import LimitKind, VerticalLimit, pressure_altitude_m
from pappus.airspace._shapes import (
    SHAPE_TOLERANCE_M,
    arc_between,
    arc_points,
    circle_points,
    corridor,
    geodesic_ring,
)
from pappus.airspace._volume import AirspaceVolume, Inside

__all__ = [
    "SHAPE_TOLERANCE_M",
    "AirspaceVolume",
    "Inside",
    "LimitKind",
    "VerticalLimit",
    "arc_between",
    "arc_points",
    "circle_points",
    "corridor",
    "geodesic_ring",
    "pressure_altitude_m",
]
