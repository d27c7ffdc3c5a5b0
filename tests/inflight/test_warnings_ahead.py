"""Chances of what lies ahead, counted by hand on a few straight flights. All of it is invented."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from pappus.airspace import AirspaceVolume, VerticalLimit
from pappus.ground import Countries, MapBox, Outline, Zone
from pappus.hazard import Surroundings
from pappus.inflight import Ahead, LiesAround, ahead_of
from pappus.trajectory import AscentEnd, Flights, Outcome

EPOCH = datetime(2026, 5, 1, 9, tzinfo=UTC)
NORTH = np.array([45.0, 45.1, 45.2, 45.3])
"""Of the landings, one degree east of the release; every flight goes along its own parallel."""


def flights(landed: int = 4) -> Flights:
    count = len(NORTH)
    time = np.tile(np.array([0.0, 3600.0, 5400.0]), (count, 1))
    longitude = np.tile(np.array([10.0, 10.6, 11.0]), (count, 1))
    height = np.tile(np.array([0.0, 30_000.0, 0.0]), (count, 1))
    outcome = np.array([Outcome.LANDED] * landed + [Outcome.STILL_ALOFT] * (count - landed), dtype=np.int8)
    return Flights(
        outcome, np.full(count, AscentEnd.BURST, dtype=np.int8), NORTH, longitude[:, 1], height[:, 1], time[:, 1],
        NORTH, longitude[:, 2], height[:, 2], time[:, 2], np.full(count, 5.0), time,
        np.tile(NORTH[:, None], (1, 3)), longitude, height, 0.0,
    )  # fmt: skip


def box(south: float, north: float, west: float, east: float) -> Outline:
    return Outline(((np.array([(south, west), (south, east), (north, east), (north, west)]),),))


def volume(ceiling: VerticalLimit, floor: VerticalLimit | None = None) -> AirspaceVolume:
    low = floor or VerticalLimit("msl", 0.0, "0 m")
    return AirspaceVolume("R-1", "R", low, ceiling, box(44.9, 45.15, 10.9, 11.1), "invented")


def test_two_of_four_enter_the_volume_and_when() -> None:
    around = LiesAround((volume(VerticalLimit("msl", 9_000.0, "9 km")),), zones_given=True)
    (found,) = ahead_of(flights(), around, EPOCH).airspace
    assert found.share is not None
    assert found.share.p == 0.5
    assert found.subject == "R-1"
    # down from 30 km in 1800 s: at 9 km after 3600 + 1260 s, up to one step of the track early
    assert found.first_utc is not None
    assert 3600.0 <= (found.first_utc - EPOCH).total_seconds() <= 4860.0


def test_a_flight_level_without_air_cannot_be_told() -> None:
    around = LiesAround((volume(VerticalLimit("pressure", 9_000.0, "FL 295")),), zones_given=True)
    (found,) = ahead_of(flights(), around, EPOCH).airspace
    assert found.share is None
    assert "cannot be told" in found.why_not


def test_border_permit_area_and_kept_out_ground() -> None:
    ring = np.array([(9.0, 45.05), (12.0, 45.05), (12.0, 46.0), (9.0, 46.0), (9.0, 45.05)])
    home = np.array([(9.0, 44.0), (12.0, 44.0), (12.0, 45.05), (9.0, 45.05), (9.0, 44.0)])
    countries = Countries(("Here", "There"), (((home,),), ((ring,),))).clip(MapBox(44.5, 45.8, 9.5, 11.5))
    zones = (
        Zone("permit", "permit area", box(44.0, 46.0, 9.0, 10.8), "invented"),
        Zone("village", "keep-out", box(45.25, 45.35, 10.9, 11.1), "invented"),
    )
    around = LiesAround((), None, Surroundings(zones=zones, countries=countries, home="Here"), True)
    found = ahead_of(flights(), around, EPOCH)
    assert found.airspace == ()
    (border,) = found.border
    assert border.subject == "There"
    assert border.share is not None
    assert border.share.p == 0.75
    (permit,) = found.permit_area
    assert permit.share is not None
    assert permit.share.p == 1.0
    kept_out = next(one for one in found.hazard if "kept out" in one.subject)
    assert kept_out.share is not None
    assert kept_out.share.p == 0.25
    again = ahead_of(flights(), around, EPOCH, found)
    assert next(one for one in again.hazard if "kept out" in one.subject).before == 0.25


def test_what_is_missing_is_not_none() -> None:
    found = ahead_of(flights(), LiesAround(), EPOCH)
    for chances in (found.airspace, found.border, found.permit_area, found.hazard):
        assert chances
        assert all(one.share is None and one.why_not for one in chances)


@pytest.mark.parametrize("landed", [0, 1])
def test_landings_of_few_flights_stand_for_nothing(landed: int) -> None:
    zones = (Zone("village", "keep-out", box(45.25, 45.35, 10.9, 11.1), "invented"),)
    found: Ahead = ahead_of(flights(landed), LiesAround((), surroundings=Surroundings(zones=zones)), EPOCH)
    assert all(one.share is None for one in (*found.hazard, *found.border))
