"""A prediction as KML (OGC 07-147r2, version 2.2, with the track of the gx extension) for globes and map programs."""

from __future__ import annotations

import html
from datetime import datetime
from xml.etree.ElementTree import Element

import numpy as np
from numpy.typing import NDArray

from pappus.export._date_line import Array, cut_areas, wrapped_deg
from pappus.export._handout import (
    Leg,
    Mark,
    add,
    clock,
    legs,
    release_mark,
    say_areas,
    say_leg,
    top_mark,
    xml_file,
)
from pappus.export._look import BLUE, INK, PAPER, VERMILLION
from pappus.export._tracks import LANDED, LOST, OFF_NOMINAL, ends
from pappus.landing import AreaLevel, LandingArea
from pappus.trajectory import Flights
from pappus.units import say_area_km2, say_height

_NAMESPACES = {"xmlns": "http://www.opengis.net/kml/2.2", "xmlns:gx": "http://www.google.com/kml/ext/2.2"}
_AREA_OPACITY = (0.45, 0.3, 0.2)
"""Of one hue for 50, 90 and 95 %: the ground stays visible, and areas that lie on each other grow darker."""
_AREA_OUTLINE_PX = (3, 2, 1)
_TRACK_PX = {"up": 4, "down": 2}
_GROUP_HUES = {LANDED: INK, OFF_NOMINAL: VERMILLION, LOST: PAPER}


def flight_kml(
    *,
    area: LandingArea,
    nominal: Flights,
    flights: Flights,
    off_nominal: NDArray[np.bool_],
    site_name: str,
    site_latitude_deg: float,
    site_longitude_deg: float,
    release: datetime,
    name: str,
    note: str,
) -> str:
    """Folders: landing area, nominal flight, ends of flights; and the marks of site and burst.

    Heights of the flight are ``absolute``: above mean sea level (the EGM96 geoid), as KML has them; areas and landings
    lie on the ground. Lines and areas are cut at the date line.

    :param area: three levels.
    :param nominal: one flight.
    :param flights: the ensemble, N flights.
    :param off_nominal: shape (N,), true where balloon or canopy do not do what they should.
    :param release: with an offset from UTC.
    :param note: such as "Invented example"; stands first in every description.
    :raises OutOfRange: a landing area goes round a pole.
    """
    root = Element("kml", _NAMESPACES)
    document = add(root, "Document")
    add(document, "name", name)
    add(document, "open", "1")
    _describe(document, note, *say_areas(area), "Heights of the flight are above mean sea level.")
    _styles(document)

    folder = add(document, "Folder")
    add(folder, "name", "Landing area")
    _describe(folder, note, *(part.why_not for part in area.parts if not part.exists), *area.notes)
    # the widest first: what comes later is drawn on top
    for number in reversed(range(len(area.parts))):
        if area.parts[number].exists:
            _area(folder, area.parts[number], number, note)

    folder = add(document, "Folder")
    add(folder, "name", "Nominal flight")
    for leg in legs(nominal):
        _leg(folder, leg, release, nominal, note)

    folder = add(document, "Folder")
    add(folder, "name", "Ends of flights")
    for group, which in ends(flights, off_nominal):
        placemark = _placemark(folder, f"{group.capitalize()} ({len(which):,})", _style(group), note)
        points = add(placemark, "MultiGeometry")
        longitude = wrapped_deg(flights.end_longitude_deg[which])
        for east, north in zip(longitude, flights.end_latitude_deg[which], strict=True):
            add(add(points, "Point"), "coordinates", f"{east:.6f},{north:.6f}")

    site = release_mark(nominal, site_name, site_latitude_deg, site_longitude_deg)
    _mark(document, site, "clampToGround", "Site of release", release, nominal, note)
    if (top := top_mark(nominal)) is not None:
        _mark(document, top, "absolute", "Top of the nominal flight", release, nominal, note)
    return xml_file(root)


def _styles(document: Element) -> None:
    for number, (opacity, width) in enumerate(zip(_AREA_OPACITY, _AREA_OUTLINE_PX, strict=True)):
        style = add(document, "Style", id=f"area-{number}")
        line = add(style, "LineStyle")
        add(line, "color", _colour(BLUE))
        add(line, "width", str(width))
        add(add(style, "PolyStyle"), "color", _colour(BLUE, opacity))
    for way, width in _TRACK_PX.items():
        style = add(document, "Style", id=way)
        # the moving mark of a track would hide the flight
        add(add(style, "IconStyle"), "scale", "0.5")
        line = add(style, "LineStyle")
        add(line, "color", _colour(INK))
        add(line, "width", str(width))
        # a rim of paper, or ink would be lost on dark ground
        add(line, "gx:outerColor", _colour(PAPER))
        add(line, "gx:outerWidth", "0.4")
    for group, hue in _GROUP_HUES.items():
        style = add(document, "Style", id=_style(group))
        icon = add(style, "IconStyle")
        add(icon, "color", _colour(hue))
        add(icon, "scale", "0.3")
        add(add(style, "LabelStyle"), "scale", "0")


def _style(group: str) -> str:
    return group.replace(",", "").replace(" ", "-")


def _colour(hue: str, opacity: float = 1.0) -> str:
    """KML writes opacity, blue, green, red."""
    return f"{round(255 * opacity):02x}{hue[5:7]}{hue[3:5]}{hue[1:3]}"


def _describe(feature: Element, *lines: str) -> None:
    """Readers show a description as HTML, so it is escaped once for them and once for XML."""
    add(feature, "description", "<br/>\n".join(html.escape(line) for line in lines if line))


def _placemark(folder: Element, name: str, style: str, *lines: str) -> Element:
    """Children stand in the order of the schema: name, description, style, then the geometry of the caller."""
    placemark = add(folder, "Placemark")
    add(placemark, "name", name)
    _describe(placemark, *lines)
    if style:
        add(placemark, "styleUrl", f"#{style}")
    return placemark


def _area(folder: Element, part: AreaLevel, number: int, note: str) -> None:
    size = "" if part.area_km2 is None else say_area_km2(part.area_km2)
    error = "" if part.area_sd_km2 is None else f"Sampling error {part.area_sd_km2:,.0f} km²"
    name = f"{100 * part.probability:g} % of flights land in {size}"
    placemark = _placemark(folder, name, f"area-{number}", note, error)
    many = add(placemark, "MultiGeometry")
    for outline, *holes in cut_areas(part):
        polygon = add(many, "Polygon")
        add(polygon, "tessellate", "1")
        add(polygon, "altitudeMode", "clampToGround")
        for tag, ring in (("outerBoundaryIs", outline), *(("innerBoundaryIs", hole) for hole in holes)):
            add(add(add(polygon, tag), "LinearRing"), "coordinates", _tuples(ring))


def _tuples(ring: Array) -> str:
    """Longitude, latitude: no blank inside a tuple."""
    return " ".join(f"{longitude:.6f},{latitude:.6f}" for longitude, latitude in ring)


def _leg(folder: Element, leg: Leg, release: datetime, nominal: Flights, note: str) -> None:
    said = say_leg(leg, release, nominal)
    parent = _placemark(folder, f"Nominal flight, {leg.way}", leg.way, note, said)
    if len(leg.pieces) > 1:
        parent = add(parent, "gx:MultiTrack")
    for piece in leg.pieces:
        track = add(parent, "gx:Track")
        add(track, "altitudeMode", "absolute")
        for time in piece[:, 3]:
            add(track, "when", clock(release, nominal, time))
        for longitude, latitude, height, _ in piece:
            add(track, "gx:coord", f"{longitude:.6f} {latitude:.6f} {height:.1f}")


def _mark(
    document: Element, mark: Mark, height_mode: str, words: str, release: datetime, nominal: Flights, note: str
) -> None:
    time = clock(release, nominal, mark.time_s)
    said = f"{words}: {time[:10]} {time[11:16]}Z, {say_height(mark.height_msl_m)} above mean sea level"
    point = add(_placemark(document, mark.name, "", note, said), "Point")
    if height_mode == "absolute":
        add(point, "extrude", "1")
    add(point, "altitudeMode", height_mode)
    add(point, "coordinates", f"{mark.longitude_deg:.6f},{mark.latitude_deg:.6f},{mark.height_msl_m:.1f}")
