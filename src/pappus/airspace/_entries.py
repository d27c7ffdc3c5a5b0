"""Which volumes of airspace an ensemble of flights enters, on the way up and on the way down, and how likely.

A planning aid: it knows only the volumes it is given, not their hours, and files nothing with anyone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.airspace._between import (
    GroundAt,
    Mask,
    PressureAt,
    band_msl_m,
    fine_stretches,
    ground_of,
    part_between,
    pressure_altitude_of,
)
from pappus.airspace._stretches import Array, Ends, Indices, Tracks
from pappus.airspace._volume import AirspaceVolume
from pappus.atmosphere import Profile
from pappus.landing import Share, share_over_members
from pappus.trajectory import AscentEnd, Flights

QUANTILES = (0.05, 0.5, 0.95)


@dataclass(frozen=True, eq=False)
class TrackEntries:
    """What each tracked flight does with each volume; arrays have shape (flights, volumes).

    Where a flight does neither "enter" nor "may enter", its whole way is known to stay outside.
    """

    up: Mask
    down: Mask
    may_up: Mask
    """It cannot be told: a pressure, the ground or the rest of the flight is not known. Never where it enters."""
    may_down: Mask
    first_time_s: Array
    """After the release that was planned: start of the stretch of track in which it first enters, up to one step of
    the track early; NaN where it does not."""

    @property
    def entered(self) -> Mask:
        """Up or down."""
        return np.asarray(self.up | self.down)

    @property
    def undecided(self) -> Mask:
        """It may enter, and is not known to."""
        return np.asarray((self.may_up | self.may_down) & ~self.entered)


@dataclass(frozen=True)
class VolumeEntry:
    """One volume of airspace: the chance to enter it, over all flights whose tracks were compared."""

    volume: AirspaceVolume
    up: Share
    """On the way up, as far as it can be told ..."""
    down: Share
    any: Share
    """Up or down."""
    nominal: Share | None
    """Up or down, over the flights whose balloon and canopy do what they should; None when that was not asked."""
    undecided: Share
    """Flights that may enter: their pressure or ground, or the rest of their way, is not known."""
    at_most: Share
    """Flights that enter or may: the number to hold against a limit."""
    first_time_s: tuple[float, ...] | None
    """After the planned release, 5, 50 and 95 % of the flights that enter; None when none does."""
    flights: int


@dataclass(frozen=True)
class EntryChance:
    """Chance to enter at least one of several volumes."""

    any: Share
    undecided: Share
    at_most: Share
    flights: int


def entries(
    flights: Flights,
    volumes: Sequence[AirspaceVolume],
    pressure_pa_at: PressureAt | Profile | None,
    ground_msl_m_at: GroundAt | None,
    *,
    nominal: ArrayLike | None = None,
    member: ArrayLike | None = None,
) -> tuple[VolumeEntry, ...]:
    """The chance to enter each volume, over the flights that have tracks: those stand for all.

    Where the tracks of all flights do not fit in memory, call ``track_entries`` on one block after another and put the
    blocks together with ``join_entries`` and ``volume_entries``.

    :param pressure_pa_at: air pressure at latitude, longitude, height and time of a track, or one column of air for
        all; flight levels are undecided without it and where it gives NaN.
    :param ground_msl_m_at: such as ``Terrain.height_msl_m``; limits above ground are undecided without it.
    :param nominal: for all flights, which do what they should.
    :param member: for all flights, the forecast member that each saw.
    :raises ValueError: there is no track.
    """
    tracked = flights.tracked
    found = track_entries(flights, volumes, pressure_pa_at=pressure_pa_at, ground_msl_m_at=ground_msl_m_at)
    return volume_entries(
        found,
        volumes,
        nominal=None if nominal is None else np.asarray(nominal)[tracked],
        member=None if member is None else np.asarray(member)[tracked],
    )


def track_entries(
    flights: Flights,
    volumes: Sequence[AirspaceVolume],
    *,
    pressure_pa_at: PressureAt | Profile | None,
    ground_msl_m_at: GroundAt | None,
) -> TrackEntries:
    """What every flight that has a track does with every volume; a block of an ensemble or all of it.

    Between two points of a track the flight goes straight in latitude, longitude and height, and no crossing is
    missed. Volumes over more than half a turn of longitude are out of reach.
    """
    tracks, tracked = Tracks.of(flights), flights.tracked
    shape = (len(tracked), len(volumes))
    up, down, may_up, may_down = (np.zeros(shape, dtype=np.bool_) for _ in range(4))
    first_time = np.full(shape, np.nan)
    top_time = flights.top_time_s[tracked]
    altitude_at, ground_at = pressure_altitude_of(pressure_pa_at), ground_of(ground_msl_m_at)
    for column, volume in enumerate(volumes):
        south, north, west, east = volume.outline.bounds_deg
        turn = 360.0 * round((0.5 * (west + east) - tracks.longitude_deg) / 360.0)
        box = np.array([south, north, west - turn, east - turn, *band_msl_m(volume.floor, volume.ceiling)])
        flight, start, end = tracks.stretches_in(box)
        if not len(flight):
            continue
        if "ground" in (volume.floor.kind, volume.ceiling.kind):
            flight, start, end = fine_stretches(flight, start, end)
        first, last, uncertain = part_between(
            volume.floor, volume.ceiling, start, end, pressure_altitude_at=altitude_at, ground_at=ground_at
        )
        low, high = start.toward(end, first), start.toward(end, last)
        passes = first <= last
        rising = start.time_s < top_time[flight]
        legs = ((rising, up, may_up), (end.time_s > top_time[flight], down, may_down))
        for on_leg, sure, may in legs:
            for certain, result in ((~uncertain, sure), (uncertain, may)):
                chosen = np.flatnonzero(passes & on_leg & certain)
                hit = _first_inside(volume, flight[chosen], low.some(chosen), high.some(chosen), turn)
                met = chosen[hit]
                result[flight[met], column] = True
                if result is sure:
                    old = first_time[flight[met], column]
                    first_time[flight[met], column] = np.fmin(old, low.time_s[met] - flights.release_time_s)
    unknown = ~flights.landed[tracked]
    still_rising = unknown & (flights.ascent_end[tracked] == AscentEnd.NONE)
    may_up |= still_rising[:, None]
    may_down |= unknown[:, None]
    return TrackEntries(up, down, may_up & ~up, may_down & ~down, first_time)


def join_entries(blocks: Sequence[TrackEntries]) -> TrackEntries:
    """Blocks of flights as one, in the order given; all compared with the same volumes."""
    return TrackEntries(
        *(
            np.concatenate([getattr(block, name) for block in blocks])
            for name in ("up", "down", "may_up", "may_down", "first_time_s")
        )
    )


def volume_entries(
    found: TrackEntries,
    volumes: Sequence[AirspaceVolume],
    *,
    nominal: ArrayLike | None = None,
    member: ArrayLike | None = None,
) -> tuple[VolumeEntry, ...]:
    """The chances of each volume from what the flights do; ``nominal`` and ``member`` are of those same flights.

    Raises ValueError without a flight.
    """
    members = _members(found, member)
    chosen = None if nominal is None else np.flatnonzero(np.asarray(nominal, dtype=np.bool_))
    entered, undecided = found.entered, found.undecided
    answers = []
    for column, volume in enumerate(volumes):
        times = found.first_time_s[entered[:, column], column]
        answers.append(
            VolumeEntry(
                volume=volume,
                up=share_over_members(found.up[:, column], members),
                down=share_over_members(found.down[:, column], members),
                any=share_over_members(entered[:, column], members),
                nominal=None
                if chosen is None or not chosen.size
                else share_over_members(entered[chosen, column], members[chosen]),
                undecided=share_over_members(undecided[:, column], members),
                at_most=share_over_members((entered | undecided)[:, column], members),
                first_time_s=tuple(float(value) for value in np.quantile(times, QUANTILES, method="median_unbiased"))
                if times.size
                else None,
                flights=len(members),
            )
        )
    return tuple(answers)


def chance_of_any(found: TrackEntries, which: ArrayLike, *, member: ArrayLike | None = None) -> EntryChance:
    """Chance to enter at least one of the volumes that ``which`` marks, such as those without permission.

    :param which: true for the volumes that count, one a volume.
    :raises ValueError: there is no flight.
    """
    chosen, members = np.asarray(which, dtype=np.bool_), _members(found, member)
    entered = found.entered[:, chosen].any(axis=1)
    undecided = found.undecided[:, chosen].any(axis=1) & ~entered
    return EntryChance(
        any=share_over_members(entered, members),
        undecided=share_over_members(undecided, members),
        at_most=share_over_members(entered | undecided, members),
        flights=len(members),
    )


def _members(found: TrackEntries, member: ArrayLike | None) -> NDArray[np.intp]:
    flights = len(found.up)
    if not flights:
        raise ValueError("no flight has a track: fly with tracks to compare them with airspace")
    return np.zeros(flights, dtype=np.intp) if member is None else np.asarray(member)


def _first_inside(volume: AirspaceVolume, flight: Indices, low: Ends, high: Ends, turn_deg: float) -> Indices:
    """Number of the first of its stretches with which each flight meets the outline; they lie in order of time."""
    import shapely

    if not len(flight):
        return np.zeros(0, dtype=np.intp)
    outline = volume.outline.flat
    begins = shapely.contains_xy(outline, low.longitude_deg + turn_deg, low.latitude_deg)
    # lines cost ten times as much as points: only those before the first point inside are drawn
    before = np.arange(len(flight)) < _first_of(flight, begins)[flight]
    drawn = np.flatnonzero(before)
    ends = [np.column_stack((one.longitude_deg[drawn] + turn_deg, one.latitude_deg[drawn])) for one in (low, high)]
    begins[drawn] = shapely.intersects(outline, shapely.linestrings(np.stack(ends, axis=1)))
    first = _first_of(flight, begins)
    return first[first < len(flight)]


def _first_of(flight: Indices, true: Mask) -> Indices:
    """For every number of a flight the first row that is true, or the number of rows."""
    first = np.full(int(flight.max()) + 1, len(flight), dtype=np.intp)
    rows = np.flatnonzero(true)[::-1]
    first[flight[rows]] = rows  # the last to be written is the first row
    return first
