"""Small files of zones, in GeoJSON and KML, for the tests of their readers."""

from __future__ import annotations

import json
from typing import Any

Position = list[float]
RING: list[Position] = [[7.0, 45.0], [7.2, 45.0], [7.2, 45.1], [7.0, 45.1], [7.0, 45.0]]
HOLE: list[Position] = [[7.05, 45.02], [7.05, 45.04], [7.1, 45.04], [7.1, 45.02], [7.05, 45.02]]


def polygon(*rings: Any) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": list(rings)}


def feature(geometry: Any, **properties: Any) -> dict[str, Any]:
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def collection(*features: Any, **members: Any) -> str:
    return json.dumps({"type": "FeatureCollection", "features": list(features), **members})


def kml_polygon(*rings: list[Position]) -> str:
    outer, *holes = (
        "<LinearRing><coordinates>"
        + " ".join(",".join(str(number) for number in position) for position in ring)
        + "</coordinates></LinearRing>"
        for ring in rings
    )
    inner = "".join(f"<innerBoundaryIs>{hole}</innerBoundaryIs>" for hole in holes)
    return f"<Polygon><outerBoundaryIs>{outer}</outerBoundaryIs>{inner}</Polygon>"


def placemark(name: str, content: str) -> str:
    return f"<Placemark><name>{name}</name>{content}</Placemark>\n"


def kml(*content: str, head: str = '<?xml version="1.0" encoding="UTF-8"?>\n') -> str:
    body = "".join(content)
    return f'{head}<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder>\n{body}</Folder></Document></kml>\n'
