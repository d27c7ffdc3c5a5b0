"""OpenAir against worked examples and real files: geometry, areas and limits."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from pappus.airspace import AirspaceVolume
from pappus.sources import AirspaceFile, read_openair
from references.checks import assert_within
from references.rules_checks import load_rule

NAUTICAL_MILE_M = 1852.0


def read(tmp_path: Path, text: str) -> AirspaceFile:
    path = tmp_path / "areas.txt"
    path.write_text(text, encoding="utf-8")
    return read_openair(path)


def only(tmp_path: Path, rule: str) -> AirspaceVolume:
    """The volume of a worked example; the expected numbers and their source stand in rules_airspace.json."""
    found = read(tmp_path, load_rule(rule)["inputs"]["text"])
    assert found.not_understood == ()
    (volume,) = found.volumes
    return volume


def nearest(ring: np.ndarray, centre: tuple[float, float], bearing_deg: float) -> list[float]:
    """Where the edge lies in a direction from a centre: between the two points of the ring on either side of it."""
    bearings = np.array([Geodesic.WGS84.Inverse(*centre, *point)["azi1"] for point in ring])
    off = (bearings - bearing_deg + 180.0) % 360.0 - 180.0
    before, after = (np.flatnonzero(side)[np.argmin(np.abs(off[side]))] for side in (off <= 1e-6, off >= -1e-6))
    if before == after:
        return [float(x) for x in ring[before]]
    share = -off[before] / (off[after] - off[before])
    return [float(x) for x in ring[before] + share * (ring[after] - ring[before])]


def test_circle(tmp_path: Path) -> None:
    volume = only(tmp_path, "openair_circle")
    ((ring,),) = volume.outline.polygons
    given = (45.5, 7.0 + 15.5 / 60.0)
    away = [Geodesic.WGS84.Inverse(*given, *point)["s12"] for point in ring]
    # a place from which every point is equally far is the centre
    centre = given if np.ptp(away) < 0.01 else (np.nan, np.nan)
    answer = {
        "type": "circle",
        "center_lat": centre[0],
        "center_lon": centre[1],
        "radius_m": float(np.mean(away)),
        "area_km2": volume.outline.area_m2 / 1e6,
        "north_point": nearest(ring, given, 0.0),
        "east_point": nearest(ring, given, 90.0),
        "lower": "0 AGL" if volume.floor.kind == "surface" else volume.floor.text,
        "upper_m_pressure_alt": volume.ceiling.height_m,
    }
    print(answer)
    assert_within(answer, load_rule("openair_circle"))
    assert (volume.name, volume.kind, volume.ceiling.kind) == ("OSTERVANG RANGE", "R", "pressure")


def swept_deg(ring: np.ndarray, centre: tuple[float, float]) -> float:
    """Sum of the turns of the bearing from the centre, over the points of the arc."""
    arc = [point for point in ring if Geodesic.WGS84.Inverse(*centre, *point)["s12"] > 1000.0]
    bearings = np.unwrap([Geodesic.WGS84.Inverse(*centre, *point)["azi1"] for point in arc], period=360.0)
    return float(abs(bearings[-1] - bearings[0]))


CENTRE = (45.0 + 10.0 / 60.0, 7.0 + 20.0 / 60.0)


def contains(volume: AirspaceVolume, keys: dict[str, bool]) -> dict[str, bool]:
    return {key: bool(volume.outline.contains(*map(float, key.split(",")))) for key in keys}


def test_clockwise_arc(tmp_path: Path) -> None:
    entry = load_rule("openair_arc_cw")
    volume = only(tmp_path, "openair_arc_cw")
    ((ring,),) = volume.outline.polygons
    assert_within(
        {
            "arc_start": nearest(ring, CENTRE, 0.0),
            "arc_mid_45deg": nearest(ring, CENTRE, 45.0),
            "arc_end": nearest(ring, CENTRE, 90.0),
            "sweep_deg": swept_deg(ring, CENTRE),
            "area_km2": volume.outline.area_m2 / 1e6,
            "lower_m_amsl": volume.floor.height_m,
            "upper_m_pressure_alt": volume.ceiling.height_m,
            "contains": contains(volume, entry["expected"]["contains"]),
        },
        entry,
    )
    assert (volume.floor.kind, volume.ceiling.kind) == ("msl", "pressure")


def test_anticlockwise_arc(tmp_path: Path) -> None:
    entry = load_rule("openair_arc_ccw")
    volume = only(tmp_path, "openair_arc_ccw")
    ((ring,),) = volume.outline.polygons
    assert_within(
        {
            "sweep_deg": swept_deg(ring, CENTRE),
            "arc_mid_225deg": nearest(ring, CENTRE, 225.0 - 360.0),
            "area_km2": volume.outline.area_m2 / 1e6,
            "contains": contains(volume, entry["expected"]["contains"]),
        },
        entry,
    )


def test_forms_of_coordinates(tmp_path: Path) -> None:
    entry = load_rule("openair_coords")
    found: list[list[float]] = []
    for form in entry["inputs"]["forms"]:
        north, east = ("S", "W") if "S" in form else ("N", "E")
        others = f"DP 45:00:00{north} 007:00:00{east}\nDP 45:00:00{north} 007:10:00{east}\n"
        text = f"AC R\nAN A\nAL SFC\nAH UNL\nDP {form}\n{others}"
        ((ring,),) = read(tmp_path, text).volumes[0].outline.polygons
        found.append(ring[0].tolist())
    for place, expected in zip(found, entry["expected"]["latlon"], strict=True):
        assert place == pytest.approx(expected, abs=entry["tolerance"]["value"])


def test_decimal_degrees_and_a_comma(tmp_path: Path) -> None:
    text = "AC R\nAN A\nAL SFC\nAH UNL\nDP 45.5N 007.25E\nDP 45.5 N, 7.26 E\nDP 45:30.6n 7:15:00e\n"
    ((ring,),) = read(tmp_path, text).volumes[0].outline.polygons
    assert ring.tolist() == [[45.5, 7.25], [45.5, 7.26], [45.51, 7.25]]


def test_class_e_of_a_real_airport(shared_data: Callable[[str], Path]) -> None:
    """St. George, Utah: a circle of 4.5 nautical miles (Federal Register 2017-16282) and two arcs on it."""
    found = read_openair(shared_data("geo/openair_ksgu-airspaces.txt"))
    assert found.not_understood == ()
    circle, northeast, southwest = found.volumes
    radius_m = 4.5 * NAUTICAL_MILE_M
    print({volume.name: round(volume.outline.area_m2 / 1e6, 3) for volume in found.volumes})
    assert circle.outline.area_m2 == pytest.approx(np.pi * radius_m**2, rel=2e-3)
    for volume in found.volumes:
        assert volume.kind == "E"
        assert (volume.floor.kind, volume.floor.text) == ("surface", "SFC")
        assert (volume.ceiling.kind, volume.ceiling.height_m) == ("msl", pytest.approx(17_999 * 0.3048))
    centre = (37.0 + 2 / 60 + 11 / 3600, -(113.0 + 30 / 60 + 37 / 3600))
    assert circle.outline.contains(*centre)
    assert not southwest.outline.contains(*centre)
    # the arcs end where the straight sides meet the circle: bearings 17.07, 43.00, 176.59 and 229.36
    for volume, bearings in ((northeast, (17.071185, 42.995148)), (southwest, (176.585560, 229.357024))):
        ((ring,),) = volume.outline.polygons
        away = np.array([Geodesic.WGS84.Inverse(*centre, *point)["s12"] for point in ring])
        azimuth = np.array([Geodesic.WGS84.Inverse(*centre, *point)["azi1"] % 360.0 for point in ring])
        on_arc = np.abs(away - radius_m) < 1.0
        assert on_arc.sum() >= 5
        assert azimuth[on_arc].min() == pytest.approx(bearings[0], abs=1e-4)
        assert azimuth[on_arc].max() == pytest.approx(bearings[1], abs=1e-4)
        # each extension lies outside the circle, so the two overlap in no more than a sliver beside the chord points
        step = 0.002
        north, east = np.meshgrid(np.arange(36.88, 37.18, step), np.arange(-113.65, -113.38, step))
        both = volume.outline.contains(north, east) & circle.outline.contains(north, east)
        assert both.sum() <= 0.02 * volume.outline.contains(north, east).sum()


def test_closed_areas_of_a_real_airport(shared_data: Callable[[str], Path]) -> None:
    """The file says the primary area in words: 0.75 miles each side of the runway line, 3.25 + 2.5 miles long."""
    found = read_openair(shared_data("geo/openair_ksgu-ultralight-restricted-airspaces.txt"))
    assert found.not_understood == ()
    primary, east, west = found.volumes
    print({volume.name: round(volume.outline.area_m2 / 1e6, 3) for volume in found.volumes})
    in_words_m2 = 2 * 0.75 * (3.25 + 2.5) * NAUTICAL_MILE_M**2
    assert primary.outline.area_m2 == pytest.approx(in_words_m2, rel=5e-3)
    airport = (37.0 + 2 / 60 + 11 / 3600, -(113.0 + 30 / 60 + 37 / 3600))
    assert [bool(volume.outline.contains(*airport)) for volume in found.volumes] == [True, False, False]
    # the west extension follows two arcs: its corner in the file lies on the edge, a place between is inside
    assert west.outline.contains(37.0199, -113.5500)
    assert not west.outline.contains(37.0199, -113.5700)
    assert all(volume.kind == "R" for volume in (primary, east, west))
