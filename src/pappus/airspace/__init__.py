"""Volumes of airspace: outline on the ellipsoid, floor and ceiling, whether positions are inside and flights enter."""

from pappus.airspace._entries import (
    EntryChance,
    TrackEntries,
    VolumeEntry,
    chance_of_any,
    entries,
    join_entries,
    track_entries,
    volume_entries,
)
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
    "EntryChance",
    "Inside",
    "LimitKind",
    "TrackEntries",
    "VerticalLimit",
    "VolumeEntry",
    "arc_between",
    "arc_points",
    "chance_of_any",
    "circle_points",
    "corridor",
    "entries",
    "geodesic_ring",
    "join_entries",
    "pressure_altitude_m",
    "track_entries",
    "volume_entries",
]
