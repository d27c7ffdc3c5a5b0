"""Whether the way of a flight leaves an area: between two points of a track, without a track, and over a border."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from landings import Ring, box, circle, descents_at, flights_of, outline, ring_deg, shapes
from pappus.ground import Countries, GroundFeatures, MapBox, Outline, Zone
from pappus.hazard import Leaves, Surroundings, ground_hazard, leaves_area

# a horseshoe that opens to the north
HORSESHOE = [
    (-20e3, -20e3), (20e3, -20e3), (20e3, 20e3), (10e3, 20e3),
    (10e3, -10e3), (-10e3, -10e3), (-10e3, 20e3), (-20e3, 20e3),
]  # fmt: skip


def permit(*rings: Ring) -> Zone:
    return Zone("permit", "permit area", outline(*rings), "invented")


def test_a_way_across_the_opening_leaves_though_both_its_points_are_inside() -> None:
    east = np.array([[-15e3, -15e3, -15e3], [-15e3, 0.0, 15e3], [-15e3, 15e3, 15e3]])
    north = np.array([[-15e3, 0.0, 10e3], [-15e3, -15e3, -15e3], [10e3, 10e3, -15e3]])
    flights = flights_of([0.0, 100.0, 200.0], east, north, np.tile([0.0, 9e3, 0.0], (3, 1)))
    assert leaves_area(flights, [permit(HORSESHOE)]).tolist() == [Leaves.NO, Leaves.NO, Leaves.YES]
    # with the gap permitted too, it stays inside the two taken together
    both = [permit(HORSESHOE), permit(box(-11e3, 11e3, -11e3, 20e3))]
    assert leaves_area(flights, both).tolist() == [Leaves.NO, Leaves.NO, Leaves.NO]


def test_what_is_not_tracked_or_has_not_landed_cannot_be_told() -> None:
    east = np.array([[0.0, 1e3], [0.0, 1e3], [0.0, 60e3], [0.0, 1e3], [0.0, 60e3]])
    flights = flights_of(
        [0.0, 100.0], east, 0.0 * east, np.tile([9e3, 0.0], (5, 1)),
        landed=np.array([True, False, True, True, False]), track_of=np.array([0, 1, 2]),
    )  # fmt: skip
    unsure, left = Leaves.CANNOT_TELL, Leaves.YES
    # the fourth has no track; the last known position of the fifth lies outside
    assert leaves_area(flights, [permit(circle(30e3))]).tolist() == [Leaves.NO, unsure, left, unsure, left]


def test_blocks_of_flights_and_the_date_line() -> None:
    rng = np.random.default_rng(5)
    east = np.cumsum(rng.normal(0.0, 4e3, (60, 25)), axis=1)
    north = np.cumsum(rng.normal(0.0, 4e3, (60, 25)), axis=1)
    height = np.tile(np.interp(np.arange(25.0), [0.0, 15.0, 24.0], [0.0, 3e4, 0.0]), (60, 1))
    whole = flights_of(np.arange(25.0), east, north, height)
    found = leaves_area(whole, [permit(circle(30e3))])
    # an area without dents is left when a point is outside, but for a bulge less than a chord of its 360 corners
    outside = np.hypot(east, north).max(axis=1)
    unsure = np.abs(outside - 30e3) < 20.0
    assert np.array_equal((found == Leaves.YES)[~unsure], (outside > 30e3)[~unsure])
    assert 5 < (found == Leaves.YES).sum() < 55
    halves = [
        leaves_area(flights_of(np.arange(25.0), east[part], north[part], height[part]), [permit(circle(30e3))])
        for part in (slice(0, 30), slice(30, 60))
    ]
    assert np.array_equal(np.concatenate(halves), found)
    names = ("top_longitude_deg", "end_longitude_deg", "track_longitude_deg")
    moved = replace(whole, **{name: (getattr(whole, name) + 170.0 + 180.0) % 360.0 - 180.0 for name in names})
    ring = ring_deg(circle(30e3)) + np.array([0.0, 170.0])
    ring[:, 1] = (ring[:, 1] + 180.0) % 360.0 - 180.0
    there = Zone("permit", "permit area", Outline(((ring,),)), "invented")
    assert np.array_equal(leaves_area(moved, [there]), found)


def test_the_permit_area_in_the_answer() -> None:
    east = np.linspace(-40e3, 40e3, 81)
    descents = descents_at(east, 0.0 * east)
    surroundings = Surroundings(zones=(permit(box(-20.5e3, 20.5e3, -9e3, 9e3)),))
    landing_only = ground_hazard(descents, surroundings)
    assert landing_only.lands_outside_permit_area.share.p == 40 / 81
    assert landing_only.leaves_permit_area is None
    assert "tracks" in landing_only.why_not["leaves_permit_area"]
    leaves = np.array([Leaves.YES] * 50 + [Leaves.CANNOT_TELL] * 10 + [Leaves.NO] * 21, dtype=np.int8)
    told = ground_hazard(descents, surroundings, leaves_permit_area=leaves)
    assert told.leaves_permit_area.share.p == 50 / 81
    assert told.leaves_permit_area.unknown.p == 10 / 81


def test_abroad_is_certain_only_beyond_the_error_of_the_border() -> None:
    """Two invented countries that meet on the meridian of 10 degrees east; one has a coast at 11 degrees."""

    def country(west: float, east: float) -> tuple[tuple[np.ndarray, ...], ...]:
        ring = [(west, 48.0), (east, 48.0), (east, 52.0), (west, 52.0), (west, 48.0)]
        return ((np.array(ring),),)

    earth = Countries(("Westland", "Eastland"), (country(8.0, 10.0), country(10.0, 11.0)))
    borders = earth.clip(MapBox(49.0, 51.0, 8.8, 11.8), tolerance_m=2_000.0)
    east = np.array([-60e3, -5e3, -2.5e3, -1e3, 0.0, 1e3, 2.5e3, 30e3, 80e3])
    hazard = ground_hazard(descents_at(east, 0.0 * east), Surroundings(countries=borders, home="Westland"))
    assert hazard.abroad.share.p == 2 / 9
    assert hazard.abroad.unknown.p == 3 / 9
    by_name = dict(hazard.countries)
    assert by_name["Westland"].share.p == 3 / 9
    assert by_name["Eastland"].share.p == 2 / 9
    # 11 degrees east is 71.7 km from there: the last landed at sea
    assert hazard.sea.share.p == 1 / 9
    assert hazard.sea.unknown.p == 0.0
    # no map of lakes and rivers: everything on land may be wet
    assert hazard.wet.unknown.p == 8 / 9
    assert earth.name_at(50.0, 10.5) == "Eastland"
    assert earth.name_at(50.0, 11.02) == "Eastland"
    assert earth.name_at(50.0, 12.0) is None
    # a map without a coast shows no sea, and where the two disagree it cannot be told
    empty = {kind: shapes("areas") for kind in ("sea", "sea_or_land")}
    everywhere = GroundFeatures(MapBox(49.0, 51.0, 8.8, 11.8), empty)
    doubtful = ground_hazard(descents_at(east, 0.0 * east), Surroundings(everywhere, countries=borders))
    assert doubtful.sea.share.p == 0.0
    assert doubtful.sea.unknown.p == 1 / 9
    homeless = ground_hazard(descents_at(east, 0.0 * east), Surroundings(countries=borders))
    assert homeless.abroad is None
    assert "country of the release" in homeless.why_not["abroad"]
