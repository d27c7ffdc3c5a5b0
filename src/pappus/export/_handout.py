"""What the files of a flight share: the nominal flight leg by leg, its marks, its landings, clock times, safe text."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from xml.etree.ElementTree import Element, SubElement, indent, tostring

import numpy as np

from pappus.export._date_line import Array, cut_line, wrapped_deg
from pappus.export._tracks import split, top_word
from pappus.landing import LandingArea
from pappus.trajectory import Flights
from pappus.units import say_area_km2, say_height

# what XML 1.0 cannot hold in any spelling
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True)
class Leg:
    """The nominal flight on its way ``up`` or ``down``."""

    way: str
    pieces: list[Array]
    """Cut at the date line; columns longitude, latitude [degrees], height above mean sea level [m], time [s]."""
    end: str
    """What ends it: ``burst``, ``cut-down``, ``landing``, ``end of the data``."""


@dataclass(frozen=True)
class Mark:
    """A named point of the nominal flight."""

    name: str
    longitude_deg: float
    latitude_deg: float
    height_msl_m: float
    time_s: float


def legs(nominal: Flights) -> list[Leg]:
    """Up, then down where that is known."""
    columns = (
        nominal.track_longitude_deg[0], nominal.track_latitude_deg[0], nominal.track_height_msl_m[0],
        nominal.track_time_s[0],
    )  # fmt: skip
    track = np.column_stack(columns)
    up, down = split(nominal, np.zeros(1, dtype=np.intp))[0]
    last = "landing" if nominal.landed[0] else "end of the data"
    both = [Leg("up", cut_line(track[up]), top_word(nominal) or last), Leg("down", cut_line(track[down]), last)]
    # an ascent that did not end, or a fall of which no step is known, leaves a way down of one point
    return [leg for leg in both if leg.pieces]


def release_mark(nominal: Flights, site_name: str, latitude_deg: float, longitude_deg: float) -> Mark:
    """The site, at the height and time of release."""
    height = float(nominal.track_height_msl_m[0, 0])
    return Mark(site_name, float(wrapped_deg(longitude_deg)), latitude_deg, height, nominal.release_time_s)


def top_mark(nominal: Flights) -> Mark | None:
    """Burst or cut-down; None where the ascent did not end in the data."""
    word = top_word(nominal)
    if word is None:
        return None
    return Mark(
        f"Nominal {word}", float(wrapped_deg(nominal.top_longitude_deg[0])), float(nominal.top_latitude_deg[0]),
        float(nominal.top_height_msl_m[0]), float(nominal.top_time_s[0]),
    )  # fmt: skip


def clock(release: datetime, flights: Flights, time_s: float) -> str:
    """``2027-02-13T14:02:19.954Z``: ISO 8601 in UTC. Raises ``ValueError`` for a release without an offset."""
    if release.utcoffset() is None:
        raise ValueError(f"{release.isoformat()} has no offset from UTC")
    moment = release.astimezone(UTC) + timedelta(seconds=float(time_s) - flights.release_time_s)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def say_leg(leg: Leg, release: datetime, nominal: Flights) -> str:
    """``Up to 33.0 km (108,200 ft): 2027-02-13 12:30Z to 14:02Z, ends with burst``."""
    first, last = leg.pieces[0][0], leg.pieces[-1][-1]
    start, end = (clock(release, nominal, point[3]) for point in (first, last))
    day = "" if start[:10] == end[:10] else f"{end[:10]} "
    times = f"{start[:10]} {start[11:16]}Z to {day}{end[11:16]}Z"
    return f"{leg.way.capitalize()} to {say_height(float(last[2]))}: {times}, ends with {leg.end}"


def say_areas(area: LandingArea) -> list[str]:
    """One line for each level, and what the areas leave out."""
    held = [
        part.why_not if part.area_km2 is None else f"{100 * part.probability:g} % area: {say_area_km2(part.area_km2)}"
        for part in area.parts
    ]
    return [*held, f"{area.flights:,} flights, {area.landed:,} landed, {area.unknown:,} unknown", *area.notes]


def clean(text: str) -> str:
    """The text without control characters, which XML and HTML cannot hold."""
    return _NOT_XML.sub("\N{REPLACEMENT CHARACTER}", text)


def add(parent: Element, tag: str, text: str = "", **attributes: str) -> Element:
    """A child element with its text."""
    child = SubElement(parent, tag, attributes)
    child.text = clean(text) or None
    return child


def xml_file(root: Element) -> str:
    """The whole file, in UTF-8 when written."""
    indent(root, " ")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{tostring(root, encoding="unicode")}\n'
