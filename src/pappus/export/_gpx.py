"""The nominal flight as GPX 1.1, for receivers and phones: a track with heights and times, and three waypoints."""

from __future__ import annotations

from datetime import datetime
from xml.etree.ElementTree import Element

from pappus.export._date_line import wrapped_deg
from pappus.export._handout import Mark, add, clock, legs, release_mark, say_areas, say_leg, top_mark, xml_file
from pappus.landing import LandingArea
from pappus.trajectory import Flights

_NAMESPACE = "http://www.topografix.com/GPX/1/1"
# the schema allows -180 and forbids 180
_EAST_LIMIT_DEG = 179.999999


def flight_gpx(
    *,
    area: LandingArea,
    nominal: Flights,
    site_name: str,
    site_latitude_deg: float,
    site_longitude_deg: float,
    release: datetime,
    name: str,
    note: str,
) -> str:
    """Elevations are above mean sea level, as GPX 1.1 has them; times are UTC.

    GPX knows no areas: the most likely landing is a waypoint whose words carry the sizes of the areas around it. It is
    left out where no area exists, and the description of the file says so. The way up and the way down are track
    segments; a new one begins at the date line.

    :param nominal: one flight.
    :param release: with an offset from UTC.
    :param note: such as "Invented example"; stands first in the description of the file and of the track.
    """
    root = Element("gpx", {"version": "1.1", "creator": "pappus", "xmlns": _NAMESPACE})
    metadata = add(root, "metadata")
    add(metadata, "name", name)
    add(metadata, "desc", "\n".join(line for line in (note, *say_areas(area)) if line))

    site = release_mark(nominal, site_name, site_latitude_deg, site_longitude_deg)
    _mark(root, site, release, nominal, "Site of release")
    if (top := top_mark(nominal)) is not None:
        _mark(root, top, release, nominal, "Top of the nominal flight")
    if area.mode_deg is not None:
        landing = _point(root, "wpt", area.mode_deg[1], area.mode_deg[0])
        add(landing, "name", "Most likely landing")
        add(landing, "desc", "; ".join(("A place in an area, not the place", *say_areas(area))))

    track = add(root, "trk")
    add(track, "name", f"{name}, nominal flight")
    said = [say_leg(leg, release, nominal) for leg in legs(nominal)]
    add(track, "desc", "\n".join(line for line in (note, *said) if line))
    for piece in (piece for leg in legs(nominal) for piece in leg.pieces):
        segment = add(track, "trkseg")
        for longitude, latitude, height, time in piece:
            point = _point(segment, "trkpt", longitude, latitude)
            add(point, "ele", f"{height:.1f}")
            add(point, "time", clock(release, nominal, time))
    return xml_file(root)


def _mark(root: Element, mark: Mark, release: datetime, nominal: Flights, words: str) -> None:
    point = _point(root, "wpt", mark.longitude_deg, mark.latitude_deg)
    add(point, "ele", f"{mark.height_msl_m:.1f}")
    add(point, "time", clock(release, nominal, mark.time_s))
    add(point, "name", mark.name)
    add(point, "desc", words)


def _point(parent: Element, tag: str, longitude_deg: float, latitude_deg: float) -> Element:
    east = longitude_deg if longitude_deg == 180.0 else float(wrapped_deg(longitude_deg))
    return add(parent, tag, lat=f"{latitude_deg:.6f}", lon=f"{min(east, _EAST_LIMIT_DEG):.6f}")
