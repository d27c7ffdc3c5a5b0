"""GPX 1.1 (topografix.com/GPX/1/1, its schema gpx.xsd; limits and order of elements from memory): gpxpy and GDAL."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from handouts import DATE_LINE_SITE, NOTE, degrees_jumped, for_receivers, gdal_features, gdal_reference_system
from pictures import GROUND_MSL_M, SITE, TOP_MSL_M, area_of, scattered_ends, straight_flights

from pappus.export import flight_gpx
from pappus.trajectory import Outcome
from pappus.units import say_area_km2

PREFIX = "{http://www.topografix.com/GPX/1/1}"
ORDER = {
    "gpx": ("metadata", "wpt", "rte", "trk"),
    "metadata": ("name", "desc", "author", "copyright", "link", "time", "keywords", "bounds"),
    "wpt": ("ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type"),
    "trkpt": ("ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type"),
    "trk": ("name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"),
    "trkseg": ("trkpt",),
}


def read(**keys: Any) -> Any:
    gpxpy = pytest.importorskip("gpxpy", reason="gpxpy is not installed")
    return gpxpy.parse(flight_gpx(**for_receivers(**keys)))


@pytest.mark.parametrize("site", [SITE, DATE_LINE_SITE])
def test_elements_stand_in_the_order_of_the_schema_within_its_limits(site: tuple[float, float]) -> None:
    root = ElementTree.fromstring(flight_gpx(**for_receivers(site=site)))
    assert (root.tag, root.get("version"), root.get("creator")) == (f"{PREFIX}gpx", "1.1", "pappus")
    for element in root.iter():
        places = [ORDER[element.tag.removeprefix(PREFIX)].index(child.tag.removeprefix(PREFIX)) for child in element]
        assert places == sorted(places)
    points = [*root.iter(f"{PREFIX}wpt"), *root.iter(f"{PREFIX}trkpt")]
    assert len(points) > 40
    for point in points:
        assert -180.0 <= float(point.get("lon", "nan")) < 180.0
        assert -90.0 <= float(point.get("lat", "nan")) <= 90.0


def test_the_track_has_heights_above_sea_level_and_times() -> None:
    """Up for 1.5 h, down for 1 h, in a straight line."""
    nominal = straight_flights((SITE[0] + 0.2, SITE[1] + 0.8))
    gpx = read(nominal=nominal)
    (track,) = gpx.tracks
    up, down = track.segments
    points = [*up.points, *down.points[1:]]
    assert [point.elevation for point in points] == pytest.approx(nominal.track_height_msl_m[0], abs=0.06)
    assert [point.latitude for point in points] == pytest.approx(nominal.track_latitude_deg[0], abs=1e-6)
    assert [point.longitude for point in points] == pytest.approx(nominal.track_longitude_deg[0], abs=1e-6)
    passed = [(point.time - points[0].time).total_seconds() for point in points]
    assert passed == pytest.approx(nominal.track_time_s[0], abs=2e-3)
    assert points[0].time.isoformat() == "2027-02-13T22:30:00+00:00"
    assert (up.points[-1].elevation, up.points[-1].time) == (down.points[0].elevation, down.points[0].time)


def test_the_waypoints_are_site_burst_and_most_likely_landing() -> None:
    keys = for_receivers()
    gpx = read()
    site, burst, landing = gpx.waypoints
    assert (site.name, site.latitude, site.longitude, site.elevation) == ("Site A", *SITE, GROUND_MSL_M)
    assert (burst.name, burst.elevation) == ("Nominal burst", TOP_MSL_M)
    assert burst.time.isoformat() == "2027-02-14T00:00:00+00:00"
    assert landing.name == "Most likely landing"
    assert (landing.latitude, landing.longitude) == pytest.approx(keys["area"].mode_deg, abs=1e-6)
    # a place alone would say too much: the sizes of the areas go with it
    for part in keys["area"].parts:
        assert say_area_km2(part.area_km2) in landing.description
        assert say_area_km2(part.area_km2) in gpx.description
    assert gpx.description.startswith(NOTE)
    assert gpx.tracks[0].description.startswith(NOTE)
    assert (gpx.name, gpx.version) == ("Where the steam goes", "1.1")


def test_without_an_area_there_is_no_place_and_the_words_say_so() -> None:
    few = straight_flights(scattered_ends(5))
    gpx = read(area=area_of(few))
    assert [point.name for point in gpx.waypoints] == ["Site A", "Nominal burst"]
    assert gpx.description.count("no area for") == 3


def test_a_flight_that_is_still_up_ends_with_the_data() -> None:
    gpx = read(nominal=straight_flights((-37.2, -63.8), outcome=Outcome.STILL_ALOFT))
    assert [point.name for point in gpx.waypoints] == ["Site A", "Most likely landing"]
    (segment,) = gpx.tracks[0].segments
    assert max(point.elevation for point in segment.points) < TOP_MSL_M
    assert "ends with end of the data" in gpx.tracks[0].description


def test_a_new_segment_begins_at_the_date_line() -> None:
    segments = read(site=DATE_LINE_SITE).tracks[0].segments
    assert len(segments) == 3
    for segment in segments:
        assert degrees_jumped([(point.longitude,) for point in segment.points]) < 1.0
    ends = [(a.points[-1], b.points[0]) for a, b in pairwise(segments)]
    assert all(a.time == b.time and a.latitude == b.latitude and a.elevation == b.elevation for a, b in ends)
    assert sorted(abs(a.longitude - b.longitude) > 359.0 for a, b in ends) == [False, True]


def test_names_with_markup_and_control_letters_do_no_harm() -> None:
    gpx = read(site_name='Kettle & <Sons> "A"\x07', name="]]> <trk/>")
    assert gpx.waypoints[0].name == 'Kettle & <Sons> "A"\N{REPLACEMENT CHARACTER}'
    assert gpx.name == "]]> <trk/>"
    assert len(gpx.tracks) == 1


@pytest.mark.parametrize("site", [SITE, DATE_LINE_SITE])
def test_gdal_reads_it(tmp_path: Path, site: tuple[float, float]) -> None:
    path = tmp_path / "flight.gpx"
    path.write_text(flight_gpx(**for_receivers(site=site)), encoding="utf-8")
    points = [feature["properties"] for feature in gdal_features(path, "track_points")]
    heights = [point["ele"] for point in points]
    assert (min(heights), max(heights)) == (GROUND_MSL_M, TOP_MSL_M)
    assert points[0]["time"].startswith("2027-02-13T22:30:00")
    assert len(gdal_features(path, "tracks")) == 1
    waypoints = gdal_features(path, "waypoints")
    assert [point["properties"]["name"] for point in waypoints] == ["Site A", "Nominal burst", "Most likely landing"]
    assert np.array(waypoints[0]["geometry"]["coordinates"][:2]) == pytest.approx(np.array(site[::-1]), abs=1e-6)
    assert 'ID["EPSG",4326]' in gdal_reference_system(path, "tracks")
