"""Writes small GRIB files with ecCodes: an air whose heights, winds and temperatures are known in closed form."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import eccodes
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

RUN = datetime(2026, 3, 4, 6, tzinfo=UTC)
LEVELS_HPA = (1000, 700, 500, 250, 100, 50, 10)
LATITUDES = np.arange(50.0, 45.9, -1.0)
LONGITUDES = np.arange(5.0, 10.1, 1.0)
TEMPERATURE_K = 240.0
# gas constant of dry air and standard gravity, as ISO 2533 prints them
METRES = 287.05287 / 9.80665 * TEMPERATURE_K

NUMBERS_2 = {
    "t": (0, 0, 0),
    "q": (0, 1, 0),
    "rain": (0, 1, 8),
    "u": (0, 2, 2),
    "v": (0, 2, 3),
    "w": (0, 2, 8),
    "gust": (0, 2, 22),
    "sp": (0, 3, 0),
    "z": (0, 3, 4),
    "gh": (0, 3, 5),
    "lnsp": (0, 3, 25),
    "cloud": (0, 6, 1),
}
NUMBERS_1 = {"t": 130, "q": 133, "u": 131, "v": 132, "z": 129, "gh": 156, "sp": 134, "lnsp": 152}


def height_gpm(level_hpa: float) -> float:
    """Of an isothermal air that has 1013.25 hPa at 0 m."""
    return float(METRES * np.log(1013.25 / level_hpa))


def value_of(name: str, level_hpa: float, latitude: Array, longitude: Array, hour: float, member: int) -> Array:
    """The field [latitude, longitude]: winds linear in longitude and in time, so that interpolation is exact."""
    here = np.zeros((len(latitude), len(longitude)))
    east = here + longitude
    if name == "u":
        return 10.0 + (east % 360.0) / 10.0 + hour + member
    if name == "v":
        return here + latitude[:, None] / 10.0 - np.log(level_hpa)
    if name == "t":
        return here + TEMPERATURE_K
    if name in ("gh", "z"):
        return here + height_gpm(level_hpa) * (9.80665 if name == "z" else 1.0)
    if name == "q":
        return here + 0.0
    raise KeyError(name)


def message(
    name: str,
    values: Array,
    *,
    level: float = 0,
    kind: str = "pressure",
    hour: int = 0,
    window: int = 0,
    member: int | None = None,
    run: datetime = RUN,
    edition: int = 2,
    latitudes: Array = LATITUDES,
    longitudes: Array = LONGITUDES,
    packing: str = "grid_simple",
    bits: int = 24,
    keys: dict[str, Any] | None = None,
    pv: Sequence[float] = (),
    missing: float | None = None,
) -> bytes:
    """One message; ``values`` are [latitude, longitude] in the order of the axes given."""
    handle = eccodes.codes_grib_new_from_samples(f"regular_ll_{'pl' if kind == 'pressure' else 'sfc'}_grib{edition}")
    put = {
        "centre": 98,
        "dataDate": int(f"{run:%Y%m%d}"),
        "dataTime": int(f"{run:%H%M}"),
        "Ni": len(longitudes),
        "Nj": len(latitudes),
        "latitudeOfFirstGridPointInDegrees": float(latitudes[0]),
        "latitudeOfLastGridPointInDegrees": float(latitudes[-1]),
        "longitudeOfFirstGridPointInDegrees": float(longitudes[0] % 360.0),
        "longitudeOfLastGridPointInDegrees": float(longitudes[-1] % 360.0),
        "iDirectionIncrementInDegrees": float(abs(longitudes[1] - longitudes[0])),
        "jDirectionIncrementInDegrees": float(abs(latitudes[1] - latitudes[0])),
        "jScansPositively": int(latitudes[0] < latitudes[-1]),
        "iScansNegatively": int(longitudes[0] > longitudes[-1]),
    }
    if edition == 2:
        put |= _product_2(name, level, kind, hour, window, member)
    else:
        put |= {"table2Version": 128, "indicatorOfParameter": NUMBERS_1[name]}
        put |= {"indicatorOfTypeOfLevel": {"pressure": 100, "hybrid": 109, "surface": 1}[kind]}
        put |= {"level": int(level), "P1": hour, "unitOfTimeRange": 1}
        if member is not None:
            put |= {"setLocalDefinition": 1, "localDefinitionNumber": 1, "number": member}
    for key, value in (put | (keys or {})).items():
        eccodes.codes_set(handle, key, value)
    if len(pv):
        eccodes.codes_set(handle, "PVPresent", 1)
        eccodes.codes_set_array(handle, "pv", np.asarray(pv, dtype=float))
    if missing is not None:
        eccodes.codes_set(handle, "bitmapPresent", 1)
        eccodes.codes_set(handle, "missingValue", missing)
    eccodes.codes_set(handle, "packingType", packing)
    eccodes.codes_set(handle, "bitsPerValue", bits)
    eccodes.codes_set_values(handle, np.asarray(values, dtype=float).ravel())
    octets = bytes(eccodes.codes_get_message(handle))
    eccodes.codes_release(handle)
    return octets


def _product_2(name: str, level: float, kind: str, hour: int, window: int, member: int | None) -> dict[str, Any]:
    discipline, category, number = NUMBERS_2[name]
    template = (0 if member is None else 1) if not window else (8 if member is None else 11)
    surface = {"pressure": (100, level * 100), "hybrid": (105, level), "surface": (1, 0), "above ground": (103, level)}
    code, value = surface[kind]
    put: dict[str, Any] = {"productDefinitionTemplateNumber": template, "discipline": discipline}
    put |= {"parameterCategory": category, "parameterNumber": number, "indicatorOfUnitForForecastTime": 1}
    put |= {"forecastTime": hour - window, "typeOfFirstFixedSurface": code, "scaleFactorOfFirstFixedSurface": 0}
    put |= {"scaledValueOfFirstFixedSurface": int(value)}
    if member is not None:
        put |= {"perturbationNumber": member, "typeOfEnsembleForecast": 3, "numberOfForecastsInEnsemble": 9}
    if window:
        put |= {"typeOfStatisticalProcessing": 1, "indicatorOfUnitForTimeRange": 1, "lengthOfTimeRange": window}
    return put


def air(
    *,
    names: Iterable[str] = ("u", "v", "t", "gh"),
    levels: Sequence[int] = LEVELS_HPA,
    hours: Sequence[int] = (0,),
    members: Sequence[int | None] = (None,),
    change: Callable[[str, int, Array], Array | None] = lambda name, level, values: values,
    **how: Any,
) -> bytes:
    """A file of all these fields; ``change`` may alter the values of a field, or leave it out by None."""
    latitudes, longitudes = how.get("latitudes", LATITUDES), how.get("longitudes", LONGITUDES)
    parts = []
    for member in members:
        for hour in hours:
            for level in levels:
                for name in names:
                    values = change(name, level, value_of(name, level, latitudes, longitudes, hour, member or 0))
                    if values is not None:
                        parts.append(message(name, values, level=level, hour=hour, member=member, **how))
    return b"".join(parts)


def written(folder: Path, content: bytes, name: str = "forecast.grib") -> Path:
    """The content as a file."""
    path = folder / name
    path.write_bytes(content)
    return path


def sections(octets: bytes) -> dict[int, tuple[int, int]]:
    """Where the sections of a message of edition 2 begin and end."""
    at, found = 16, {}
    while octets[at : at + 4] != b"7777":
        length = int.from_bytes(octets[at : at + 4], "big")
        found[octets[at + 4]] = (at, at + length)
        at += length
    return found
