"""Volumes that flights enter: against exact chances, against finely cut tracks, and what cannot be told."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import exp, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from landings import PLANE, box, circle, flights_of, outline, ring_deg
from pappus.airspace import (
    AirspaceVolume,
    TrackEntries,
    VerticalLimit,
    chance_of_any,
    entries,
    join_entries,
    pressure_altitude_m,
    track_entries,
    volume_entries,
)
from pappus.atmosphere import Profile, standard_air
from pappus.ground import Outline
from pappus.trajectory import AscentEnd, Flights, Outcome

STANDARD = Profile.standard()


def msl(height_m: float) -> VerticalLimit:
    return VerticalLimit("msl", height_m, f"{height_m:g} m")


def volume(outlined: Outline, floor: VerticalLimit, ceiling: VerticalLimit, name: str = "invented") -> AirspaceVolume:
    return AirspaceVolume(name, "R", floor, ceiling, outlined, "invented")


def straight_up(flights: int, sd_m: float, top_msl_m: np.ndarray | float, seed: int = 1) -> Flights:
    """Up and down on the spot, at places of a round normal cloud: a track of three points."""
    east, north = sd_m * np.random.default_rng(seed).standard_normal((2, flights, 1)) * np.ones(3)
    top = np.broadcast_to(top_msl_m, (flights,))
    height = np.column_stack((np.zeros(flights), top, np.zeros(flights)))
    return flights_of([0.0, 5000.0, 8000.0], east, north, height)


def found(flights: Flights, volumes: list[AirspaceVolume], **known: object) -> TrackEntries:
    return track_entries(flights, volumes, **{"pressure_pa_at": None, "ground_msl_m_at": None, **known})


def test_a_cylinder_is_entered_as_often_as_the_normal_law_says() -> None:
    """Landing cloud round and normal: P(r < R) = 1 - exp(-R^2 / 2 sd^2), physics of a Rayleigh distance."""
    flights = straight_up(8000, 5_000.0, 30_000.0)
    answer = entries(flights, [volume(outline(circle(4_000.0)), msl(3_000.0), msl(6_000.0))], None, None)[0]
    expected = 1.0 - exp(-0.5 * (4_000.0 / 5_000.0) ** 2)
    for share in (answer.up, answer.down, answer.any):
        assert share.p == pytest.approx(expected, abs=4.0 * sqrt(expected * (1.0 - expected) / 8000))
        assert share.low < expected < share.high
    assert answer.undecided.p == 0.0
    # it climbs to 30 km in 5000 s: 3 km after 500 s, all at once
    assert answer.first_time_s == pytest.approx((500.0, 500.0, 500.0), abs=1e-6)


def test_a_high_floor_is_entered_by_the_flights_that_get_there() -> None:
    top = np.random.default_rng(3).normal(30_000.0, 1_500.0, 4000)
    flights = straight_up(4000, 5_000.0, top, seed=2)
    wide = outline(box(-90e3, 90e3, -90e3, 90e3))
    answers = entries(flights, [volume(wide, msl(31_000.0), VerticalLimit.unlimited("UNL"))], None, None)
    expected = norm.sf(31_000.0, 30_000.0, 1_500.0)
    assert answers[0].up == answers[0].down
    assert answers[0].any.p == pytest.approx(expected, abs=4.0 * sqrt(expected * (1.0 - expected) / 4000))
    assert answers[0].any.p == (top >= 31_000.0).mean()


def winding(flights: int, steps: int, seed: int) -> Flights:
    """Bent tracks up to 20-30 km and down, drifting some 60 km."""
    rng = np.random.default_rng(seed)
    share = np.linspace(0.0, 1.0, steps)
    top = rng.uniform(20e3, 30e3, (flights, 1))
    height = 300.0 + (top - 300.0) * np.interp(share, [0.0, 0.6, 1.0], [0.0, 1.0, 0.0])
    height[:, int(np.argmax(height[0]))] = top[:, 0]
    turn = rng.uniform(0.0, 6.3, (flights, 1))
    east = 30e3 * share + 8e3 * np.sin(6.0 * share + turn) * share
    north = rng.normal(0.0, 15e3, (flights, 1)) * share + 8e3 * np.cos(5.0 * share + turn) * share
    return flights_of(9000.0 * share, east, north, height)


def finely_cut(flights: Flights, one: AirspaceVolume, **known: object) -> tuple[np.ndarray, np.ndarray]:
    """Up and down by asking for the positions at a hundred points of every step: slow, and another way."""
    cuts = np.linspace(0.0, 1.0, 101)[:, None, None]

    def between(track: np.ndarray) -> np.ndarray:
        return track[:, :-1] + cuts * np.diff(track, axis=1)

    latitude, longitude, height, time = map(
        between,
        (
            flights.track_latitude_deg, flights.track_longitude_deg,
            flights.track_height_msl_m, flights.track_time_s,
        ),
    )  # fmt: skip
    inside = one.positions_inside(
        latitude,
        longitude,
        height,
        ground_msl_m=known["ground"](latitude, longitude) if "ground" in known else None,
        pressure_altitude_m=pressure_altitude_m(STANDARD.pressure_pa_at(height)) if "pressure" in known else None,
    ).inside
    rising = time < flights.top_time_s[:, None]
    return (inside & rising).any(axis=(0, 2)), (inside & ~rising).any(axis=(0, 2))


RINGS = [
    circle(9e3, 15e3, 2e3),
    box(5e3, 30e3, -20e3, 4e3),
    [(0.0, -3e3), (25e3, 20e3), (12e3, 2e3), (30e3, -18e3)],  # hollow
    circle(700.0, 22e3, 0.0),
    box(26e3, 26.2e3, -40e3, 40e3),  # thinner than a step
]


@pytest.mark.parametrize("number", range(len(RINGS)))
@pytest.mark.parametrize("steps", [12, 61])
def test_agrees_with_finely_cut_tracks(number: int, steps: int) -> None:
    flights = winding(120, steps, seed=number)
    limits = [(VerticalLimit.surface("SFC"), msl(2_500.0)), (msl(3_000.0), msl(9_000.0)), (msl(18e3), msl(26e3))]
    volumes = [volume(outline(RINGS[number]), *pair) for pair in limits]
    ours = found(flights, volumes)
    for column, one in enumerate(volumes):
        up, down = finely_cut(flights, one)
        # the cut tracks may pass over a corner that is thinner than their points lie apart, never the other way round
        assert not (up & ~ours.up[:, column]).any()
        assert not (down & ~ours.down[:, column]).any()
        assert (ours.up[:, column] & ~up).sum() + (ours.down[:, column] & ~down).sum() <= 3
    assert ours.entered.any()
    assert not ours.undecided.any()


def test_a_thin_volume_between_two_points_is_not_missed() -> None:
    east, height = np.array([[0.0, 20e3, 40e3]]), np.array([[0.0, 30e3, 0.0]])
    flights = flights_of([0.0, 4000.0, 6000.0], east, np.zeros((1, 3)), height)
    thin = volume(outline(box(9.0e3, 9.1e3, -1e3, 1e3)), msl(13e3), msl(14e3))
    beside = volume(outline(box(9.0e3, 9.1e3, -1e3, 1e3)), msl(14e3), msl(15e3))
    ours = found(flights, [thin, beside])
    # over 9.0 to 9.1 km east it climbs from 13.5 to 13.65 km
    assert ours.up.tolist() == [[True, False]]
    assert ours.down.tolist() == [[False, False]]


def test_flight_levels_follow_the_pressure_and_are_undecided_without_it() -> None:
    flights = straight_up(50, 100.0, 10_000.0)
    wide = outline(circle(50e3))
    level = volume(wide, VerticalLimit.flight_level(330, "FL330"), VerticalLimit.flight_level(600, "FL600"))
    # FL330 is 10 058 m of pressure altitude (ICAO Annex 2): not reached in standard air ...
    assert found(flights, [level], pressure_pa_at=STANDARD).undecided.any() == np.False_
    assert not found(flights, [level], pressure_pa_at=STANDARD).entered.any()

    # ... and reached where the air at each height has the pressure of 100 m higher up
    def thin(latitude: object, longitude: object, height: np.ndarray, time: object) -> np.ndarray:
        return standard_air(height + 100.0).pressure_pa

    assert found(flights, [level], pressure_pa_at=thin).up.all()
    unknown = volume_entries(found(flights, [level]), [level])[0]
    assert (unknown.any.p, unknown.undecided.p, unknown.at_most.p) == (0.0, 1.0, 1.0)
    # a level far above the flight is no question of pressure
    high = volume(wide, VerticalLimit.flight_level(500, "FL500"), VerticalLimit.flight_level(600, "FL600"))
    assert not found(flights, [high]).undecided.any()
    # a column that ends below the flight cannot tell
    short = Profile.standard(5_000.0)
    assert found(flights, [level], pressure_pa_at=short).undecided.all()


def test_limits_above_ground_need_the_ground() -> None:
    flights = straight_up(40, 100.0, 8_000.0)
    low = volume(outline(circle(50e3)), VerticalLimit("ground", 6_000.0, "6000 m AGL"), msl(7_500.0))
    assert found(flights, [low]).undecided.all()
    assert found(flights, [low], ground_msl_m_at=lambda north, east: np.full(north.shape, 1_000.0)).up.all()
    outside = found(flights, [low], ground_msl_m_at=lambda north, east: np.full(north.shape, 1_600.0))
    assert not (outside.entered | outside.undecided).any()
    holes = found(flights, [low], ground_msl_m_at=lambda north, east: np.full(north.shape, np.nan))
    assert holes.undecided.all()


def test_a_ridge_between_two_points_of_the_track_is_seen() -> None:
    """Level flight at 2000 m over a ridge of 1500 m that is 1 km wide: below 600 m above ground only over it."""
    flights = flights_of([0.0, 1000.0], np.array([[0.0, 40e3]]), np.zeros((1, 2)), np.array([[2000.0, 2000.0]]))

    def ridge(north: np.ndarray, east: np.ndarray) -> np.ndarray:
        return np.where(np.abs(PLANE.to_east_north_m(north, east)[0] - 23e3) < 500.0, 1500.0, 0.0)

    low = volume(outline(circle(90e3)), VerticalLimit.surface("SFC"), VerticalLimit("ground", 600.0, "600 m AGL"))
    assert found(flights, [low], ground_msl_m_at=ridge).entered.all()
    assert not found(flights, [low], ground_msl_m_at=lambda north, east: 0.0 * north).entered.any()


def test_an_unknown_limit_is_undecided_inside_and_outside_beside_it() -> None:
    flights = straight_up(30, 50.0, 8_000.0)
    here = volume(outline(circle(5e3)), VerticalLimit.unknown("BY NOTAM"), msl(9_000.0))
    there = volume(outline(circle(5e3, 60e3)), VerticalLimit.unknown("BY NOTAM"), msl(9_000.0))
    ours = found(flights, [here, there])
    assert ours.undecided[:, 0].all()
    assert not (ours.undecided | ours.entered)[:, 1].any()


def test_flights_that_did_not_land_are_undecided_for_the_rest_of_their_way() -> None:
    flights = straight_up(10, 50.0, 8_000.0)
    outcome, ascent_end = np.zeros(10, np.int8), np.ones(10, np.int8)
    outcome[:2], ascent_end[0] = (Outcome.STILL_ALOFT, Outcome.LEFT_COVERAGE), AscentEnd.NONE
    flights = replace(flights, outcome=outcome, ascent_end=ascent_end)
    entered = volume(outline(circle(5e3)), msl(1_000.0), msl(2_000.0))
    elsewhere = volume(outline(circle(5e3, 90e3)), msl(1_000.0), msl(2_000.0))
    ours = found(flights, [entered, elsewhere])
    assert ours.undecided[:, 0].tolist() == [False] * 10
    assert ours.undecided[:, 1].tolist() == [True, True] + [False] * 8
    assert ours.may_up[:, 1].tolist() == [True] + [False] * 9
    answer = volume_entries(ours, [entered, elsewhere])[1]
    assert (answer.any.p, answer.undecided.p, answer.at_most.p) == (0.0, 0.2, 0.2)


def test_blocks_joined_are_the_whole_and_the_order_of_flights_does_not_matter() -> None:
    flights, volumes = winding(60, 30, seed=9), [volume(outline(ring), msl(1e3), msl(12e3)) for ring in RINGS]
    whole = found(flights, volumes)
    order = np.random.default_rng(0).permutation(60)
    tracks = ("track_time_s", "track_latitude_deg", "track_longitude_deg", "track_height_msl_m")
    each = (*tracks, "outcome", "ascent_end", "top_time_s")

    def some(which: np.ndarray) -> Flights:
        return replace(flights, **{name: getattr(flights, name)[which] for name in each})

    blocks = [found(some(np.arange(first, first + 20)), volumes) for first in (0, 20, 40)]
    joined = join_entries(blocks)
    assert np.array_equal(joined.up, whole.up)
    assert np.array_equal(joined.first_time_s, whole.first_time_s, equal_nan=True)
    shuffled = found(some(order), volumes)
    member = np.arange(60) % 7
    nominal = np.arange(60) % 5 > 0
    assert volume_entries(whole, volumes, member=member, nominal=nominal) == volume_entries(
        shuffled, volumes, member=member[order], nominal=nominal[order]
    )


@given(
    st.lists(st.tuples(st.floats(-20e3, 40e3), st.floats(-20e3, 20e3), st.floats(500.0, 12e3)), min_size=1, max_size=6)
)
def test_another_volume_never_lowers_the_chance_to_enter_any(discs: list[tuple[float, float, float]]) -> None:
    flights = winding(40, 20, seed=4)
    volumes = [volume(outline(circle(radius, east, north)), msl(2e3), msl(15e3)) for east, north, radius in discs]
    ours = found(flights, volumes)
    shares = [chance_of_any(ours, np.arange(len(volumes)) < count) for count in range(len(volumes) + 1)]
    assert shares[0].at_most.p == 0.0
    for fewer, more in pairwise(shares):
        assert more.any.p >= fewer.any.p
        assert more.at_most.p >= fewer.at_most.p
    highest = max(one.any.p for one in volume_entries(ours, volumes))
    assert highest <= shares[-1].any.p <= 1.0


def test_over_the_date_line() -> None:
    """The same flight and volume a hundred and seventy degrees further on."""
    flights = winding(50, 30, seed=6)
    here = volume(outline(RINGS[0]), msl(1e3), msl(20e3))
    move = 169.85
    longitude = (flights.track_longitude_deg + move + 180.0) % 360.0 - 180.0
    assert longitude.min() < -179.0
    assert longitude.max() > 179.0
    moved = replace(flights, track_longitude_deg=longitude)
    ring = ring_deg(RINGS[0]) + np.array([0.0, move])
    ring[:, 1] = (ring[:, 1] + 180.0) % 360.0 - 180.0
    there = replace(here, outline=Outline(((ring,),)))
    assert np.array_equal(found(moved, [there]).up, found(flights, [here]).up)
    assert found(moved, [there]).up.any()


def test_tracks_of_some_flights_stand_for_all_and_none_is_refused() -> None:
    whole = winding(30, 20, seed=8)
    some = np.arange(0, 30, 3)
    tracks = ("track_time_s", "track_latitude_deg", "track_longitude_deg", "track_height_msl_m")
    few = replace(whole, track_of=some, **{name: getattr(whole, name)[some] for name in tracks})
    volumes = [volume(outline(RINGS[1]), msl(1e3), msl(20e3))]
    answer = entries(few, volumes, None, None, nominal=np.arange(30) % 2 == 0, member=np.arange(30))[0]
    assert answer.flights == 10
    assert answer.any.p == found(whole, volumes).entered[some].mean()
    none = replace(whole, track_of=some[:0], **{name: getattr(whole, name)[:0] for name in tracks})
    with pytest.raises(ValueError, match="no flight has a track"):
        entries(none, volumes, None, None)
