"""KML 2.2 (OGC 07-147r2; order of elements from the schema ogckml22.xsd, from memory), and what GDAL reads."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from handouts import DATE_LINE_SITE, NOTE, OFF, gdal_features, gdal_reference_system, prediction
from pictures import GROUND_MSL_M, SITE, TOP_MSL_M, area_of, scattered_ends, straight_flights
from shapely.geometry import shape

from pappus.export import flight_kml

K, GX = "{http://www.opengis.net/kml/2.2}", "{http://www.google.com/kml/ext/2.2}"
_FEATURE = ("name", "visibility", "open", "Snippet", "description", "TimeSpan", "styleUrl", "Style", "ExtendedData")
ORDER = {
    "kml": ("Document",),
    "Document": (*_FEATURE, "Folder", "Placemark"),
    "Folder": (*_FEATURE, "Placemark"),
    "Placemark": (*_FEATURE, "Point", "MultiGeometry", "Track", "MultiTrack"),
    "Style": ("IconStyle", "LabelStyle", "LineStyle", "PolyStyle"),
    "IconStyle": ("color", "scale"),
    "LabelStyle": ("scale",),
    "LineStyle": ("color", "width", "outerColor", "outerWidth"),
    "PolyStyle": ("color",),
    "Polygon": ("extrude", "tessellate", "altitudeMode", "outerBoundaryIs", "innerBoundaryIs"),
    "Point": ("extrude", "altitudeMode", "coordinates"),
    "MultiGeometry": ("Point", "Polygon"),
    "MultiTrack": ("altitudeMode", "interpolate", "Track"),
    "Track": ("altitudeMode", "when", "coord"),
    "outerBoundaryIs": ("LinearRing",),
    "innerBoundaryIs": ("LinearRing",),
    "LinearRing": ("coordinates",),
}


def written(**keys: Any) -> ElementTree.Element:
    return ElementTree.fromstring(flight_kml(**prediction(**keys)))


def folder(root: ElementTree.Element, name: str) -> ElementTree.Element:
    return next(one for one in root.iter(f"{K}Folder") if one.findtext(f"{K}name") == name)


@pytest.mark.parametrize("site", [SITE, DATE_LINE_SITE])
def test_elements_stand_in_the_order_of_the_schema(site: tuple[float, float]) -> None:
    root = written(site=site)
    for element in root.iter():
        order = ORDER.get(element.tag.rpartition("}")[2], ())
        places = [order.index(child.tag.rpartition("}")[2]) for child in element]
        assert places == sorted(places), element.tag
    for coordinates in root.iter(f"{K}coordinates"):
        assert re.fullmatch(r"(-?[\d.]+,-?[\d.]+(,-?[\d.]+)? ?)+", coordinates.text or "")
    for colour in root.iter(f"{K}color"):
        assert re.fullmatch("[0-9a-f]{8}", colour.text or "")
    styles = {style.get("id") for style in root.iter(f"{K}Style")}
    used = {(url.text or "").removeprefix("#") for url in root.iter(f"{K}styleUrl")}
    assert used <= styles
    assert len(used) == 8


def test_the_flight_is_at_absolute_heights_with_a_time_for_each_place() -> None:
    nominal = prediction()["nominal"]
    flight = folder(written(), "Nominal flight")
    up, down = flight.iter(f"{GX}Track")
    for track in (up, down):
        assert track.findtext(f"{K}altitudeMode") == "absolute"
        assert len(track.findall(f"{K}when")) == len(track.findall(f"{GX}coord"))
    rows = [(coord.text or "").split(" ") for track in (up, down) for coord in track.findall(f"{GX}coord")]
    top = len(up.findall(f"{GX}coord"))
    found = np.delete(np.array(rows, dtype=float), top, axis=0)  # the burst stands in both
    assert found[:, 2] == pytest.approx(nominal.track_height_msl_m[0], abs=0.06)
    assert found[:, 0] == pytest.approx(nominal.track_longitude_deg[0], abs=1e-6)
    times = [when.text or "" for track in (up, down) for when in track.findall(f"{K}when")]
    assert times == sorted(times)
    assert (times[0], times[top], times[-1]) == (
        "2027-02-13T22:30:00.000Z", "2027-02-14T00:00:00.000Z", "2027-02-14T01:00:00.000Z",
    )  # fmt: skip
    said = [placemark.findtext(f"{K}description") or "" for placemark in flight.iter(f"{K}Placemark")]
    assert "Up to 30.0 km (98,400 ft): 2027-02-13 22:30Z to 2027-02-14 00:00Z, ends with burst" in said[0]
    assert "ends with landing" in said[1]


def test_areas_have_one_hue_in_three_steps_and_lie_on_the_ground() -> None:
    """Blue of Okabe & Ito 2008 is red 0, green 114, blue 178; KML writes opacity, blue, green, red."""
    root = written()
    fills = [root.find(f".//{K}Style[@id='area-{n}']/{K}PolyStyle/{K}color") for n in range(3)]
    colours = [fill.text or "" for fill in fills if fill is not None]
    assert [colour[2:] for colour in colours] == 3 * [f"{178:02x}{114:02x}{0:02x}"]
    opacity = [int(colour[:2], 16) for colour in colours]
    assert opacity[0] > opacity[1] > opacity[2] > 25
    areas = list(folder(root, "Landing area").iter(f"{K}Placemark"))
    assert [re.sub(r" [\d,]+ km².*", "", area.findtext(f"{K}name") or "") for area in areas] == [
        f"{level} % of flights land in" for level in (95, 90, 50)
    ]
    assert {mode.text for area in areas for mode in area.iter(f"{K}altitudeMode")} == {"clampToGround"}


def test_every_part_says_that_the_example_is_invented() -> None:
    described = [f for tag in ("Document", "Placemark") for f in written().iter(f"{K}{tag}")]
    assert len(described) == 11
    assert all((feature.findtext(f"{K}description") or "").startswith(NOTE) for feature in described)


def test_a_level_without_an_area_is_words() -> None:
    few = straight_flights(scattered_ends(5))
    areas = folder(written(area=area_of(few)), "Landing area")
    assert not list(areas.iter(f"{K}Placemark"))
    assert (areas.findtext(f"{K}description") or "").count("no area for") == 3


def test_markup_in_names_stays_text_also_where_readers_show_html() -> None:
    root = written(note="<script>alert(1)</script> & more\x00", site_name="<b>A</b>")
    assert "<b>A</b>" in [placemark.findtext(f"{K}name") for placemark in root.iter(f"{K}Placemark")]
    for description in root.iter(f"{K}description"):
        assert "<script" not in (description.text or "")
    assert (root.findtext(f"{K}Document/{K}description") or "").startswith(
        "&lt;script&gt;alert(1)&lt;/script&gt; &amp;"
    )


@pytest.mark.parametrize(("site", "lines"), [(SITE, 1), (DATE_LINE_SITE, 2)])
def test_gdal_reads_it(tmp_path: Path, site: tuple[float, float], lines: int) -> None:
    path = tmp_path / "flight.kml"
    path.write_text(flight_kml(**prediction(site=site)), encoding="utf-8")
    tracks = [shape(feature["geometry"]) for feature in gdal_features(path, "Nominal flight")]
    assert max(len(getattr(track, "geoms", [track])) for track in tracks) == lines
    heights = [z for track in tracks for line in getattr(track, "geoms", [track]) for _, _, z in line.coords]
    assert (min(heights), max(heights)) == (GROUND_MSL_M, TOP_MSL_M)

    areas = [shape(feature["geometry"]) for feature in gdal_features(path, "Landing area")]
    assert len(areas) == 3
    assert areas[0].area > areas[1].area > areas[2].area > 0.0
    assert all(area.bounds[2] - area.bounds[0] < 2.0 for part in areas for area in getattr(part, "geoms", [part]))

    groups = [len(feature["geometry"]["coordinates"]) for feature in gdal_features(path, "Ends of flights")]
    assert groups == [196 - OFF, OFF, 4]
    marks = gdal_features(path, "Where the steam goes")
    assert [mark["properties"]["Name"] for mark in marks] == ["Site A", "Nominal burst"]
    assert marks[1]["geometry"]["coordinates"][2] == TOP_MSL_M
    assert 'ID["EPSG",4326]' in gdal_reference_system(path, "Landing area")
