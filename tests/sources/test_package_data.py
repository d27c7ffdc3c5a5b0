"""Data files that the build makes: their content, and what is said when they are missing."""

from __future__ import annotations

import json
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from pappus.errors import BadFile
from pappus.ground import MapLines, PlaceIndex
from pappus.sources import (
    _countries,
    _package_data,
    data_attributions,
    load_countries,
    load_geoid,
    load_map_lines,
    load_places,
)

Find = Callable[[str], Path]
BUILT = (files("pappus.sources") / "data" / "data_sources.json").is_file()
needs_build = pytest.mark.skipif(not BUILT, reason="the data files are not built (pip install makes them)")


@pytest.fixture(scope="module")
def places() -> PlaceIndex:
    return load_places()


@pytest.fixture(scope="module")
def lines() -> MapLines:
    return load_map_lines()


# NGA's test points of EGM96 (from memory): latitude, longitude, undulation in metres. A grid of 15' holds them to 6 cm.
NGA_POINTS = [
    (38.628155, 269.779155, -31.628),
    (-14.621217, 305.021114, -2.969),
    (46.874319, 102.448729, -43.575),
    (-23.617446, 133.874712, 15.871),
    (38.625473, 359.9995, 50.066),
    (-0.466744, 0.0023, 17.329),
]


@needs_build
@pytest.mark.parametrize(("latitude_deg", "longitude_deg", "expected_m"), NGA_POINTS)
def test_geoid(latitude_deg: float, longitude_deg: float, expected_m: float) -> None:
    assert load_geoid().undulation_m(latitude_deg, longitude_deg) == pytest.approx(expected_m, abs=0.06)


@needs_build
def test_geoid_is_the_whole_grid(shared_data: Find) -> None:
    with np.load(shared_data("geo/egm96_15min_cm.npz")) as archive:
        assert (np.round(load_geoid().grid_m * 100) == archive["undulation_cm"]).all()


# From memory, to the neighbourhood: the place itself must be found and be of about this size.
@needs_build
@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "name", "country", "least"),
    [
        (-36.617, -64.283, "Santa Rosa", "AR", 80_000),
        (46.872, -113.994, "Missoula", "US", 60_000),
        (60.170, 24.940, "Helsinki", "FI", 550_000),
        (78.2232, 15.6469, "Longyearbyen", "SJ", 1_500),
    ],
)
def test_nearest_place(
    places: PlaceIndex, latitude_deg: float, longitude_deg: float, name: str, country: str, least: int
) -> None:
    near = places.within(latitude_deg, longitude_deg, 5_000.0, most=3)
    assert (near[0].name, near[0].country) == (name, country)
    assert near[0].population >= least
    assert places.nearest(latitude_deg, longitude_deg)[1] < 5_000.0


@needs_build
def test_places_hold_the_open_list(places: PlaceIndex, shared_data: Find) -> None:
    import csv
    import gzip

    with gzip.open(shared_data("geo/geonames_cities1000.csv.gz"), "rt", encoding="utf-8") as stream:
        listed = list(csv.DictReader(stream))[::5000]
    assert len(listed) > 30
    for row in listed:
        place, distance_m, _ = places.nearest(float(row["lat"]), float(row["lon"]))
        assert distance_m < 10.0, row  # four decimals in the list, float32 in ours
        assert place.country == row["country"]


@needs_build
def test_coast_lies_on_the_land_of_natural_earth(lines: MapLines, shared_data: Find) -> None:
    topology = json.loads(shared_data("geo/naturalearth_land-10m.json").read_text("utf-8"))
    scale, shift = topology["transform"]["scale"], topology["transform"]["translate"]
    land = np.concatenate([np.cumsum(arc, axis=0) for arc in topology["arcs"]]) * scale + shift
    known = {(round(x * 1e3), round(y * 1e3)) for x, y in land.tolist()}
    points = np.concatenate(lines.coast)
    assert len(points) > 300_000
    near = [
        any((round(x * 1e3) + dx, round(y * 1e3) + dy) in known for dx in (-1, 0, 1) for dy in (-1, 0, 1))
        for x, y in points[::500].tolist()
    ]
    assert np.mean(near) > 0.97  # country outlines follow some lake shores, which are no coast of the land


@needs_build
def test_border_between_two_countries_is_a_border_and_no_coast(lines: MapLines) -> None:
    # the 49th parallel between Canada and the United States, 123 W to 95 W (treaty of 1818)
    crossing = lines.clip(48.9, 49.1, -105.0, -100.0)
    assert crossing.coast == ()
    assert np.concatenate(crossing.borders)[:, 1] == pytest.approx(49.0, abs=0.02)


@needs_build
def test_island_on_the_date_line_has_no_false_coast(lines: MapLines) -> None:
    # Taveuni and Vanua Levu, Fiji: 180 deg runs through them, and no straight line follows it
    coast = lines.clip(-17.2, -16.0, 179.0, 181.0).coast
    points = np.concatenate(coast)
    assert points[:, 0].min() < 180.0 < points[:, 0].max()
    for line in coast:
        on_meridian = np.abs(line[:, 0] - 180.0) < 1e-3
        assert not (on_meridian[1:] & on_meridian[:-1]).any()


@needs_build
def test_attributions_name_every_file() -> None:
    entries = data_attributions()
    assert {entry.file for entry in entries} == {"coast.npz", "countries.npz", "geoid.npz", "places.npz"}
    assert all(entry.attribution and entry.licence and entry.package and entry.package_licence for entry in entries)
    assert next(entry for entry in entries if entry.file == "places.npz").licence == "CC BY 4.0"


@pytest.mark.parametrize("load", [load_geoid, load_places, load_map_lines, load_countries, data_attributions])
@pytest.mark.parametrize("content", [None, b"", b"PK\x03\x04 damaged", b'{"attributions": [{"file": 1}]}'])
def test_missing_or_damaged_files(
    load: Callable[[], object], content: bytes | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "data").mkdir()
    if content is not None:
        for name in ("geoid.npz", "places.npz", "coast.npz", "countries.npz", "data_sources.json"):
            (tmp_path / "data" / name).write_bytes(content)
    for module in (_package_data, _countries):
        monkeypatch.setattr(module, "files", lambda package: tmp_path)
    uncached = getattr(load, "__wrapped__", load)
    with pytest.raises(BadFile, match=r"missing or damaged.*pip"):
        uncached()
