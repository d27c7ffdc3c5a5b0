"""Areas in KML (OGC 12-007r2), read without entities, document types or links."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from pappus.errors import Finding
from pappus.sources._files import FileBytes, bad_file
from pappus.sources.maps._one_line import one_line
from pappus.sources.maps._zones_areas import MOST_FEATURES, DrawnArea, Polygon, ring_of

_DEEPEST = 60
_MOST_ELEMENTS = 400_000
_NUMBER = r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]{1,3})?"
_TUPLE = re.compile(rf"({_NUMBER}),({_NUMBER})(?:,(?:{_NUMBER})?)?")
_NO_AREA = frozenset({"Point", "LineString", "LinearRing", "Model", "Track", "MultiTrack"})
_NO_PLACEMARK = frozenset({"NetworkLink", "GroundOverlay", "ScreenOverlay", "PhotoOverlay", "Tour"})


@dataclass(eq=False)
class _Element:
    name: str
    attributes: dict[str, str]
    line: int
    children: list[_Element] = field(default_factory=list)
    pieces: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        return "".join(self.pieces).strip()

    def all(self, name: str) -> list[_Element]:
        return [child for child in self.children if child.name == name]

    def one(self, name: str) -> _Element:
        """The only child of a name; raises ValueError."""
        found = self.all(name)
        if len(found) != 1:
            raise ValueError(f"{self.name} has {len(found)} {name}, not one")
        return found[0]


class _Refused(Exception):
    """Why the XML is not read."""


def read_kml_areas(file: FileBytes) -> tuple[list[DrawnArea], list[Finding]]:
    """Areas, and a finding for everything else that stands on a map; raises BadFile for a file that is no KML."""
    try:
        root = _parse(file.content)
    except (expat.ExpatError, ValueError, LookupError) as error:
        raise bad_file(file.name, f"the XML is cut short or damaged ({error})", "Get the file again.") from None
    except _Refused as error:
        raise bad_file(file.name, str(error), "Export it again as plain KML.") from None
    if root.name != "kml":
        raise bad_file(
            file.name, f"this XML is no KML, its outer element is {one_line(root.name, 40)}", "Give KML or GeoJSON."
        )
    areas: list[DrawnArea] = []
    unused: list[Finding] = []
    for count, element in enumerate(_on_the_map(root)):
        if count >= MOST_FEATURES:
            raise bad_file(file.name, f"it holds more than {MOST_FEATURES} placemarks", "Keep the zones only.")
        where = f"{file.name}, line {element.line}"
        name = "".join(one_line(found.text) for found in element.all("name")[:1])
        if element.name != "Placemark":
            unused.append(Finding(where, name, f"a {element.name} is no area", "Draw the area again as a polygon."))
            continue
        polygons, others = _polygons(element)
        unused += [Finding(where, name, reason, "Draw the area again as a polygon.") for reason in others]
        if polygons:
            areas.append(DrawnArea(where, name, _role(element), tuple(polygons)))
    return areas, unused


def _parse(content: bytes) -> _Element:
    """The document as a tree. A document type is refused outright: it can name other files, and entities that grow."""
    parser = expat.ParserCreate()
    parser.buffer_text = True
    top = _Element("", {}, 0)
    open_elements = [top]
    count = 0

    def start(name: str, attributes: dict[str, str]) -> None:
        nonlocal count
        count += 1
        if count > _MOST_ELEMENTS or len(open_elements) > _DEEPEST:
            raise _Refused(f"the XML has more than {_MOST_ELEMENTS} elements or is nested deeper than {_DEEPEST}")
        element = _Element(name.rpartition(":")[2], attributes, parser.CurrentLineNumber)
        open_elements[-1].children.append(element)
        open_elements.append(element)

    def end(_name: str) -> None:
        open_elements.pop()

    def doctype(*_: object) -> None:
        raise _Refused("the XML has a document type, which KML does not need")

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = lambda text: open_elements[-1].pieces.append(text)
    parser.StartDoctypeDeclHandler = doctype
    parser.Parse(content, True)
    return top.children[0]


def _on_the_map(element: _Element) -> Iterator[_Element]:
    for child in element.children:
        if child.name == "Placemark" or child.name in _NO_PLACEMARK:
            yield child
        else:
            yield from _on_the_map(child)


def _role(placemark: _Element) -> str | None:
    """The value of the data called ``role``; two that differ are said together, so that no role fits."""
    given = [
        item.text if item.name == "SimpleData" else " ".join(value.text for value in item.all("value"))
        for data in placemark.all("ExtendedData")
        for item in (*data.all("Data"), *(simple for group in data.all("SchemaData") for simple in group.children))
        if item.attributes.get("name", "").strip().lower() == "role"
    ]
    return one_line(" / ".join(sorted(set(given))), 40) if given else None


def _polygons(parent: _Element) -> tuple[list[Polygon], list[str]]:
    """Polygons of a placemark and the reasons why other parts are none; one bad polygon spoils the whole area."""
    polygons: list[Polygon] = []
    reasons: list[str] = []
    damaged = False
    parts = list(_geometries(parent))
    for part in parts:
        if part.name != "Polygon":
            reasons.append(f"a {part.name} is no area")
            continue
        try:
            rings = [part.one("outerBoundaryIs").one("LinearRing")]
            rings += [ring for inner in part.all("innerBoundaryIs") for ring in inner.all("LinearRing")]
            polygons.append(tuple(ring_of(_positions(ring.one("coordinates").text)) for ring in rings))
        except (ValueError, OverflowError) as error:
            reasons.append(str(error))
            damaged = True
    if not parts:
        reasons.append("it has no geometry")
    return ([] if damaged else polygons), reasons


def _geometries(parent: _Element) -> Iterator[_Element]:
    for child in parent.children:
        if child.name == "MultiGeometry":
            yield from _geometries(child)
        elif child.name == "Polygon" or child.name in _NO_AREA:
            yield child


def _positions(text: str) -> list[tuple[float, float]]:
    positions = []
    for piece in text.split():
        found = _TUPLE.fullmatch(piece)
        if found is None:
            raise ValueError(f"{piece[:30]!r} is no longitude,latitude without spaces between")
        positions.append((float(found[1]), float(found[2])))
    return positions
