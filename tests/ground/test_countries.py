"""Countries: the data of the build against capitals and another scale of the same atlas, and exact invented shapes."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from pappus.earth import geodesic_direct
from pappus.errors import OutOfRange
from pappus.ground import BORDER_TOLERANCE_M, Countries, MapBox
from pappus.sources import load_countries, load_places

# some capitals and the two letters of their countries, from memory
CAPITALS = {
    "Berlin": ("DE", "Germany"), "Nairobi": ("KE", "Kenya"), "Canberra": ("AU", "Australia"), "Lima": ("PE", "Peru"),
    "Ottawa": ("CA", "Canada"), "Suva": ("FJ", "Fiji"), "Oslo": ("NO", "Norway"), "Buenos Aires": ("AR", "Argentina"),
    "Washington": ("US", "United States of America"), "Ulan Bator": ("MN", "Mongolia"), "Maseru": ("LS", "Lesotho"),
}  # fmt: skip


@pytest.mark.parametrize("capital", CAPITALS)
def test_capitals_lie_in_their_countries(capital: str) -> None:
    code, name = CAPITALS[capital]
    places = load_places()
    rows = np.flatnonzero(places.country == code.encode())[:40]
    named = [places.place(int(row)) for row in rows]
    found = [one for one in named if one.name.startswith(capital)] or named[:1]
    assert load_countries().name_at(found[0].latitude_deg, found[0].longitude_deg) == name


def test_open_sea_and_the_far_south() -> None:
    earth = load_countries()
    assert earth.name_at(50.0, -30.0) is None
    assert earth.name_at(0.0, 179.0) is None
    assert earth.name_at(89.9, 0.0) is None
    assert earth.name_at(-80.0, 120.0) == "Antarctica"


def decoded(topology: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    """Names and shapes of a TopoJSON topology, decoded here and now."""
    scale, shift = topology["transform"]["scale"], topology["transform"]["translate"]
    arcs = [np.cumsum(np.array(arc), axis=0) * scale + shift for arc in topology["arcs"]]

    def ring(indices: list[int]) -> np.ndarray:
        return np.concatenate([arcs[i] if i >= 0 else arcs[~i][::-1] for i in indices])

    for one in topology["objects"]["countries"]["geometries"]:
        for polygon in one["arcs"] if one["type"] == "MultiPolygon" else [one["arcs"]]:
            drawn = shapely.Polygon(ring(polygon[0]), [ring(hole) for hole in polygon[1:]])
            yield one["properties"]["name"], shapely.make_valid(drawn)


BOXES = [MapBox(46.5, 49.5, 7.0, 11.0), MapBox(52.5, 55.5, 8.0, 12.0), MapBox(-27.0, -24.0, -58.0, -54.0)]


@pytest.mark.parametrize("area", BOXES, ids=str)
def test_agrees_with_the_atlas_at_another_scale(area: MapBox, shared_data: Callable[[str], Path]) -> None:
    """Natural Earth at 1:50 million, drawn by other hands: it disagrees only near a border or coast."""
    atlas = json.loads(shared_data("geo/naturalearth_countries-50m.json").read_text("utf-8"))
    rng = np.random.default_rng(0)
    latitude = rng.uniform(area.south_deg, area.north_deg, 800)
    longitude = rng.uniform(area.west_deg, area.east_deg, 800)
    coarse = np.full(800, "", dtype=object)
    for name, shape in decoded(atlas):
        coarse[shapely.contains_xy(shape, longitude, latitude)] = name
    borders = load_countries().clip(area, tolerance_m=10_000.0)
    where = borders.where(latitude, longitude)
    sure = where.inside.any(axis=1)
    ours = np.array(borders.names, dtype=object)[where.inside.argmax(axis=1)]
    assert sure.sum() > 300
    assert (coarse[sure] == ours[sure]).all()
    assert (coarse[where.at_sea] == "").all()
    # with the tolerance of the house some are off, of many that can be told
    finer = load_countries().clip(area).where(latitude, longitude)
    assert finer.may_be.any(axis=1).sum() < where.may_be.any(axis=1).sum() / 3
    assert not (finer.inside & finer.may_be).any()
    assert not (finer.at_sea & (finer.inside.any(axis=1) | finer.may_be.any(axis=1))).any()


def square(west: float, east: float, south: float, north: float) -> tuple[np.ndarray, ...]:
    ring = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    return (np.array(ring, dtype=float),)


def test_over_the_date_line_a_country_is_whole_and_its_cut_is_no_border() -> None:
    earth = Countries(("Farland",), ((square(170.0, 180.0, 60.0, 70.0), square(-180.0, -170.0, 60.0, 70.0)),))
    borders = earth.clip(MapBox(64.0, 66.0, 178.0, -178.0))
    where = borders.where([65.0, 65.0, 65.0, 65.0], [179.99, -179.99, 180.0, 181.0])
    assert where.inside[:, 0].all()
    assert not where.may_be.any()
    # the edge of the map is no border either
    assert borders.where(65.9999, 178.0001).inside.all()
    assert not borders.where(66.1, 179.0).known.any()


def test_the_tolerance_is_a_distance_on_the_ground() -> None:
    earth = Countries(("Westland",), ((square(0.0, 10.0, 40.0, 50.0),),))
    for tolerance in (500.0, BORDER_TOLERANCE_M, 15_000.0):
        borders = earth.clip(MapBox(44.0, 46.0, 9.0, 11.0), tolerance_m=tolerance)
        # due west of a meridian edge the nearest point of it lies on the same latitude, near enough
        places = [geodesic_direct(45.0, 10.0, 270.0, share * tolerance)[:2] for share in (0.98, 1.02)]
        where = borders.where(*np.array(places).T)
        assert where.inside[:, 0].tolist() == [False, True]
        assert where.may_be[:, 0].tolist() == [True, False]
        assert where.may_be_at_sea.tolist() == [True, False]
    with pytest.raises(OutOfRange):
        earth.clip(MapBox(44.0, 46.0, 9.0, 11.0), tolerance_m=50_000.0)
