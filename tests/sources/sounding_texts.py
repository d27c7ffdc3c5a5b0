"""Texts of small made-up soundings for the tests, each close to the standard atmosphere."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from ambiance import Atmosphere

HEADER = "# station: TEST 1\n# latitude_deg: -36.6\n# longitude_deg: -64.3\n# release_utc: 2026-05-01T11:30:00Z\n"
COLUMNS = "height_msl_m,pressure_hPa,temperature_C,wind_from_deg,wind_speed_m_s\n"


def air(height_msl_m: Iterable[float]) -> Iterable[tuple[float, float, float]]:
    """Height, hectopascal and degrees Celsius of the standard atmosphere, by the package ambiance (ISO 2533)."""
    for height in height_msl_m:
        state = Atmosphere(height)
        yield height, float(state.pressure[0]) / 100.0, float(state.temperature[0]) - 273.15


def rows(count: int = 40, step_m: float = 500.0) -> list[str]:
    """Levels of a table: wind from the west-south-west that grows with height."""
    return [
        f"{height:.1f},{pressure:.4f},{temperature:.2f},250,{5 + height / 1000:.2f}"
        for height, pressure, temperature in air(np.arange(count) * step_m + 150.0)
    ]


def table(lines: Iterable[str], *, header: str = HEADER, columns: str = COLUMNS) -> str:
    """A whole table."""
    return header + columns + "\n".join(lines) + "\n"


def archive_text(
    count: int = 20, *, header: str = "#USM00070026 2010 06 01 00 2303 {count:4d} ncdc6301 ncdc6301  712889 -1567833"
) -> str:
    """Text of the radiosonde archive: level lines with pressure, height, temperature and wind."""
    lines = []
    for minute, (height, pressure, temperature) in enumerate(air(np.arange(count) * 600.0 + 12.0)):
        measured = f"{pressure * 100:6.0f}B{height:5.0f}B{temperature * 10:5.0f}B"
        lines.append(f"10 {minute * 100:5d} {measured}  500    50   270 {100 + minute:5d} ")
    return "\n".join([header.format(count=count), *lines]) + "\n"
