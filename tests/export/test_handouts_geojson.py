"""GeoJSON: RFC 7946 ("The GeoJSON Format", 2016), the areas in square kilometres, and what GDAL reads."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from handouts import (
    DATE_LINE_SITE,
    NOTE,
    OFF,
    degrees_jumped,
    gdal_features,
    gdal_reference_system,
    prediction,
    sloping_geoid,
)
from pictures import GROUND_MSL_M, SITE, TOP_MSL_M, area_of, scattered_ends, straight_flights
from shapely.geometry import LinearRing, Point, shape

from pappus.errors import OutOfRange
from pappus.export import landing_geojson
from pappus.landing import AreaLevel


def written(**keys: Any) -> dict[str, Any]:
    return dict(json.loads(landing_geojson(**({"geoid": None} | prediction(**keys)))))


def of_kind(collection: dict[str, Any], kind: str) -> list[Any]:
    return [feature for feature in collection["features"] if feature["properties"]["kind"] == kind]


def polygons(feature: Any) -> list[Any]:
    geometry = feature["geometry"]
    return [geometry["coordinates"]] if geometry["type"] == "Polygon" else geometry["coordinates"]


def area_km2(feature: Any) -> float:
    """On the ellipsoid, by geographiclib (Karney 2013); counter-clockwise counts, clockwise takes away."""
    total = 0.0
    for ring in (ring for polygon in polygons(feature) for ring in polygon):
        outline = Geodesic.WGS84.Polygon()
        for longitude, latitude, *_ in ring[:-1]:
            outline.AddPoint(latitude, longitude)
        total += outline.Compute(False, True)[2]
    return total / 1e6


@pytest.mark.parametrize("site", [SITE, DATE_LINE_SITE])
def test_areas_follow_the_rules_of_the_format_and_have_the_size_they_say(site: tuple[float, float]) -> None:
    """RFC 7946 section 3.1.6: rings closed, the outline counter-clockwise, holes clockwise; 3.1.9: cut at 180."""
    areas = of_kind(written(site=site), "landing area")
    assert [feature["properties"]["probability"] for feature in areas] == [0.95, 0.9, 0.5]
    for feature in areas:
        assert shape(feature["geometry"]).is_valid
        for outline, *holes in polygons(feature):
            assert LinearRing(outline).is_ccw
            assert not any(LinearRing(hole).is_ccw for hole in holes)
            for ring in (outline, *holes):
                assert ring[0] == ring[-1]
                assert all(-180.0 <= longitude <= 180.0 and -90.0 <= latitude <= 90.0 for longitude, latitude in ring)
                assert degrees_jumped(ring) < 1.0
        # the plane on which areas are measured is flat, and corners are rounded to 0.1 m
        assert area_km2(feature) == pytest.approx(feature["properties"]["area_km2"], rel=1e-3)


def test_an_area_across_the_date_line_lies_on_both_sides_of_it() -> None:
    """The share of landings inside is the same as for the same flights elsewhere; each half touches the line."""
    for feature, other in zip(
        of_kind(written(site=DATE_LINE_SITE), "landing area"),
        of_kind(written(site=(DATE_LINE_SITE[0], 20.0)), "landing area"),
        strict=True,
    ):
        assert feature["geometry"]["type"] == "MultiPolygon"
        edges = sorted(longitude for polygon in polygons(feature) for longitude, _ in polygon[0])
        assert edges[0] == -180.0
        assert edges[-1] == 180.0
        middle = shape(feature["geometry"]).representative_point().x
        assert abs(middle) > 178.0
        assert area_km2(feature) == pytest.approx(area_km2(other), rel=0.01)


def test_landings_lie_in_the_areas_as_often_as_these_say() -> None:
    """An area of 0.9 holds 0.9 of all flights, a little more of the very ones that drew it (landing room)."""
    collection = written(site=DATE_LINE_SITE)
    (area,) = (f for f in of_kind(collection, "landing area") if f["properties"]["probability"] == 0.9)
    inside = shape(area["geometry"])
    points = [
        Point(position)
        for feature in of_kind(collection, "ends of flights")
        if feature["properties"]["name"].startswith("Landings")
        for position in feature["geometry"]["coordinates"]
    ]
    assert len(points) == 196
    assert 0.88 <= sum(inside.contains(point) for point in points) / 200 <= 0.95


def test_a_hole_across_the_date_line_stays_a_hole() -> None:
    outline = np.array([(-18.0, 179.0), (-18.0, 181.0), (-16.0, 181.0), (-16.0, 179.0), (-18.0, 179.0)])
    hole = np.array([(-17.5, 179.5), (-16.5, 179.5), (-16.5, 180.5), (-17.5, 180.5), (-17.5, 179.5)])
    level = AreaLevel(0.9, True, "", 1.0, 1.0, ((outline, hole),))
    area = replace(prediction()["area"], parts=(level,))
    (feature,) = of_kind(written(area=area), "landing area")
    drawn = shape(feature["geometry"])
    assert drawn.is_valid
    assert drawn.area == pytest.approx(2.0 * 2.0 - 1.0 * 1.0)
    assert not any(drawn.contains(Point(x, -17.0)) for x in (179.9, -179.9))
    assert all(drawn.contains(Point(x, -17.0)) for x in (179.2, -179.2))


def test_longitudes_that_ran_below_minus_180_come_back() -> None:
    ring = np.array([(10.0, -182.0), (10.0, -181.0), (11.0, -181.0), (11.0, -182.0), (10.0, -182.0)])
    area = replace(prediction()["area"], parts=(AreaLevel(0.9, True, "", 1.0, 1.0, ((ring,),)),))
    (feature,) = of_kind(written(area=area), "landing area")
    assert feature["geometry"]["type"] == "Polygon"
    assert sorted({longitude for longitude, _ in polygons(feature)[0][0]}) == [178.0, 179.0]


def test_an_area_round_a_pole_is_refused() -> None:
    ring = np.array([(89.0, longitude) for longitude in (-150.0, -50.0, 50.0, 150.0, -150.0)])
    area = replace(prediction()["area"], parts=(AreaLevel(0.9, True, "", 1.0, 1.0, ((ring,),)),))
    with pytest.raises(OutOfRange, match="outline"):
        written(area=area)


def test_a_level_without_an_area_says_why_and_has_no_geometry() -> None:
    """RFC 7946 section 3.2: a feature without a place has the geometry null."""
    few = straight_flights(scattered_ends(5))
    collection = written(flights=few, area=area_of(few), off_nominal=np.zeros(5, dtype=bool))
    areas = of_kind(collection, "landing area")
    assert len(areas) == 3
    for feature in areas:
        assert feature["geometry"] is None
        assert "no area for" in feature["properties"]["why_not"]
        assert feature["properties"]["area_km2"] is None


def test_heights_are_above_the_ellipsoid_or_left_out() -> None:
    """RFC 7946 section 4: heights are above the WGS84 ellipsoid; that is mean sea level plus the undulation."""
    for geoid in (None, sloping_geoid()):
        collection = written(geoid=geoid)
        up, down = of_kind(collection, "nominal flight")
        (top,) = of_kind(collection, "top")
        for feature in (up, down):
            words = feature["properties"]
            assert len(words["height_msl_m"]) == len(words["time_utc"]) == len(feature["geometry"]["coordinates"])
        assert up["properties"]["height_msl_m"][0] == down["properties"]["height_msl_m"][-1] == GROUND_MSL_M
        assert up["properties"]["height_msl_m"][-1] == top["properties"]["height_msl_m"] == TOP_MSL_M
        for feature in (up, down, top, *of_kind(collection, "ends of flights"), *of_kind(collection, "site")):
            positions = np.atleast_2d(feature["geometry"]["coordinates"])
            said = feature["properties"]["heights"]
            if geoid is None:
                assert positions.shape[1] == 2
                assert "no geoid was given" in said
                continue
            assert "sloping" in said
            undulation = 0.1 * positions[:, 1] + 0.01 * (positions[:, 0] % 360.0)
            above_sea = np.atleast_1d(feature["properties"]["height_msl_m"])
            assert positions[:, 2] - above_sea == pytest.approx(undulation, abs=0.11)


def test_the_track_is_cut_on_the_date_line() -> None:
    """The flight goes in a straight line, so its place on the line follows from similar triangles."""
    up, down = of_kind(written(site=DATE_LINE_SITE, geoid=sloping_geoid()), "nominal flight")
    feature = next(f for f in (up, down) if f["geometry"]["type"] == "MultiLineString")
    west, east = feature["geometry"]["coordinates"]
    assert (west[-1][0], east[0][0]) == (180.0, -180.0)
    share = (180.0 - DATE_LINE_SITE[1]) / 0.8
    assert west[-1][1] == east[0][1] == pytest.approx(DATE_LINE_SITE[0] + 0.2 * share, abs=2e-6)
    for times, line in zip(feature["properties"]["time_utc"], (west, east), strict=True):
        assert len(times) == len(line)
        assert degrees_jumped(line) < 1.0
    assert feature["properties"]["time_utc"][0][-1] == feature["properties"]["time_utc"][1][0]


@pytest.mark.parametrize(("start", "end"), [(179.0, 180.0), (-179.0, -180.0), (180.0, 179.0), (-180.0, -179.0)])
def test_a_track_that_only_touches_the_date_line_stays_whole(start: float, end: float) -> None:
    nominal = straight_flights((-17.0, end), site=(-17.0, start))
    for feature in of_kind(written(nominal=nominal), "nominal flight"):
        line = feature["geometry"]["coordinates"]
        assert feature["geometry"]["type"] == "LineString"
        assert degrees_jumped(line) < 0.1
        assert len(line) == len(feature["properties"]["time_utc"])


def test_times_are_utc_and_the_note_is_everywhere() -> None:
    """2.5 h from a release at 22:30, the burst after 60 % of it."""
    collection = written()
    assert collection["name"] == "Where the steam goes"
    assert "crs" not in collection  # RFC 7946 section 4: removed from the format
    assert all(feature["properties"]["note"] == NOTE for feature in collection["features"])
    up, down = of_kind(collection, "nominal flight")
    assert up["properties"]["first_utc"] == "2027-02-13T22:30:00.000Z"
    assert up["properties"]["last_utc"] == down["properties"]["first_utc"] == "2027-02-14T00:00:00.000Z"
    assert down["properties"]["last_utc"] == "2027-02-14T01:00:00.000Z"
    assert datetime.fromisoformat(of_kind(collection, "top")[0]["properties"]["time_utc"]).utcoffset() is not None
    assert written(release=prediction()["release"].astimezone()) == collection
    with pytest.raises(ValueError, match="offset from UTC"):
        written(release=datetime(2027, 2, 13, 22, 30))  # noqa: DTZ001  naive on purpose


def test_flights_stand_apart_by_what_is_known_of_their_end() -> None:
    groups = of_kind(written(), "ends of flights")
    assert [(f["properties"]["name"], len(f["geometry"]["coordinates"])) for f in groups] == [
        (f"Landings ({196 - OFF})", 196 - OFF),
        (f"Landings, off-nominal ({OFF})", OFF),
        ("Last known places, not landed (4)", 4),
    ]
    with pytest.raises(ValueError, match="off_nominal"):
        written(off_nominal=np.zeros(3, dtype=bool))


@pytest.mark.parametrize("site", [SITE, DATE_LINE_SITE])
def test_gdal_reads_it(tmp_path: Path, site: tuple[float, float]) -> None:
    path = tmp_path / "flight.geojson"
    path.write_text(landing_geojson(**prediction(site=site), geoid=sloping_geoid()), encoding="utf-8")
    features = gdal_features(path)
    assert [feature["properties"]["kind"] for feature in features] == [
        *3 * ["landing area"], *2 * ["nominal flight"], *3 * ["ends of flights"], "site", "top",
    ]  # fmt: skip
    longitude, latitude, height = features[-1]["geometry"]["coordinates"]
    undulation = 0.1 * latitude + 0.01 * (longitude % 360.0)
    assert height == pytest.approx(TOP_MSL_M + undulation, abs=0.06)
    assert latitude == pytest.approx(site[0] + 0.6 * 0.2, abs=1e-6)
    said = gdal_reference_system(path, "Where the steam goes")
    assert "Feature Count: 10" in said
    assert 'ID["EPSG",4979]' in said or 'ID["EPSG",4326]' in said
