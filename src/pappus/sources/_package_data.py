"""Data files that the build made from packages: geoid, places, coast lines and borders."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from pappus.earth import Geoid
from pappus.errors import BadFile, Finding
from pappus.ground import MapLines, PlaceIndex

_COUNTS_PER_DEGREE = 1e5  # as the build writes the lines


@dataclass(frozen=True)
class DataAttribution:
    """Where a data file comes from and what its terms ask to be printed beside it."""

    file: str
    what: str
    attribution: str
    licence: str
    package: str
    package_licence: str


@cache
def load_geoid() -> Geoid:
    """EGM96 on its grid of 15 arc minutes; BadFile when the data file is missing or damaged."""
    return Geoid("EGM96", _arrays("geoid.npz", "undulation_cm")[0] / 100.0)


@cache
def load_places() -> PlaceIndex:
    """Named places of the whole earth; BadFile when the data file is missing or damaged."""
    names, starts, country, latitude, longitude, population = _arrays(
        "places.npz", "name_utf8", "name_start", "country", "latitude_deg", "longitude_deg", "population"
    )
    return PlaceIndex(
        name_utf8=names.tobytes(),
        name_start=starts.astype(np.int64),
        country=country,
        latitude_deg=latitude.astype(np.float64),
        longitude_deg=longitude.astype(np.float64),
        population=population.astype(np.int64),
    )


@cache
def load_map_lines() -> MapLines:
    """Coast lines and borders of the whole earth, 1:10 million; BadFile when the file is missing or damaged."""
    return MapLines(coast=_lines("coast"), borders=_lines("border"))


def data_attributions() -> tuple[DataAttribution, ...]:
    """What a map, a print or an about page has to say about the data files."""
    name = "data_sources.json"
    try:
        text = (files("pappus.sources") / "data" / name).read_text("utf-8")
        return tuple(DataAttribution(**entry) for entry in json.loads(text)["attributions"])
    except (OSError, ValueError, KeyError, TypeError):
        raise _not_made(name) from None


def _lines(name: str) -> tuple[NDArray[np.float64], ...]:
    lon_step, lat_step, starts = _arrays("coast.npz", f"{name}_lon_step", f"{name}_lat_step", f"{name}_start")
    points = np.cumsum(np.stack((lon_step, lat_step), axis=1), axis=0, dtype=np.int64) / _COUNTS_PER_DEGREE
    return tuple(np.split(points, starts[1:-1]))


def _arrays(name: str, *keys: str) -> list[NDArray[Any]]:
    try:
        with (files("pappus.sources") / "data" / name).open("rb") as stream, np.load(stream) as archive:
            return [archive[key] for key in keys]
    except (OSError, EOFError, ValueError, KeyError, BadZipFile):
        raise _not_made(name) from None


def _not_made(name: str) -> BadFile:
    fix = "Install pappus again with pip: the build makes this file (python -m pip install . in the checkout)."
    return BadFile(Finding(f"data file {name}", "", "it is missing or damaged", fix))
