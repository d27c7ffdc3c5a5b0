"""Keys of the plan file for people and what they listen with."""

from __future__ import annotations

from typing import Annotated, Literal

from pappus.plan._key import Section, key
from pappus.plan._leaves import Label, Latitude, Longitude, text

Phone = Annotated[str, text(40)]


class OperatorKeys(Section):
    name: Annotated[str, text(80)] = key("Person or firm that answers for the flight.", "A workshop (invented)")
    phone: Phone = key("Telephone on the day.", "+00 000 0000")


class CrewKeys(Section):
    role: Label = key("What the person does; one of them is the flight director.", "flight director")
    name: Label = key("Name.", "Ines")
    phone: Phone | None = key("Telephone on the day.", "+00 000 0001", otherwise="not known")


class CallKeys(Section):
    when: Literal["before release", "release", "descent", "no position", "end", "emergency"] = key(
        "What the call belongs to: before release, release, descent, no position, end or emergency.", "release"
    )
    whom: Annotated[str, text(80)] = key("Who is called.", "area control")
    phone: Phone = key("Telephone.", "+00 000 0009")


class VehicleKeys(Section):
    name: Label = key("Name of the vehicle.", "car 1")
    latitude_deg: Latitude | None = key(
        "Where it waits before release, latitude in degrees.", -37.38, otherwise="at the site"
    )
    longitude_deg: Longitude | None = key("And longitude.", -64.6, otherwise="at the site")


class ReceiverKeys(Section):
    name: Label = key("Short name; packets are kept under it, so it stays the same.", "hill")
    role: Literal["ground station", "balloon tracker", "vehicle"] = key(
        "What it is: ground station, balloon tracker or vehicle.", "ground station"
    )
    kind: Literal["nmea", "ubx", "ax25", "aprs-text", "json"] = key(
        "What it sends: nmea, ubx, ax25 (KISS frames), aprs-text (lines of text) or json.", "nmea"
    )
    address: Annotated[str, text(200)] = key(
        "Where it is: tcp://host:port, udp://host:port, serial:/dev/ttyUSB0?baud=9600, mqtt://host:port/topic, "
        "http://127.0.0.1:port/path or file:log.",
        "tcp://127.0.0.1:8001",
    )
