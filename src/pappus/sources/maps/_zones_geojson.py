"""Areas in GeoJSON (RFC 7946)."""

from __future__ import annotations

import json
from typing import Any

from pappus.errors import Finding
from pappus.sources._files import FileBytes, bad_file
from pappus.sources.maps._one_line import one_line
from pappus.sources.maps._zones_areas import MOST_FEATURES, DrawnArea, Polygon, ring_of

_GEOMETRIES = frozenset({"Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon"})
_WGS84 = frozenset({"urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:OGC::CRS84"})


def read_geojson_areas(file: FileBytes) -> tuple[list[DrawnArea], list[Finding]]:
    """Areas, and a finding for everything else; raises BadFile for a file that is no GeoJSON on WGS84."""
    try:
        root = json.loads(file.content, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise bad_file(file.name, f"the JSON is cut short or damaged ({error})", "Get the file again.") from None
    areas: list[DrawnArea] = []
    unused: list[Finding] = []
    for number, feature in enumerate(_features(root, file.name), 1):
        where = f"{file.name}, feature {number}"
        if not isinstance(feature, dict) or feature.get("type") != "Feature":
            unused.append(Finding(where, "", "this is no feature", "Draw it again."))
            continue
        properties = feature.get("properties")
        properties = properties if isinstance(properties, dict) else {}
        name = one_line(properties["name"]) if isinstance(properties.get("name"), str) else ""
        polygons, others = _polygons(feature.get("geometry"))
        unused += [Finding(where, name, reason, "Draw the area again as a polygon.") for reason in others]
        if polygons:
            role = None if properties.get("role") is None else one_line(str(properties["role"]), 40)
            areas.append(DrawnArea(where, name, role, tuple(polygons)))
    return areas, unused


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is not a number of JSON")


def _features(root: Any, name: str) -> list[Any]:
    kind = root.get("type") if isinstance(root, dict) else None
    if kind == "FeatureCollection":
        features = root.get("features")
    elif kind == "Feature":
        features = [root]
    elif kind == "GeometryCollection" or (isinstance(kind, str) and kind in _GEOMETRIES):
        features = [{"type": "Feature", "properties": None, "geometry": root}]
    else:
        raise bad_file(name, "this JSON is no GeoJSON", "Give a FeatureCollection of polygons.")
    if not isinstance(features, list):
        raise bad_file(name, "its features are no list", "Get the file again.")
    if len(features) > MOST_FEATURES:
        raise bad_file(name, f"it holds more than {MOST_FEATURES} features", "Keep the zones only.")
    crs = root.get("crs")
    inner = crs.get("properties") if isinstance(crs, dict) else None
    if crs is not None and not (isinstance(inner, dict) and str(inner.get("name")) in _WGS84):
        reason = "it names a coordinate reference system, and GeoJSON is on WGS84 alone (RFC 7946, section 4)"
        raise bad_file(name, reason, "Export it on WGS84, longitude first, without crs.", value=one_line(str(crs), 80))
    return features


def _polygons(geometry: Any) -> tuple[list[Polygon], list[str]]:
    """Polygons of a geometry and the reasons why other parts are none; one bad polygon spoils the whole area."""
    kind = geometry.get("type") if isinstance(geometry, dict) else None
    if kind == "GeometryCollection":
        members = geometry.get("geometries")
        if not isinstance(members, list):
            return [], ["the geometries of the collection are no list"]
        return _collected(members)
    if kind not in ("Polygon", "MultiPolygon"):
        return [], ["it has no geometry" if geometry is None else f"{_said(kind)} is no area"]
    coordinates = geometry.get("coordinates")
    try:
        parts = [coordinates] if kind == "Polygon" else _list(coordinates)
        polygons = [tuple(_ring(ring) for ring in _list(part)) for part in parts]
    except (ValueError, OverflowError) as error:
        return [], [str(error)]
    if not polygons or not all(polygons):
        return [], ["the polygon is empty"]
    return polygons, []


def _collected(members: list[Any]) -> tuple[list[Polygon], list[str]]:
    polygons: list[Polygon] = []
    reasons: list[str] = []
    damaged = False
    for member in members:
        kind = member.get("type") if isinstance(member, dict) else None
        if kind == "GeometryCollection":
            reasons.append("a collection inside a collection is not read")
            damaged = True
            continue
        found, others = _polygons(member)
        polygons += found
        reasons += others
        damaged |= bool(others) and kind in ("Polygon", "MultiPolygon")
    return ([] if damaged else polygons), reasons


def _said(kind: Any) -> str:
    return f"a {kind}" if isinstance(kind, str) and kind in _GEOMETRIES else "this geometry"


def _list(value: Any) -> list[Any]:
    if not isinstance(value, list):
        raise ValueError("the coordinates are no lists of rings")
    return value


def _ring(ring: Any) -> Any:
    return ring_of([_position(position) for position in _list(ring)])


def _position(position: Any) -> tuple[float, float]:
    if not isinstance(position, list) or len(position) < 2:
        raise ValueError("a position is no list of longitude and latitude")
    longitude, latitude = position[:2]
    for number in (longitude, latitude):
        if isinstance(number, bool) or not isinstance(number, int | float):
            raise ValueError(f"{str(number)[:20]!r} in a position is not a number")
    return float(longitude), float(latitude)
