"""Volumes of a real airspace file: entries of invented flights over it against the positions of finely cut tracks."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from landings import PLANE, flights_of
from pappus.airspace import AirspaceVolume, pressure_altitude_m, track_entries
from pappus.atmosphere import Profile
from pappus.sources import read_openair
from pappus.trajectory import Flights

GROUND_MSL_M = 900.0
STANDARD = Profile.standard()


def over(north_deg: float, east_deg: float, flights: int) -> Flights:
    """Invented flights that start within 17 km of a place: 25 km up in 80 minutes, down in 40, drifting some 40 km."""
    rng = np.random.default_rng(12)
    share = np.linspace(0.0, 1.0, 121)
    height = np.interp(share, [0.0, 2.0 / 3.0, 1.0], [GROUND_MSL_M, 25e3, GROUND_MSL_M]) * np.ones((flights, 1))
    start, drift = rng.uniform(-12e3, 12e3, (2, flights, 1)), rng.normal(0.0, 30e3, (2, flights, 1))
    wind = drift * share**1.5
    found = flights_of(7200.0 * share, start[0] + wind[0], start[1] + wind[1], height)
    names = ("track_latitude_deg", "top_latitude_deg", "end_latitude_deg")
    for name in names:
        object.__setattr__(found, name, getattr(found, name) - PLANE.latitude_deg + north_deg)
        east = name.replace("latitude", "longitude")
        object.__setattr__(found, east, getattr(found, east) - PLANE.longitude_deg + east_deg)
    return found


@pytest.mark.parametrize("name", ["openair_ksgu-airspaces.txt", "openair_ksgu-ultralight-restricted-airspaces.txt"])
def test_real_volumes_against_positions(name: str, shared_data: Callable[[str], Path]) -> None:
    volumes = list(read_openair(shared_data(f"geo/{name}")).volumes)
    for volume in volumes:
        middle = np.mean(np.reshape(volume.outline.bounds_deg, (2, 2)), axis=1)
        assert compare(over(*middle, flights=150), volumes)[volumes.index(volume)] > 0


def compare(flights: Flights, volumes: list[AirspaceVolume]) -> NDArray[np.int64]:
    """How many flights enter each volume, once the positions say the same."""
    found = track_entries(
        flights,
        volumes,
        pressure_pa_at=STANDARD,
        ground_msl_m_at=lambda north, east: np.full(north.shape, GROUND_MSL_M),
    )
    assert not found.undecided.any()
    cuts = np.linspace(0.0, 1.0, 21)[:, None, None]
    latitude, longitude, height = (
        track[:, :-1] + cuts * np.diff(track, axis=1)
        for track in (flights.track_latitude_deg, flights.track_longitude_deg, flights.track_height_msl_m)
    )
    pressure = pressure_altitude_m(STANDARD.pressure_pa_at(height))
    missed = extra = 0
    for column, volume in enumerate(volumes):
        at = volume.positions_inside(
            latitude, longitude, height, ground_msl_m=GROUND_MSL_M, pressure_altitude_m=pressure
        ).inside.any(axis=(0, 2))
        missed += int((at & ~found.entered[:, column]).sum())
        extra += int((found.entered[:, column] & ~at).sum())
    # twenty points of a step of 1 to 2 km may pass over a corner; nothing that they find may be missing here
    assert missed == 0
    assert extra <= 0.01 * found.entered.sum() + 1
    return found.entered.sum(axis=0)
