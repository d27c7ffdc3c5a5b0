"""Where to point an antenna, and when and how high each station will lose the signal on the way down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pappus.earth import Geoid, Position, look_angle
from pappus.ground import Terrain
from pappus.landing import Quantiles, Share, quantiles, share
from pappus.recovery._sight import Array, line_of_sight, smooth_ground

PROBABILITIES = (0.1, 0.5, 0.9)
_HALVINGS = 14
_ODD_M = 20.0
"""By more than this terrain and station should not differ."""
GEOMETRY_ONLY = "geometry only: power, antennas, woods and buildings are not counted, so contact may end earlier"


@dataclass(frozen=True)
class Station:
    """A place that listens: a mast, or a car with an antenna on its roof."""

    name: str
    latitude_deg: float
    longitude_deg: float
    ground_msl_m: float
    antenna_m: float = 2.0
    """Height of the antenna above the ground."""

    @property
    def antenna_msl_m(self) -> float:
        """Height of the antenna above mean sea level."""
        return self.ground_msl_m + self.antenna_m


@dataclass(frozen=True)
class Pointing:
    """Where a station has to point, and whether anything stands in between."""

    station: str
    azimuth_deg: float
    """Clockwise from true north, 0 to 360."""
    elevation_deg: float
    """Without refraction, -90 to 90."""
    range_m: float
    """Straight distance."""
    clear: bool
    """The terrain does not block the ray."""
    clearance_m: float
    """Least height of the ray above the ground."""
    blocked_at_m: float | None
    """How far from the station the ground stands highest over the ray; None when it is clear."""
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class DescentTracks:
    """Predicted descents, shape (tracks, steps), padded with NaN behind their end; times of your own origin."""

    time_s: Array
    latitude_deg: Array
    longitude_deg: Array
    height_msl_m: Array

    def __post_init__(self) -> None:
        shape = self.time_s.shape
        parts = (self.latitude_deg, self.longitude_deg, self.height_msl_m)
        if len(shape) != 2 or 0 in shape or any(part.shape != shape for part in parts):
            raise ValueError(f"tracks have one shape (tracks, steps), not {[shape, *(part.shape for part in parts)]}")


@dataclass(frozen=True)
class SignalLoss:
    """When a station loses the signal for good on the way down, over all tracks."""

    station: str
    lost: Share
    """Share of the tracks that go out of sight before they are down."""
    height_msl_m: Quantiles | None
    """Height at which they do; None when none does."""
    time_s: Quantiles | None
    """When, in the times of the tracks."""
    never_seen: int
    """Tracks that are out of sight all the way; they count as lost at their top."""
    notes: tuple[str, ...]


def look_angles(
    stations: Sequence[Station],
    latitude_deg: float,
    longitude_deg: float,
    height_msl_m: float,
    *,
    geoid: Geoid | None = None,
    terrain: Terrain | None = None,
) -> tuple[Pointing, ...]:
    """Azimuth, elevation and straight range from each station to the balloon, exact on the WGS84 ellipsoid.

    Without a geoid the two heights above the sea are taken as heights above the ellipsoid: that tilts the ray by the
    difference of the undulations at both ends, some metres on 100 km. Without a terrain the earth is smooth, as high
    as at the station.
    """
    found = []
    for station in stations:
        seen = _ellipsoid(station.latitude_deg, station.longitude_deg, station.antenna_msl_m, geoid)
        angle = look_angle(seen, _ellipsoid(latitude_deg, longitude_deg, height_msl_m, geoid))
        ground = terrain or smooth_ground(station.ground_msl_m)
        sight = line_of_sight(*_place(station, ground), latitude_deg, longitude_deg, height_msl_m, ground)
        clear = bool(sight.clear[0])
        found.append(
            Pointing(
                station=station.name,
                azimuth_deg=angle.azimuth_deg,
                elevation_deg=angle.elevation_deg,
                range_m=angle.range_m,
                clear=clear,
                clearance_m=float(sight.clearance_m[0]),
                blocked_at_m=None if clear else float(sight.at_m[0]),
                notes=_notes(geoid, terrain, station, float(sight.surveyed[0])),
            )
        )
    return tuple(found)


def signal_lost(
    stations: Sequence[Station], tracks: DescentTracks, *, terrain: Terrain | None = None
) -> tuple[SignalLoss, ...]:
    """When and at which height each station will lose the balloon for good, from the top of each track on.

    To a step of the track, then halved to its 16,000th part. Some tens of tracks are enough (a hundredth of a second
    each). A track that is behind a hill for a while and comes out
    again is not lost.
    """
    found = []
    for station in stations:
        ground = terrain or smooth_ground(station.ground_msl_m)
        heights, times, never = [], [], 0
        for row in range(len(tracks.time_s)):
            path = _descent(tracks, row)
            sight = line_of_sight(*_place(station, ground), path[1], path[2], path[3], ground)
            seen = np.flatnonzero(sight.clear)
            if seen.size and seen[-1] == len(path[0]) - 1:
                continue
            never += not seen.size
            time_s, height_m = (
                _crossing(station, path, int(seen[-1]), ground) if seen.size else (path[0][0], path[3][0])
            )
            times.append(float(time_s))
            heights.append(float(height_m))
        count = len(tracks.time_s)
        heard = count - len(times)
        found.append(
            SignalLoss(
                station=station.name,
                lost=share(len(times), count),
                height_msl_m=quantiles(heights, PROBABILITIES, heard) if times else None,
                time_s=quantiles(times, PROBABILITIES, heard) if times else None,
                never_seen=never,
                notes=_notes(None, terrain, station, 1.0)[1:],
            )
        )
    return tuple(found)


def _descent(tracks: DescentTracks, row: int) -> NDArray[np.float64]:
    """Time, latitude, longitude and height of one track from its top on, shape (4, steps)."""
    parts = (tracks.time_s, tracks.latitude_deg, tracks.longitude_deg, tracks.height_msl_m)
    path = np.stack([part[row] for part in parts])
    path = path[:, np.isfinite(path).all(axis=0)]
    if path.shape[1] == 0:
        raise ValueError(f"track {row} has no point")
    return path[:, int(path[3].argmax()) :]


def _crossing(station: Station, path: Array, last: int, terrain: Terrain) -> tuple[float, float]:
    """Time and height between the last step in sight and the next."""
    near, far = path[:, last], path[:, last + 1]
    seen, hidden = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = 0.5 * (seen + hidden)
        at = near + middle * (far - near)
        if bool(line_of_sight(*_place(station, terrain), at[1], at[2], at[3], terrain).clear[0]):
            seen = middle
        else:
            hidden = middle
    at = near + hidden * (far - near)
    return float(at[0]), float(at[3])


def _place(station: Station, ground: Terrain) -> tuple[float, float, float]:
    """Where the ray begins: never in the ground, which a coarse terrain may have higher than it is at the station."""
    lifted = max(_rise_m(station, ground), 0.0)
    return station.latitude_deg, station.longitude_deg, station.antenna_msl_m + lifted


def _rise_m(station: Station, ground: Terrain) -> float:
    """How far the terrain stands above the stated ground of the station."""
    return float(ground.height_msl_m(station.latitude_deg, station.longitude_deg)) - station.ground_msl_m


def _ellipsoid(latitude_deg: float, longitude_deg: float, height_msl_m: float, geoid: Geoid | None) -> Position:
    undulation = 0.0 if geoid is None else float(geoid.undulation_m(latitude_deg, longitude_deg))
    return Position(latitude_deg, longitude_deg, height_msl_m + undulation)


def _notes(geoid: Geoid | None, terrain: Terrain | None, station: Station, surveyed: float) -> tuple[str, ...]:
    notes = ["heights above the sea are taken as heights above the ellipsoid" if geoid is None else ""]
    notes.append(GEOMETRY_ONLY)
    if terrain is None:
        notes.append("no terrain is given: a smooth earth, as high as at the station; hills are not seen")
        return tuple(note for note in notes if note)
    if surveyed < 1.0:
        notes.append(f"the terrain is surveyed for {surveyed:.0%} of the ray only")
    rise = _rise_m(station, terrain)
    if abs(rise) > _ODD_M:
        notes.append(
            f"the terrain at the station is {abs(rise):,.0f} m {'higher' if rise > 0.0 else 'lower'} than stated: "
            "the higher of the two counts"
        )
    return tuple(note for note in notes if note)
