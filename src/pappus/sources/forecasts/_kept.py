"""Decoded forecasts kept on disk, so that the second reading costs next to nothing.

One file holds all runs of a reading: an array of float64 in ``.npy`` form, mapped into memory, not read. Its first
number is the length of a JSON header (in numbers), then the header, then the arrays one after the other; an axis along
which an array does not change is stored once. The file's name comes from path, size and time of change of the sources,
from the area and from ``VERSION``: to hash the sources again would cost more than all else. Their SHA-256 digests are
in the header, as they were when the sources were read. A kept file with a wrong size or header is ignored and made
anew; octets that changed inside the arrays are not noticed.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
import tempfile
import zlib
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.sources.forecasts._cube import Forecast
from pappus.weather import SurfaceWeather
from pappus.wind import Coverage, SourceFile, WindField

Array = NDArray[np.float64]

VERSION = 2
"""Raise it when a reader gives other numbers than before."""
_AXES = ("time_s", "latitude_deg", "longitude_deg")
_CUBES = ("pressure_pa", "height_msl_m", "temperature_k", "wind_u_m_s", "wind_v_m_s")


def kept_path(folder: Path, paths: Sequence[Path], question: str) -> Path:
    """Where a reading is kept; ``question`` holds all that changes the answer beside the files."""
    files = []
    for path in paths:
        status = path.stat()
        files.append((os.path.abspath(path), status.st_size, status.st_mtime_ns))
    key = hashlib.sha256(repr((VERSION, question, files)).encode()).hexdigest()
    return folder / f"forecast-{key[:32]}.npy"


def load_kept(path: Path) -> list[Forecast] | None:
    """The forecasts of a kept file, None when there is none or it is damaged."""
    try:
        numbers = np.load(path, mmap_mode="r").view(np.ndarray)
        words = int(numbers[0])
        text = numbers[2 : 2 + words].tobytes().rstrip(b"\x00")
        if [words, zlib.crc32(text)] != numbers[:2].tolist():
            return None
        header = json.loads(text)
        arrays = numbers[2 + words :]
        if header["numbers"] != len(arrays) or header["version"] != VERSION:
            return None
        return [_forecast(one, arrays) for one in header["forecasts"]]
    except (OSError, EOFError, ValueError, KeyError, TypeError, IndexError, OverflowError):
        return None


def keep(path: Path, forecasts: Sequence[Forecast]) -> None:
    """Write forecasts; whoever reads meanwhile sees the old file or the new one, never a part."""
    arrays: list[Array] = []
    described = [_describe(forecast, arrays) for forecast in forecasts]
    count = sum(array.size for array in arrays)
    text = json.dumps({"version": VERSION, "numbers": count, "forecasts": described}).encode("ascii")
    words = -(-len(text) // 8)
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".forecast-", suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            shape = (2 + words + count,)
            np.lib.format.write_array_header_1_0(file, {"descr": "<f8", "fortran_order": False, "shape": shape})
            file.write(np.array([words, zlib.crc32(text)], dtype="<f8").tobytes())
            file.write(text.ljust(8 * words, b"\x00"))
            for array in arrays:
                file.write(np.ascontiguousarray(array, dtype="<f8").data.cast("B"))
        os.replace(temporary, path)
    except BaseException:
        os.unlink(temporary)
        raise


def _describe(forecast: Forecast, arrays: list[Array]) -> dict[str, Any]:
    field, surface = forecast.field, forecast.surface

    def store(array: Array) -> list[Any]:
        once = array[tuple(slice(0, 1) if step == 0 else slice(None) for step in array.strides)]
        offset = sum(other.size for other in arrays)
        arrays.append(once)
        return [offset, list(once.shape), list(array.shape)]

    coverage = asdict(field.coverage)
    for name in ("first_valid", "last_valid"):
        coverage[name] = coverage[name].isoformat()
    return {
        "name": field.name,
        "issued": field.issued.isoformat(),
        "coverage": coverage,
        "sources": [asdict(source) for source in field.sources],
        "notes": field.notes,
        "arrays": {name: store(getattr(field, name)) for name in (*_AXES, *_CUBES)},
        "ground": None if forecast.ground_height_msl_m is None else store(forecast.ground_height_msl_m),
        "surface_time": None if surface is None else store(surface.time_s),
        "surface": None if surface is None else {name: store(values) for name, values in surface.fields.items()},
        "units": None if surface is None else dict(surface.units),
    }


def _forecast(one: dict[str, Any], numbers: Array) -> Forecast:
    def stored(place: list[Any]) -> Array:
        offset, shape, whole = place
        array = numbers[offset : offset + math.prod(shape)].reshape(shape)
        return array if shape == whole else np.broadcast_to(array, whole)

    arrays: dict[str, Any] = {name: stored(place) for name, place in one["arrays"].items()}
    coverage = one["coverage"]
    for name in ("first_valid", "last_valid"):
        coverage[name] = datetime.fromisoformat(coverage[name])
    if coverage["centre_deg"] is not None:
        coverage["centre_deg"] = tuple(coverage["centre_deg"])
    issued = datetime.fromisoformat(one["issued"])
    field = WindField(
        name=one["name"],
        kind="forecast",
        issued=issued,
        epoch=issued,
        coverage=Coverage(**coverage),
        sources=tuple(SourceFile(**source) for source in one["sources"]),
        notes=tuple(one["notes"]),
        **arrays,
    )
    surface = None
    if one["surface"] is not None:
        fields = {name: stored(place) for name, place in one["surface"].items()}
        surface = SurfaceWeather(
            issued, stored(one["surface_time"]), arrays["latitude_deg"], arrays["longitude_deg"], fields, one["units"]
        )
    return Forecast(field, None if one["ground"] is None else stored(one["ground"]), surface)
