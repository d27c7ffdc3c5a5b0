"""Chances on the ground against clouds of landings whose chances are known exactly, and against brute force."""

from __future__ import annotations

from dataclasses import fields, replace
from math import exp, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from landings import PLANE, Ring, box, circle, descents_at, outline, round_cloud, shapes
from pappus.ground import FlatGround, GroundFeatures, MapBox, MapShapes, TerrainGrid, Zone
from pappus.hazard import Chance, Clearances, Descents, GroundHazard, Surroundings, ground_hazard

MAP = MapBox(49.5, 50.5, 9.2, 10.8)
SD_M, FLIGHTS = 4_000.0, 6_000
EMPTY = {
    "water": shapes("areas"), "waterway": shapes("lines"), "sea": shapes("areas"), "sea_or_land": shapes("areas"),
    "building": shapes("areas"), "building_point": shapes("points"), "railway": shapes("lines"),
    "power_line": shapes("lines"), "power_tower": shapes("points"), "substation": shapes("areas"),
}  # fmt: skip


def features(limits: MapBox = MAP, **kinds: MapShapes) -> GroundFeatures:
    return GroundFeatures(limits, {**EMPTY, **kinds})


def zone(role: str, *rings: Ring, name: str = "invented") -> Zone:
    return Zone(name, role, outline(*rings), "invented")


def cloud(seed: int = 1, **more: object) -> Descents:
    return descents_at(*round_cloud(FLIGHTS, SD_M, seed), **more)


def assert_near(chance: Chance | None, expected: float) -> None:
    """Within four standard errors of the exact chance, and the interval is as wide as the flights allow."""
    assert chance is not None
    error = sqrt(expected * (1.0 - expected) / FLIGHTS)
    assert chance.share.p == pytest.approx(expected, abs=4.0 * error)
    assert 3.0 * error < chance.share.high - chance.share.low < 5.0 * error


def test_half_a_plane_of_water() -> None:
    lake = shapes("areas", box(2_000.0, 38e3, -38e3, 38e3))
    hazard = ground_hazard(cloud(), Surroundings(features(water=lake)))
    assert_near(hazard.water, norm.sf(2_000.0 / SD_M))
    assert hazard.water is not None
    assert hazard.water.unknown.p == 0.0
    assert hazard.water.place_deg is not None
    assert PLANE.to_east_north_m(*hazard.water.place_deg)[0] > 2_000.0


def test_a_settled_area_is_built_up_without_a_single_building() -> None:
    """Rayleigh distances again; a map that draws no such areas is judged by its buildings alone."""
    settled = shapes("areas", circle(3_000.0))
    assert_near(ground_hazard(cloud(4), Surroundings(features(built_up=settled))).built_up, 1.0 - exp(-0.5 * 0.75**2))
    bare = ground_hazard(cloud(4), Surroundings(features())).built_up
    assert bare is not None
    assert bare.share.p == 0.0


def test_a_disc_that_is_forbidden_and_a_ring_that_is_allowed() -> None:
    """Rayleigh distances: P(r < R) = 1 - exp(-R^2 / 2 sd^2)."""
    zones = (zone("keep-out", circle(3_000.0)), zone("permitted landing", circle(9_000.0), circle(5_000.0)))
    hazard = ground_hazard(cloud(2), Surroundings(zones=zones))
    assert_near(hazard.keep_out, 1.0 - exp(-0.5 * (3.0 / 4.0) ** 2))
    assert_near(hazard.permitted, exp(-0.5 * (5.0 / 4.0) ** 2) - exp(-0.5 * (9.0 / 4.0) ** 2))
    assert [one[1] for one in hazard.zones] == [hazard.keep_out, hazard.permitted]


def test_a_power_line_and_a_railway_are_met_within_their_clearance() -> None:
    lines = {
        "power_line": shapes("lines", [(1_000.0, -39e3), (1_000.0, 39e3)]),
        "railway": shapes("lines", [(-39e3, -500.0), (39e3, -500.0)]),
    }
    clear = Clearances(power_line_m=400.0, railway_m=250.0)
    hazard = ground_hazard(cloud(3), Surroundings(features(**lines), clearances=clear))
    assert_near(hazard.power_line, norm.cdf(1_400.0 / SD_M) - norm.cdf(600.0 / SD_M))
    assert_near(hazard.rail, norm.cdf(-250.0 / SD_M) - norm.cdf(-750.0 / SD_M))


def test_houses_on_a_grid_against_brute_force() -> None:
    """Every landing against every house, by the distance to a square."""
    grid = [100.0 * step for step in range(-90, 91, 15)]
    corners = [(east, north) for east in grid for north in grid]
    houses = shapes("areas", *(box(east, east + 60.0, north, north + 40.0) for east, north in corners))
    east, north = round_cloud(FLIGHTS, SD_M, 4)
    hazard = ground_hazard(descents_at(east, north), Surroundings(features(building=houses)))
    away = np.full(FLIGHTS, np.inf)
    for west, south in corners:
        beside = np.maximum(np.maximum(west - east, east - west - 60.0), 0.0)
        above = np.maximum(np.maximum(south - north, north - south - 40.0), 0.0)
        away = np.minimum(away, np.hypot(beside, above))
    unsure = int((np.abs(away - 50.0) < 0.01).sum())
    assert hazard.built_up is not None
    assert hazard.built_up.share.p * FLIGHTS == pytest.approx((away <= 50.0).sum(), abs=unsure)
    assert 0 < (away <= 50.0).sum() < FLIGHTS


def test_landings_beyond_the_map_are_unknown_and_not_safe() -> None:
    east, north = round_cloud(FLIGHTS, SD_M, 5)
    half = MapBox(49.5, 50.5, 9.2, 10.0)
    lake = shapes("areas", box(-38e3, -6e3, -38e3, 38e3))
    hazard = ground_hazard(descents_at(east, north), Surroundings(features(half, water=lake)))
    wet, built_up = hazard.water, hazard.built_up
    assert wet is not None
    assert built_up is not None
    assert wet.unknown.p == pytest.approx((east > 0.0).mean(), abs=5e-3)
    # a building could stand just outside, where the map does not show it
    assert built_up.unknown.p == pytest.approx((east > -50.0).mean(), abs=1e-3)
    assert built_up.unknown.p > wet.unknown.p
    assert wet.at_most.p == pytest.approx(wet.share.p + wet.unknown.p)
    assert hazard.acceptable is None
    # far beyond any map the trees are not even asked
    away = descents_at(np.array([0.0, 450e3]), np.zeros(2))
    assert ground_hazard(away, Surroundings(features())).water.unknown.p == 0.5


def test_flights_that_did_not_land_are_unknown_in_every_chance() -> None:
    landed = np.arange(FLIGHTS) % 10 > 0
    zones = (zone("keep-out", circle(3_000.0)), zone("permit area", circle(80e3)))
    surroundings = Surroundings(features(water=shapes("areas", circle(2_000.0))), zones=zones)
    hazard = ground_hazard(cloud(6, landed=landed), surroundings)
    chances = [getattr(hazard, field.name) for field in fields(GroundHazard)]
    seen = [one for one in chances if isinstance(one, Chance)]
    assert len(seen) >= 7
    for one in seen:
        assert one.unknown.p == pytest.approx(0.1)
        assert one.at_most.p == pytest.approx(one.share.p + 0.1)
        assert one.at_most.high >= one.share.high
    assert hazard.not_landed.p == pytest.approx(0.1)
    none = ground_hazard(cloud(6, landed=False), surroundings)
    assert none.water is not None
    assert (none.water.share.p, none.water.unknown.p) == (0.0, 1.0)
    assert none.landing_height_msl_m is None


def test_without_anything_known_every_answer_has_its_reason() -> None:
    hazard = ground_hazard(cloud(), Surroundings())
    missing = [field.name for field in fields(GroundHazard) if getattr(hazard, field.name) is None]
    assert set(missing) == set(hazard.why_not)
    assert all(hazard.why_not.values())
    assert hazard.zones == ()
    assert hazard.countries == ()
    assert {"water", "road", "steep", "keep_out", "abroad", "casualties", "retrieval"} <= set(missing)
    assert hazard.landing_height_msl_m is not None
    assert hazard.landing_height_msl_m.values == (300.0, 300.0, 300.0)


def test_a_kind_that_the_map_was_not_read_for_is_no_clear_ground() -> None:
    without = {kind: shape for kind, shape in EMPTY.items() if kind != "power_tower"}
    hazard = ground_hazard(cloud(), Surroundings(GroundFeatures(MAP, without)))
    assert hazard.power_line is None
    assert "power_tower" in hazard.why_not["power_line"]
    assert hazard.rail is not None


def test_ground_that_may_be_sea_or_land_is_unknown() -> None:
    doubt = shapes("areas", box(0.0, 38e3, -38e3, 38e3))
    hazard = ground_hazard(cloud(7), Surroundings(features(sea_or_land=doubt)))
    assert hazard.sea is not None
    assert hazard.sea.share.p == 0.0
    assert hazard.sea.unknown.p == pytest.approx(0.5, abs=0.03)


def test_few_members_widen_the_interval_and_the_order_of_flights_does_not_matter() -> None:
    """Two members, of which one lands in the lake: the flights say 0.50 +- 0.01, the members say nothing."""
    east, north = round_cloud(FLIGHTS, SD_M, 8)
    member = np.arange(FLIGHTS) % 2
    east = np.where(member == 0, np.abs(east), -np.abs(east))
    surroundings = Surroundings(
        features(water=shapes("areas", box(0.0, 38e3, -38e3, 38e3))), zones=(zone("keep-out", circle(3e3)),)
    )
    descents = descents_at(east, north, member=member)
    hazard = ground_hazard(descents, surroundings)
    assert hazard.water is not None
    assert hazard.water.share == (0.5, 0.0, 1.0, "members")
    order = np.random.default_rng(1).permutation(FLIGHTS)
    shuffled = Descents(*(getattr(descents, field.name)[order] for field in fields(Descents)))
    again = ground_hazard(shuffled, surroundings)
    assert replace(again.water, place_deg=None) == replace(hazard.water, place_deg=None)
    assert again.keep_out.share == hazard.keep_out.share
    assert again.branches == hazard.branches


def test_slope_of_an_even_hillside_and_where_it_is_steep() -> None:
    """A plane that rises 1 in 2 to the north-east in the west of the map: 26.57 degrees; level ground in the east."""
    latitude, longitude = np.linspace(49.8, 50.2, 801), np.linspace(9.7, 10.3, 801)
    east, north = PLANE.to_east_north_m(latitude[:, None], longitude[None, :])
    height = np.where(east < 0.0, 0.5 * (east + north) / sqrt(2.0), 100.0)
    grid = TerrainGrid(latitude, longitude, height, "invented", FlatGround(0.0, "invented"))
    places = np.array([-8e3, -4e3, 6e3, 12e3]), np.array([3e3, -2e3, 0.0, 5e3])
    gentle = ground_hazard(descents_at(*places), Surroundings(terrain=(grid,)))
    assert gentle.slope_deg is not None
    assert gentle.slope_deg.values[-1] == pytest.approx(np.degrees(np.arctan(0.5)), abs=0.1)
    assert gentle.steep is not None
    assert gentle.steep.share.p == 0.0
    strict = ground_hazard(descents_at(*places), Surroundings(terrain=(grid,), clearances=Clearances(slope_deg=26.0)))
    assert strict.steep.share.p == 0.5
    outside = ground_hazard(descents_at(np.array([0.0, 60e3]), np.zeros(2)), Surroundings(terrain=(grid,)))
    assert outside.steep.unknown.p == 0.5


@given(st.lists(st.tuples(st.floats(-9e3, 9e3), st.floats(-9e3, 9e3), st.floats(200.0, 5e3)), min_size=1, max_size=5))
def test_another_keep_out_zone_never_lowers_the_chance(discs: list[tuple[float, float, float]]) -> None:
    few = descents_at(*round_cloud(200, SD_M, 9))
    zones = tuple(zone("keep-out", circle(radius, east, north)) for east, north, radius in discs)
    growing = [Surroundings(zones=zones[: count + 1]) for count in range(len(zones))]
    shares = [ground_hazard(few, drawn).keep_out.share.p for drawn in growing]
    assert shares == sorted(shares)
    assert max(one[1].share.p for one in ground_hazard(few, Surroundings(zones=zones)).zones) <= shares[-1]
