"""Zones of GeoJSON and KML: roles, holes, date line; everything else in a file is listed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pappus.errors import BadFile
from pappus.sources import ZonesFile, read_zones
from sources.zone_texts import HOLE, RING, collection, feature, kml, kml_polygon, placemark, polygon

FAR = [[x + 1.0, y] for x, y in RING]


def read(tmp_path: Path, text: str | bytes) -> ZonesFile:
    path = tmp_path / "zones.dat"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_zones(path)


BOTH = {
    "GeoJSON": collection(
        feature(polygon(RING, HOLE), name="Solar farm", role="Keep_Out"),
        feature(polygon(FAR), name="Permitted landing: Larsen's field"),
        feature({"type": "MultiPolygon", "coordinates": [[RING], [FAR]]}, name="Range", role="permit area"),
        feature({"type": "Point", "coordinates": [7.0, 45.0]}, name="Launch site"),
        feature(polygon(RING), name="Picnic place"),
        feature(None, name="Nothing"),
    ),
    "KML": kml(
        placemark(
            "Solar farm",
            '<ExtendedData><Data name="role"><value>keep-out</value></Data></ExtendedData>' + kml_polygon(RING, HOLE),
        ),
        placemark("Permitted landing: Larsen's field", kml_polygon(FAR)),
        placemark(
            "Range",
            '<ExtendedData><SchemaData schemaUrl="#a"><SimpleData name="Role">Permit Area</SimpleData></SchemaData>'
            f"</ExtendedData><MultiGeometry>{kml_polygon(RING)}{kml_polygon(FAR)}</MultiGeometry>",
        ),
        placemark("Launch site", "<Point><coordinates>7,45,300</coordinates></Point>"),
        placemark("Picnic place", kml_polygon(RING)),
        placemark("Nothing", ""),
    ),
}


@pytest.mark.parametrize("form", BOTH)
def test_zones_and_what_is_none(tmp_path: Path, form: str) -> None:
    found = read(tmp_path, BOTH[form])
    assert [(zone.name, zone.role) for zone in found.zones] == [
        ("Solar farm", "keep-out"),
        ("Permitted landing: Larsen's field", "permitted landing"),
        ("Range", "permit area"),
    ]
    farm, field, permit = (zone.outline for zone in found.zones)
    assert farm.contains([45.01, 45.03, 45.03], [7.01, 7.07, 7.15]).tolist() == [True, False, True]
    assert field.contains(45.05, [7.1, 8.1]).tolist() == [False, True]
    assert permit.contains(45.05, [7.1, 7.6, 8.1]).tolist() == [True, False, True]
    assert permit.area_m2 == pytest.approx(2.0 * field.area_m2)
    said = {finding.value: finding.reason for finding in found.not_used}
    assert set(said) == {"Launch site", "Picnic place", "Nothing"}
    assert said["Launch site"] == "a Point is no area"
    assert "does not say what kind of zone" in said["Picnic place"]
    assert said["Nothing"] == "it has no geometry"
    assert all(zone.origin.startswith("zones.dat, ") for zone in found.zones)


@pytest.mark.parametrize(
    ("name", "role", "expected"),
    [
        ("x", "keep-out", "keep-out"),
        ("x", "KEEP OUT", "keep-out"),
        ("x", "permitted_landing", "permitted landing"),
        ("keep-out", None, "keep-out"),
        ("Keep Out - school", None, "keep-out"),
        ("Permit area 2026", None, "permit area"),
        ("keep-out", "permit area", "permit area"),
        ("keep-out", "unknown", None),  # a role that is given but not known is not replaced by the name
        ("keep-out", "", None),
        ("keep-out", 7, None),
        ("No landing permitted", None, None),
        ("Not a permitted landing", None, None),
        ("keep outside", None, None),
        ("", None, None),
    ],
)
def test_roles(tmp_path: Path, name: str, role: object, expected: str | None) -> None:
    properties = {"name": name} if role is None else {"name": name, "role": role}
    good = feature(polygon(RING), role="keep-out", name="good")
    found = read(tmp_path, collection(good, feature(polygon(FAR), **properties)))
    assert [zone.role for zone in found.zones[1:]] == ([] if expected is None else [expected])
    assert len(found.not_used) == (expected is None)


def test_two_roles_in_one_placemark_are_none(tmp_path: Path) -> None:
    data = "".join(f'<Data name="role"><value>{role}</value></Data>' for role in ("keep-out", "permit area"))
    text = kml(
        placemark("keep-out", f"<ExtendedData>{data}</ExtendedData>{kml_polygon(RING)}"),
        placemark("keep-out 2", kml_polygon(RING)),
    )
    found = read(tmp_path, text)
    assert [zone.name for zone in found.zones] == ["keep-out 2"]
    assert "keep-out / permit area" in found.not_used[0].reason


def test_names_are_shown_on_one_line(tmp_path: Path) -> None:
    name = "Keep-out\n\x1b[31m" + "x" * 500
    (zone,) = read(tmp_path, collection(feature(polygon(RING), name=name))).zones
    assert zone.name.isprintable()
    assert zone.name.startswith("Keep-out ")
    assert len(zone.name) == 200


def test_a_single_feature_and_unnamed_zones(tmp_path: Path) -> None:
    found = read(tmp_path, json.dumps(feature(polygon(RING), role="permit area")))
    assert found.zones[0].name == "unnamed permit area"


@pytest.mark.parametrize("west", [[179.9, -179.9, -179.9, 179.9, 179.9], [179.9, 180.1, 180.1, 179.9, 179.9]])
def test_over_the_date_line(tmp_path: Path, west: list[float]) -> None:
    ring = [[east, north] for east, north in zip(west, [-17.0, -17.0, -16.0, -16.0, -17.0], strict=True)]
    for text in (collection(feature(polygon(ring), role="keep-out")), kml(placemark("keep-out", kml_polygon(ring)))):
        (zone,) = read(tmp_path, text).zones
        assert zone.outline.contains(-16.5, [180.0, -179.95, 179.95, 0.0, 179.8]).tolist() == [True] * 3 + [False] * 2


BAD_RINGS = {
    "not closed": ([RING[:-1]], "not closed"),
    "three positions": ([[RING[0], RING[1], RING[0]]], "fewer than four"),
    "crossing itself": ([[RING[0], RING[2], [7.2, 45.0], [7.05, 45.1], RING[0]]], "crosses itself"),
    "latitude first": ([[[45.0, 107.0], [45.0, 107.2], [45.1, 107.2], [45.0, 107.0]]], "no latitude"),
    "beyond the earth": ([[[7.0, 45.0], [7.2, 45.0], [1e9, 45.1], [7.0, 45.0]]], "no latitude"),
    "hole outside": ([RING, [[x + 5, y] for x, y in HOLE]], "hole reaches beyond"),
    "half the earth": ([[[-100.0, 45.0], [100.0, 45.0], [100.0, 46.0], [-100.0, 45.0]]], "two ways"),
    "one place": ([[RING[0]] * 5], "three different points"),
}


@pytest.mark.parametrize("form", ["GeoJSON", "KML"])
@pytest.mark.parametrize("kind", BAD_RINGS)
def test_bad_rings_are_listed(tmp_path: Path, kind: str, form: str) -> None:
    rings, reason = BAD_RINGS[kind]
    if form == "KML":
        text = kml(placemark("keep-out", kml_polygon(RING)), placemark("keep-out bad", kml_polygon(*rings)))
    else:
        good = feature(polygon(RING), name="keep-out")
        text = collection(good, feature(polygon(*rings), name="keep-out bad"))
    found = read(tmp_path, text)
    assert [zone.name for zone in found.zones] == ["keep-out"]
    (finding,) = found.not_used
    assert finding.value == "keep-out bad"
    assert reason in finding.reason, finding


BAD_GEOMETRIES = [
    {"type": "Polygon"},
    {"type": "Polygon", "coordinates": None},
    {"type": "Polygon", "coordinates": []},
    {"type": "Polygon", "coordinates": [[]]},
    {"type": "Polygon", "coordinates": [RING[0]]},
    {"type": "Polygon", "coordinates": [[["7", "45"]] * 4]},
    {"type": "Polygon", "coordinates": [[[True, False]] * 4]},
    {"type": "Polygon", "coordinates": [[[7]] * 4]},
    {"type": "Polygon", "coordinates": [[[10**400, 45]] * 4]},
    {"type": "MultiPolygon", "coordinates": [[RING], 5]},
    {"type": "MultiPolygon", "coordinates": {}},
    {"type": "LineString", "coordinates": RING},
    {"type": "GeometryCollection", "geometries": 5},
    {"type": "GeometryCollection", "geometries": [polygon(RING), {"type": "GeometryCollection", "geometries": []}]},
    {"type": "GeometryCollection", "geometries": [polygon(RING), polygon(RING[:2])]},
    {"type": ["Polygon"]},
    "Polygon",
    5,
]


@pytest.mark.parametrize("geometry", BAD_GEOMETRIES, ids=range(len(BAD_GEOMETRIES)))
def test_bad_geometries_are_listed(tmp_path: Path, geometry: object) -> None:
    text = collection(feature(polygon(RING), name="keep-out"), feature(geometry, name="keep-out bad"))
    found = read(tmp_path, text)
    assert [zone.name for zone in found.zones] == ["keep-out"]
    assert [finding.value for finding in found.not_used] == ["keep-out bad"]
    assert found.not_used[0].field == "zones.dat, feature 2"


def test_a_collection_of_geometries_gives_its_polygons(tmp_path: Path) -> None:
    members = [polygon(RING), {"type": "Point", "coordinates": [7, 45]}, polygon(FAR)]
    found = read(tmp_path, collection(feature({"type": "GeometryCollection", "geometries": members}, role="keep-out")))
    assert found.zones[0].outline.contains(45.05, [7.1, 7.6, 8.1]).tolist() == [True, False, True]
    assert [finding.reason for finding in found.not_used] == ["a Point is no area"]


@pytest.mark.parametrize(
    "content",
    ["<Polygon/>", "<Polygon><outerBoundaryIs/></Polygon>", kml_polygon(RING).replace(",", ", "), kml_polygon(RING) * 0]
    + [kml_polygon(RING).replace("7.2", text) for text in ("nan", "inf", "٧", "1_0", "7.2.2", "")],
)
def test_bad_kml_polygons_are_listed(tmp_path: Path, content: str) -> None:
    found = read(tmp_path, kml(placemark("keep-out", kml_polygon(RING)), placemark("keep-out bad", content)))
    assert [zone.name for zone in found.zones] == ["keep-out"]
    assert [finding.value for finding in found.not_used] == ["keep-out bad"]


def test_links_and_pictures_of_kml_are_listed(tmp_path: Path) -> None:
    text = kml(
        placemark("keep-out", kml_polygon(RING)),
        "<NetworkLink><name>More</name><Link><href>file:///etc/hostname</href></Link></NetworkLink>",
        "<GroundOverlay><name>Map</name></GroundOverlay>",
        placemark("Way", "<gx:Track xmlns:gx='urn:gx'></gx:Track>"),
    )
    said = {finding.value: finding.reason for finding in read(tmp_path, text).not_used}
    assert said == {
        "More": "a NetworkLink is no area",
        "Map": "a GroundOverlay is no area",
        "Way": "a Track is no area",
    }


BOMB = '<!DOCTYPE kml [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
OUTSIDE = '<!DOCTYPE kml [<!ENTITY x SYSTEM "file:///etc/hostname">]>'

BAD_FILES = {
    "empty": (b"", "empty"),
    "nonsense": (b"hello", "neither GeoJSON nor KML"),
    "zip archive": (b"PK\x03\x04" + b"x" * 40, "zip archive"),
    "JSON cut short": (BOTH["GeoJSON"][:-20], "cut short"),
    "JSON that is none": ('{"levels": [1, 2]}', "no GeoJSON"),
    "JSON list": ("[1, 2]", "no GeoJSON"),
    "JSON nested very deep": ("[" * 200_000, "cut short or damaged"),
    "JSON of NaN": (collection(feature(polygon(RING))).replace("7.2", "NaN", 1), "not a number of JSON"),
    "features that are no list": ('{"type": "FeatureCollection", "features": {}}', "no list"),
    "no zone": (collection(), "no polygon"),
    "feature that is none": (collection(5), "no feature"),
    "too many features": (collection(*[0] * 20_001), "more than 20000"),
    "other coordinates": (
        collection(
            feature(polygon(RING), role="keep-out"),
            crs={"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::3857"}},
        ),
        "WGS84 alone",
    ),
    "KML cut short": (BOTH["KML"][:-20], "cut short"),
    "web page": (b"<html><body>Error 503</body></html>", "no KML"),
    "KML with entities that grow": (kml(placemark("&b;", ""), head=BOMB), "document type"),
    "KML with a file of this machine": (kml(placemark("&x;", ""), head=OUTSIDE), "document type"),
    "KML nested very deep": ("<kml>" + "<Folder>" * 5_000, "nested deeper"),
    "KML of very many elements": ("<kml>" + "<a/>" * 400_001, "more than 400000"),
    "KML of an unknown encoding": (b'<?xml version="1.0" encoding="utf-77"?><kml/>', "cut short or damaged"),
    "KML without anything": (kml(), "no polygon"),
    "two outer elements": ("<kml/><kml/>", "damaged"),
}


@pytest.mark.parametrize("kind", BAD_FILES)
def test_files_that_are_refused(tmp_path: Path, kind: str) -> None:
    content, reason = BAD_FILES[kind]
    with pytest.raises(BadFile, match=reason) as caught:
        read(tmp_path, content)
    for finding in caught.value.findings:
        assert finding.field
        assert finding.fix.endswith(".")


def test_wgs84_by_name_is_no_other_system(tmp_path: Path) -> None:
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    assert read(tmp_path, collection(feature(polygon(RING), role="keep-out"), crs=crs)).zones


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_other_encodings_of_json(tmp_path: Path, encoding: str) -> None:
    text = collection(feature(polygon(RING), role="keep-out", name="Åker"))
    assert read(tmp_path, text.encode(encoding)).zones[0].name == "Åker"
