"""One invented prediction for all files that are handed out, and GDAL to read them back."""

from __future__ import annotations

import json
import shutil
import subprocess
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pictures import SITE, area_of, scattered_ends, straight_flights

from pappus.earth import Geoid
from pappus.trajectory import Outcome

RELEASE = datetime(2027, 2, 13, 22, 30, tzinfo=UTC)
NOTE = "Invented example: a kettle looks for its steam."
OFF = 12
DATE_LINE_SITE = (-17.6, 179.25)
"""East of it the flights of ``prediction`` cross the date line, and so does their landing area."""


def prediction(*, site: tuple[float, float] = SITE, count: int = 200, landed: int = 196, **keys: Any) -> dict[str, Any]:
    """Arguments for every file: 200 flights, 4 of them not landed, 12 off-nominal."""
    flights = _joined(
        straight_flights(scattered_ends(landed, site=site), site=site),
        straight_flights(scattered_ends(count - landed, site=site), site=site, outcome=Outcome.STILL_ALOFT),
    )
    usual = {
        "area": area_of(flights),
        "nominal": straight_flights((site[0] + 0.2, site[1] + 0.8), site=site),
        "flights": flights,
        "off_nominal": np.arange(count) < OFF,
        "site_name": "Site A",
        "site_latitude_deg": site[0],
        "site_longitude_deg": site[1],
        "release": RELEASE,
        "name": "Where the steam goes",
        "note": NOTE,
    }
    return usual | keys


def for_receivers(**keys: Any) -> dict[str, Any]:
    """The same without the ensemble, which GPX cannot hold."""
    return {name: value for name, value in prediction(**keys).items() if name not in {"flights", "off_nominal"}}


def _joined(first: Any, second: Any) -> Any:
    one, other = vars(first), vars(second)
    both = {
        name: np.concatenate((value, other[name])) if isinstance(value, np.ndarray) else value
        for name, value in one.items()
    }
    return type(first)(**both)


def sloping_geoid() -> Geoid:
    """An invented geoid 0.1 m higher for each degree north, 0.01 m for each degree east: no swap goes unseen."""
    north, east = np.linspace(90.0, -90.0, 721), 0.25 * np.arange(1440)
    return Geoid("sloping", 0.1 * north[:, np.newaxis] + 0.01 * east)


def gdal_features(path: Path, layer: str | None = None) -> list[Any]:
    """Every feature of a file as GDAL reads it, three-dimensional; a skip where GDAL is not installed."""
    if shutil.which("ogr2ogr") is None:
        pytest.skip("GDAL's ogr2ogr is not installed")
    layers = [] if layer is None else [layer]
    command = ["ogr2ogr", "-f", "GeoJSON", "-lco", "COORDINATE_PRECISION=7", "/vsistdout/", str(path), *layers]
    result = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True)
    assert "ERROR" not in result.stderr, result.stderr
    return list(json.loads(result.stdout)["features"])


def gdal_reference_system(path: Path, layer: str) -> str:
    """What GDAL says about one layer, its reference system with it."""
    if shutil.which("ogrinfo") is None:
        pytest.skip("GDAL's ogrinfo is not installed")
    command = ["ogrinfo", "-ro", "-so", str(path), layer]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=True).stdout


def degrees_jumped(line: Any) -> float:
    """The largest step in longitude between neighbours on a line of positions."""
    return float(np.abs(np.diff([position[0] for position in line])).max())
