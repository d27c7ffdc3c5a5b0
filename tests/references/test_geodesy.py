"""Geodesy on WGS84 against published worked examples (source of each case in its name)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pappus import earth
from references.checks import Entry, assert_within, case_id, load_entries

ENTRIES = load_entries("geodesy")


def degrees(dms: str) -> float:
    """``"-37 57 03.72030"`` in degrees; the sign stands for the whole."""
    whole, minutes, seconds = dms.split()
    size = abs(float(whole)) + float(minutes) / 60 + float(seconds) / 3600
    return -size if whole.startswith("-") else size


def direct(i: Entry) -> Any:
    latitude, longitude, azimuth = earth.geodesic_direct(i["lat1"], i["lon1"], i["azi1"], i["s12_m"])
    return {"lat2": latitude, "lon2": longitude, "azi2": azimuth}


def inverse(i: Entry) -> Any:
    return dict(zip(("s12", "azi1", "azi2"), earth.geodesic_inverse(*i["p1"], *i["p2"]), strict=True))


def vincenty(i: Entry) -> Any:
    points = [degrees(dms) for point in ("p1_dms", "p2_dms") for dms in i[point]]
    distance, azimuth1, azimuth2 = earth.geodesic_inverse(*points)
    return {"s12": distance, "azi12": azimuth1, "azi21": (azimuth2 + 180) % 360}


def look(i: Entry) -> Any:
    seen = earth.look_angle(earth.Position(*i["station"]), earth.Position(*i["target"]))
    return {"az": seen.azimuth_deg, "el": seen.elevation_deg, "range_m": seen.range_m}


def flat_map_error_m(i: Entry) -> Any:
    meridional, prime_vertical = earth.radii_of_curvature_m(i["lat"])
    reach, worst = i["range_km"] * 1000, 0.0
    for azimuth in range(360):
        flat_latitude = i["lat"] + np.degrees(reach * np.cos(np.radians(azimuth)) / meridional)
        east_rad = reach * np.sin(np.radians(azimuth)) / (prime_vertical * np.cos(np.radians(i["lat"])))
        true_latitude, true_longitude, _ = earth.geodesic_direct(i["lat"], 0, azimuth, reach)
        error = earth.geodesic_inverse(float(flat_latitude), float(np.degrees(east_rad)), true_latitude, true_longitude)
        worst = max(worst, error[0])
    return worst


def height_factor(i: Entry) -> Any:
    """The same path seen from the ground: radii of curvature with and without the height, mean of both directions."""
    radii = np.array(earth.radii_of_curvature_m(45))
    return np.mean((radii + i["Z_m"]) / radii - 1)


ANSWERS: dict[str, Callable[[Entry], Any]] = {
    "geo_direct": direct,
    "geo_inv_jfk": inverse,
    "geo_inv_antipodal": lambda i: inverse(i)["s12"],
    "geo_vincenty": vincenty,
    "geo_ecef": lambda i: earth.geocentric_m(i["lat"], i["lon"], i["h"]),
    "geo_look": look,
    "geo_flat_40": flat_map_error_m,
    "geo_flat_50": flat_map_error_m,
    "geo_flat_60": flat_map_error_m,
    "geo_height_factor": height_factor,
}


@pytest.fixture
def egm96(shared_data: Callable[[str], Path]) -> earth.Geoid:
    with np.load(shared_data("geo/egm96_15min_cm.npz")) as file:
        return earth.Geoid("EGM96", file["undulation_cm"] / 100.0)


@pytest.mark.parametrize("entry", ENTRIES, ids=case_id)
def test_geodesy(entry: Entry, request: pytest.FixtureRequest) -> None:
    inputs = entry["inputs"]
    if entry["id"].startswith("geoid_"):
        geoid: earth.Geoid = request.getfixturevalue("egm96")
        assert_within(geoid.undulation_m(inputs["lat"], inputs["lon"]), entry)
    else:
        assert_within(ANSWERS[entry["id"]](inputs), entry)


def test_no_entry_is_missing() -> None:
    assert len({entry["id"] for entry in ENTRIES}) == len(ENTRIES) == 16
