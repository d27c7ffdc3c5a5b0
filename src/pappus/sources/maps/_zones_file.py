"""Zones that the crew drew, from GeoJSON or KML: keep-out, permitted landing and permit area."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from pappus.errors import BadFile, BadInput, Finding
from pappus.ground import Outline, Zone, ZoneRole
from pappus.sources._files import bad_file, read_file
from pappus.sources.maps._zones_areas import DrawnArea
from pappus.sources.maps._zones_geojson import read_geojson_areas
from pappus.sources.maps._zones_kml import read_kml_areas

_LARGEST_BYTES = 20_000_000
_MOST_FINDINGS = 10
_ROLES: dict[str, ZoneRole] = {
    "keep out": "keep-out",
    "permitted landing": "permitted landing",
    "permit area": "permit area",
}
_HOW_TO_SAY = "Give it a property `role`, or begin its name, with keep-out, permitted landing or permit area."


@dataclass(frozen=True, eq=False)
class ZonesFile:
    """Zones of a file, and whatever else it holds."""

    name: str
    sha256: str
    zones: tuple[Zone, ...]
    not_used: tuple[Finding, ...]
    """Everything that is no zone here, one line each: a zone among them does not count, so it has to be said."""


def read_zones(path: str | Path) -> ZonesFile:
    """All zones of a GeoJSON (RFC 7946) or KML (OGC 12-007r2) file, gzip-packed or not; heights in it are not read.

    The role of an area is its property ``role`` (in KML: extended data of that name); without one, the words with
    which its name begins: keep-out, permitted landing or permit area. Capital letters, hyphens, underscores and spaces
    make no difference. Edges are straight in latitude and longitude.

    Raises BadFile when it cannot be read, or holds no zone at all.
    """
    file = read_file(path, largest_bytes=_LARGEST_BYTES)
    if len(file.content) > _LARGEST_BYTES:
        raise bad_file(
            file.name, f"the file unpacks to more than {_LARGEST_BYTES / 1e6:.0f} MB", "Keep the zones only."
        )
    start = file.content.lstrip(b"\xef\xbb\xbf\xff\xfe\x00 \t\r\n")[:2]
    if start == b"PK":
        raise bad_file(file.name, "this is a zip archive, such as KMZ", "Unpack it and give the KML inside.")
    if start.startswith(b"<"):
        areas, unused = read_kml_areas(file)
    elif start.startswith((b"{", b"[")):
        areas, unused = read_geojson_areas(file)
    else:
        raise bad_file(file.name, "this is neither GeoJSON nor KML", "Give GeoJSON or KML with polygons.")
    zones: list[Zone] = []
    for area in areas:
        try:
            zones.append(_zone(area))
        except BadInput as error:
            unused += error.findings
    if not zones:
        nothing = Finding(file.name, "", "it holds no polygon", "Give GeoJSON or KML with polygons.")
        raise BadFile(*(unused[:_MOST_FINDINGS] or [nothing]))
    return ZonesFile(file.name, file.sha256, tuple(zones), tuple(unused))


def _zone(area: DrawnArea) -> Zone:
    role = _role(area)
    if role is None:
        said = f"role {area.role!r}" if area.role is not None else f"name {area.name!r}"
        raise BadInput(Finding(area.where, area.name, f"its {said} does not say what kind of zone it is", _HOW_TO_SAY))
    try:
        outline = Outline(area.polygons)
    except BadInput as error:
        finding = error.findings[0]
        value = f" ({finding.value})" if finding.value else ""
        raise BadInput(Finding(area.where, area.name, finding.reason + value, finding.fix)) from None
    return Zone(area.name or f"unnamed {role}", role, outline, area.where)


def _role(area: DrawnArea) -> ZoneRole | None:
    """A role that is given but not known is not made up for by the name."""
    if area.role is not None:
        return _ROLES.get(_plain(area.role))
    name = _plain(area.name)
    return next((role for words, role in _ROLES.items() if f"{name} ".startswith(f"{words} ")), None)


def _plain(text: str) -> str:
    """Lower-case words with single spaces, punctuation left out."""
    return " ".join(re.findall(r"\w+", text.lower().replace("_", " ")))
