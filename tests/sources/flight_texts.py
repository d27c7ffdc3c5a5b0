"""Texts of small made-up flights for the tests: the standard atmosphere on the way up and on the way down."""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from sources.sounding_texts import air

ASCENT_M_S, DESCENT_M_S, GROUND_M, TOP_M = 5.0, 20.0, 200.0, 12_200.0
STEP_S = 10.0
UP_S = (TOP_M - GROUND_M) / ASCENT_M_S


def heights(descent_s: float = 400.0) -> tuple[np.ndarray, np.ndarray]:
    """Seconds after the release and heights, every ten seconds, to ``descent_s`` after the top."""
    seconds = np.arange(0.0, UP_S + descent_s + 0.1, STEP_S)
    up = GROUND_M + ASCENT_M_S * seconds
    down = TOP_M - DESCENT_M_S * (seconds - UP_S)
    return seconds, np.where(seconds <= UP_S, up, down)


def profile_text(descent_s: float = 400.0, **change: Any) -> str:
    """A head and tab-separated columns with units; ``change`` replaces ``head``, ``names``, ``units``, ``foot``."""
    names = "Time\tP\tT\tHu\tWs\tWd\tLong.\tLat.\tAlt\tD"
    units = "[sec]\t[hPa]\t[°C]\t[%]\t[m/s]\t[°]\t[°]\t[°]\t[m]\t[kg/m3]"
    head = (
        "Flight Information:\t\nLaunch Date:\t\tSaturday, 1 May 2027\tLaunch Time:\t\t11:30:00\n"
        "Station name:\t\t\nPosition:\t\nLongitude:\t\t-64.300 °\tLatitude:\t\t-36.600 °\tAltitude:\t\t200 m\n"
    )
    seconds, height = heights(descent_s)
    rows = [
        f"{at:.0f}  \t{p:.3f}\t{t:.2f}\t40\t{8 + z / 1000:.2f}\t250\t{-64.3 + at * 1e-4:.6f}\t{-36.6:.6f}\t{z:.1f}\t1.0"
        for at, (z, p, t) in zip(seconds, air(height), strict=True)
    ]
    parts = {"head": head, "names": names, "units": units, "foot": "Tropopauses:\t\n"} | change
    return (
        parts["head"]
        + f"Profile Data:\t\n{parts['names']}\n{parts['units']}\n"
        + "\n".join(rows)
        + "\n"
        + parts["foot"]
    )


def tracker_table(wait_s: float = 600.0, descent_s: float = 400.0, after_s: float = 0.0, **change: Any) -> str:
    """Comma-separated lines from the ground, up, down and, ``after_s``, on the ground again."""
    columns = change.get(
        "columns", "Time,NodeID,Temperature(degree C),Pressure(hPa),Lat,Lon,Height(m),Speed(km/hr),Direction(degree)"
    )
    seconds, height = heights(descent_s)
    before = np.arange(-wait_s, 0.0, STEP_S)
    after = seconds[-1] + np.arange(STEP_S, after_s + 0.1, STEP_S)
    seconds = np.concatenate([before, seconds, after])
    rest = height[-1] if after_s else GROUND_M
    height = np.concatenate([np.full(before.size, GROUND_M), height, np.full(after.size, rest)])
    start = np.datetime64("2027-05-01T11:30:00")
    lines = []
    for number, (at, (z, p, t)) in enumerate(zip(seconds, air(height), strict=True)):
        time = str(start + np.timedelta64(int(at), "s")).replace("-", "/").replace("T", " ")
        # the height of a receiver wanders at rest, a pressure does not
        wander = 15.0 * np.sin(number) if at <= 0 or (after_s and at > seconds[-1] - after_s) else 0.0
        moving = 36.0 if at > 0.0 else 0.0
        east = max(at, 0.0) * 10.0 / 89_000.0
        lines.append(f"{time}.000000,7,{t:.2f},{p:.4f},-36.60000,{-64.3 + east:.5f},{z + wander:.2f},{moving},90.0")
    return columns + "\n" + "\n".join(lines) + "\n"


def headed_table(descent_s: float = 0.0, **change: Any) -> str:
    """A table whose first line counts the lines of its head."""
    head = [
        "STATION                          : Nowhere", "Latitude (deg)                   : -36.60",
        "Longitude (deg)                  : -64.30", "Elevation (m)                    : 200.0",
        "Launch Date                      : 20270501", "Launch Time (UT)                 : 11:30",
        "Missing or bad values            : 9000",
    ]  # fmt: skip
    head = change.get("head", head)
    names = change.get("names", "Time    Press       Alt      Temp      W Dir     W Spd      GPSLon   GPSLat")
    units = change.get("units", "sec     hPa         km       C         deg       m/s        deg      deg")
    seconds, height = heights(descent_s)
    rows = [
        f"{at:6.0f} {p:10.3f} {z / 1000:9.4f} {t:9.2f} {250.0:9.1f} {8 + z / 1000:9.2f} {-64.3:9.3f} {-36.6:9.3f}"
        for at, (z, p, t) in zip(seconds, air(height), strict=True)
    ]
    lines = [*head, names, units]
    return "\n".join([str(len(lines) + 1), *lines, *rows]) + "\n"


def station_list(stations: int = 3, **change: Any) -> dict[str, Any]:
    """The list as an object, to be changed and dumped; winds from the west at 20 kn."""
    rows = [
        {"pres": round(p, 2), "hght": z, "tmpc": round(t, 2), "dwpc": None, "drct": 270.0, "sknt": 20.0}
        for z, p, t in air(np.arange(200.0, 20_000.0, 600.0))
    ]
    entry = {"station": "X{number}", "valid": "2027-05-01T12:00:00Z", "profile": rows} | change
    return {
        "profiles": [
            entry | {"station": str(entry["station"]).format(number=number)} for number in range(1, stations + 1)
        ]
    }


def station_list_text(stations: int = 3, **change: Any) -> str:
    """The same as text."""
    return json.dumps(station_list(stations, **change))
