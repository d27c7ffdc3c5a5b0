"""Tags of OpenStreetMap (its wiki, from memory): who may drive, which way, how fast, what becomes a shape."""

from __future__ import annotations

import pytest

from pappus.sources.maps._osm_roads import access_is_unknown, barrier_stops_car, car_may_pass, directions
from pappus.sources.maps._osm_shapes import kind_of_area, kind_of_line, kind_of_point
from pappus.sources.maps._osm_speed import GENERAL_KM_H, assumed_speed_km_h, legal_speed, signed_speed_km_h

MPH_KM_H = 1.609344  # international yard and pound agreement, 1959


@pytest.mark.parametrize(
    ("text", "country", "km_h", "assumed"),
    [
        ("50", "FI", 50.0, False),
        ("50", "GB", 50.0, False),  # a bare number is km/h everywhere
        ("30 mph", "GB", 30 * MPH_KM_H, False),
        ("20mph", "", 20 * MPH_KM_H, False),
        ("80 km/h", "", 80.0, False),
        ("50;80", "", 50.0, False),
        ("50 mph|70", "", 70.0, False),
        ("DE:urban", "", 50.0, True),
        ("DE:rural", "FR", 100.0, True),
        ("FR:rural", "", 80.0, True),
        ("GB:motorway", "", 70 * MPH_KM_H, True),
        ("DE:zone:30", "", 30.0, False),
        ("DE:zone30", "", 30.0, False),
        ("GB:zone20", "", 20 * MPH_KM_H, False),
        ("none", "DE", 130.0, True),
        ("walk", "", 7.0, True),
        ("DE:living_street", "", 7.0, True),
    ],
)
def test_limits_as_they_are_written(text: str, country: str, km_h: float, assumed: bool) -> None:
    signed = signed_speed_km_h(text, country)
    assert signed is not None
    assert signed[0] == pytest.approx(km_h)
    assert signed[1] is assumed


@pytest.mark.parametrize("text", ["", "signals", "fast", "0", "1", "999", "-50", "50 knots", "50;fast", "DE:somewhere"])
def test_limits_that_cannot_be_read(text: str) -> None:
    assert signed_speed_km_h(text, "DE") is None


def test_speed_of_a_road_in_metres_a_second() -> None:
    signed = legal_speed({"maxspeed": "30 mph"}, "primary", ramp=False, country="GB")
    assert signed.forward_m_s == pytest.approx(13.4112)  # 30 times 0.44704 m/s, exact
    assert signed.backward_m_s == signed.forward_m_s
    assert not signed.assumed
    both = legal_speed({"maxspeed": "100", "maxspeed:backward": "72"}, "primary", ramp=False, country="")
    assert (both.forward_m_s, both.backward_m_s) == pytest.approx((100 / 3.6, 20.0))
    unread = legal_speed({"maxspeed": "fast"}, "secondary", ramp=False, country="FI")
    assert (unread.unread, unread.assumed) == ("fast", True)
    assert unread.forward_m_s == pytest.approx(80 / 3.6)
    assert legal_speed({"maxspeed": "signals"}, "secondary", ramp=False, country="FI").unread == ""
    half = legal_speed({"maxspeed:forward": "30"}, "secondary", ramp=False, country="FI")
    assert half.assumed


def test_assumed_speeds_follow_the_country_and_the_road() -> None:
    def km_h(road_class: str, country: str, *, ramp: bool = False, **tags: str) -> float:
        return assumed_speed_km_h({key.replace("_", ":"): value for key, value in tags.items()}, road_class,
                                  ramp=ramp, country=country)  # fmt: skip

    assert km_h("motorway", "PL") == 140.0
    assert km_h("primary", "SE") == 70.0
    assert km_h("primary", "us") == pytest.approx(55 * MPH_KM_H)
    assert km_h("residential", "AR") == 40.0
    assert km_h("primary", "XX") == km_h("primary", "") == 80.0
    assert km_h("motorway", "DE", ramp=True) == 60.0
    assert km_h("primary", "DE", zone_traffic="DE:urban") == 50.0
    assert km_h("track", "DE") == 20.0
    assert km_h("service", "DE", source_maxspeed="DE:rural") == 20.0
    for town, outside, motorway in GENERAL_KM_H.values():
        assert 20.0 < town < outside <= motorway <= 140.0


@pytest.mark.parametrize(
    ("tags", "expected"),
    [
        ({}, (True, True)),
        ({"oneway": "yes"}, (True, False)),
        ({"oneway": "-1"}, (False, True)),
        ({"oneway": "no", "highway": "motorway"}, (True, True)),
        ({"highway": "motorway"}, (True, False)),
        ({"highway": "motorway_link"}, (True, False)),
        ({"highway": "trunk"}, (True, True)),
        ({"junction": "roundabout"}, (True, False)),
        ({"junction": "circular", "oneway": "-1"}, (False, True)),
        ({"oneway": "yes", "oneway:motor_vehicle": "no"}, (True, True)),
        ({"oneway": "alternating"}, (True, True)),
        ({"oneway": "reversible"}, None),
    ],
)
def test_directions(tags: dict[str, str], expected: tuple[bool, bool] | None) -> None:
    assert directions(tags) == expected


@pytest.mark.parametrize(
    ("tags", "allowed"),
    [
        ({}, None),
        ({"access": "private"}, False),
        ({"access": "no", "motor_vehicle": "yes"}, True),
        ({"access": "no", "vehicle": "destination"}, True),
        ({"access": "yes", "motorcar": "no"}, False),
        ({"motor_vehicle": "agricultural"}, False),
        ({"motor_vehicle": "whatever"}, False),
        ({"bicycle": "no"}, None),
    ],
)
def test_access(tags: dict[str, str], allowed: bool | None) -> None:
    assert car_may_pass(tags) is allowed
    assert access_is_unknown(tags) == ("whatever" in tags.values())


@pytest.mark.parametrize(
    ("tags", "stops"),
    [
        ({"barrier": "bollard"}, True),
        ({"barrier": "bollard", "motor_vehicle": "yes"}, False),
        ({"barrier": "gate"}, False),
        ({"barrier": "gate", "access": "private"}, True),
        ({"barrier": "cattle_grid"}, False),
        ({"barrier": "toll_booth"}, False),
        ({}, False),
    ],
)
def test_barriers(tags: dict[str, str], stops: bool) -> None:
    assert barrier_stops_car(tags) is stops


def test_what_becomes_a_shape() -> None:
    assert kind_of_area({"building": "yes"}) == "building"
    assert kind_of_area({"building": "no"}) is None
    assert kind_of_area({"building": "yes", "location": "underground"}) is None
    assert kind_of_area({"natural": "water", "water": "lake"}) == "water"
    assert kind_of_area({"landuse": "reservoir"}) == "water"
    assert kind_of_area({"landuse": "residential"}) == "built_up"
    assert kind_of_area({"landuse": "residential", "building": "yes"}) == "building"
    assert kind_of_area({"landuse": "forest"}) is None
    assert kind_of_area({"power": "substation"}) == "substation"
    assert kind_of_line({"power": "line"}) == "power_line"
    assert kind_of_line({"power": "cable"}) is None
    assert kind_of_line({"power": "cable", "location": "overhead"}) == "power_line"
    assert kind_of_line({"power": "minor_line", "location": "underground"}) is None
    assert kind_of_line({"railway": "rail"}) == "railway"
    assert kind_of_line({"railway": "subway", "tunnel": "yes"}) is None
    assert kind_of_line({"railway": "platform"}) is None
    assert kind_of_line({"natural": "coastline"}) == "coastline"
    assert kind_of_line({"waterway": "river"}) == "waterway"
    assert kind_of_point({"power": "tower"}) == "power_tower"
    assert kind_of_point({"power": "box"}) is None
