"""Named places: the nearest one against a plain search with geographiclib, and the date line."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from pappus.errors import OutOfRange
from pappus.ground import PlaceIndex


def index_of(rows: list[tuple[str, str, float, float, int]]) -> PlaceIndex:
    names = [row[0].encode() for row in rows]
    return PlaceIndex(
        name_utf8=b"".join(names),
        name_start=np.cumsum([0, *map(len, names)]),
        country=np.array([row[1] for row in rows], dtype="S2"),
        latitude_deg=np.array([row[2] for row in rows]),
        longitude_deg=np.array([row[3] for row in rows]),
        population=np.array([row[4] for row in rows]),
    )


# Positions and populations from memory, rounded; only their order and neighbourhood matter here.
SOME = index_of(
    [
        ("Suva", "FJ", -18.1416, 178.4415, 77366),
        ("Labasa", "FJ", -16.4332, 179.3645, 27949),
        ("Apia", "WS", -13.8333, -171.7667, 40407),
        ("Čačak", "RS", 43.8914, 20.3497, 117072),
        ("Ny-Ålesund", "SJ", 78.9235, 11.9099, 0),
    ]
)


def test_name_beyond_ascii_comes_back() -> None:
    place, distance_m, _ = SOME.nearest(43.9, 20.35)
    assert (place.name, place.country, place.population) == ("Čačak", "RS", 117072)
    assert 900 < distance_m < 1000  # 0.0086 deg of latitude, 111.1 km a degree


def test_nearest_over_the_date_line() -> None:
    place, distance_m, bearing_deg = SOME.nearest(-16.4332, -179.9)
    assert place.name == "Labasa"
    expected = Geodesic.WGS84.Inverse(-16.4332, 179.3645, -16.4332, 180.1)
    assert distance_m == pytest.approx(expected["s12"], abs=1e-6)
    assert bearing_deg == pytest.approx(expected["azi1"] % 360, abs=1e-9)
    assert 85 < bearing_deg < 95  # from the place to the point: eastwards


def test_point_on_the_place_itself() -> None:
    place, distance_m, bearing_deg = SOME.nearest(-18.1416, 178.4415)
    assert (place.name, distance_m, bearing_deg) == ("Suva", 0.0, 0.0)


@settings(deadline=None, max_examples=40)
@given(
    st.lists(st.tuples(st.floats(-90, 90), st.floats(-180, 180)), min_size=1, max_size=30),
    st.floats(-90, 90),
    st.floats(-180, 180),
)
def test_nearest_is_the_least_of_all_geodesics(
    points: list[tuple[float, float]], latitude: float, longitude: float
) -> None:
    index = index_of([(str(n), "XX", *point, n) for n, point in enumerate(points)])
    least = min(Geodesic.WGS84.Inverse(*point, latitude, longitude)["s12"] for point in points)
    assert index.nearest(latitude, longitude)[1] == pytest.approx(least, abs=1e-6)


def test_within_gives_the_most_populous_in_the_disc() -> None:
    names = [place.name for place in SOME.within(-17.0, 179.0, 300e3, most=5)]
    assert names == ["Suva", "Labasa"]
    assert [place.name for place in SOME.within(-17.0, 179.0, 300e3, most=1)] == ["Suva"]
    assert SOME.within(0.0, 0.0, 100e3, most=5) == ()


def test_within_keeps_to_the_ellipsoid() -> None:
    edge_m = Geodesic.WGS84.Inverse(-18.1416, 178.4415, -16.0, 178.0)["s12"]
    assert [p.name for p in SOME.within(-16.0, 178.0, edge_m + 1.0, most=9)] == ["Suva", "Labasa"]
    assert [p.name for p in SOME.within(-16.0, 178.0, edge_m - 1.0, most=9)] == ["Labasa"]


@pytest.mark.parametrize("latitude_deg", [90.1, -91.0, float("nan")])
def test_latitude_out_of_range(latitude_deg: float) -> None:
    with pytest.raises(OutOfRange, match="latitude"):
        SOME.nearest(latitude_deg, 0.0)


def test_arrays_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="do not fit"):
        PlaceIndex(b"ab", np.array([0, 1]), np.array([b"XX"]), np.zeros(1), np.zeros(1), np.zeros(1, dtype=int))
