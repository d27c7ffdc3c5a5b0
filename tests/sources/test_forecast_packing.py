"""Packed values of GRIB against ecCodes, for every packing that forecasts come in."""

from __future__ import annotations

import zlib
from pathlib import Path
from typing import Any

import eccodes
import numpy as np
import pytest

from pappus.sources import Forecast, read_forecast
from pappus.sources.forecasts._grib import find_runs
from pappus.sources.grib._grid import read_grid
from sources.grib_writer import LATITUDES, LEVELS_HPA, LONGITUDES, air, message, sections, value_of, written


def only(path: Path) -> Forecast:
    """The one run of a file."""
    (forecast,) = read_forecast([path])
    return forecast


@pytest.mark.parametrize("bits", [0, 1, 3, 7, 8, 9, 11, 12, 13, 16, 17, 20, 23, 24, 25])
@pytest.mark.parametrize("edition", [1, 2])
def test_simple_packing_of_any_width_equals_eccodes(tmp_path: Path, bits: int, edition: int) -> None:
    # ecCodes is the reference: its values are float64 sums of the same terms, so they agree to rounding
    rng = np.random.default_rng(bits)

    def noisy(name: str, level: int, values: np.ndarray) -> np.ndarray:
        return values if name in ("t", "gh") or not bits else values + rng.uniform(-5.0, 5.0, values.shape)

    content = air(change=noisy, edition=edition)
    parts = []
    at = 0
    while at < len(content):  # repack the winds to the number of bits under test
        handle = eccodes.codes_new_from_message(content[at:])
        length = eccodes.codes_get(handle, "totalLength")
        if eccodes.codes_get(handle, "shortName") in ("u", "v"):
            values = eccodes.codes_get_values(handle)
            if bits:
                eccodes.codes_set(handle, "bitsPerValue", bits)
                eccodes.codes_set_values(handle, values)
            else:
                eccodes.codes_set_values(handle, np.full(len(values), 7.25))
        parts.append(bytes(eccodes.codes_get_message(handle)))
        eccodes.codes_release(handle)
        at += length
    field = only(written(tmp_path, b"".join(parts))).field
    expected = {}
    for part in parts:
        handle = eccodes.codes_new_from_message(part)
        key = (eccodes.codes_get(handle, "shortName"), eccodes.codes_get(handle, "level"))
        expected[key] = eccodes.codes_get_values(handle).reshape(len(LATITUDES), -1)[::-1]
        if key[0] == "u":
            assert eccodes.codes_get(handle, "bitsPerValue") == bits
        eccodes.codes_release(handle)
    for level, hpa in enumerate(LEVELS_HPA):
        np.testing.assert_allclose(field.wind_u_m_s[0, 0, level], expected["u", hpa], rtol=1e-14, atol=1e-14)
        np.testing.assert_allclose(field.wind_v_m_s[0, 0, level], expected["v", hpa], rtol=1e-14, atol=1e-14)


@pytest.mark.parametrize("packing", ["grid_complex", "grid_complex_spatial_differencing", "grid_ccsds", "grid_jpeg"])
def test_other_packings_equal_eccodes(tmp_path: Path, packing: str) -> None:
    rng = np.random.default_rng(11)
    parts = []
    expected = []
    for level in LEVELS_HPA:
        for name in ("u", "v", "t", "gh"):
            values = value_of(name, level, LATITUDES, LONGITUDES, 0, 0)
            if name == "u":
                values = values + rng.uniform(-20.0, 20.0, values.shape)
            part = message(name, values, level=level, packing=packing, bits=16)
            if name == "u":
                handle = eccodes.codes_new_from_message(part)
                assert eccodes.codes_get(handle, "packingType") == packing
                expected.append(eccodes.codes_get_values(handle).reshape(values.shape)[::-1])
                eccodes.codes_release(handle)
            parts.append(part)
    field = only(written(tmp_path, b"".join(parts))).field
    np.testing.assert_allclose(field.wind_u_m_s[0, 0], expected, rtol=1e-14, atol=1e-14)


def test_png_equals_simple_packing_of_the_same_integers(tmp_path: Path) -> None:
    # W3C Portable Network Graphics, written here by zlib: grey, 16 bits, no filter
    def chunk(kind: bytes, data: bytes) -> bytes:
        return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")

    columns = len(LONGITUDES)
    parts = []
    for level in LEVELS_HPA:
        part = message("u", value_of("u", level, LATITUDES, LONGITUDES, 0, 0), level=level, bits=16)
        five, seven = (sections(part)[number] for number in (5, 7))
        rows = [part[at : at + 2 * columns] for at in range(seven[0] + 5, seven[1], 2 * columns)]
        size = columns.to_bytes(4, "big") + len(rows).to_bytes(4, "big") + bytes([16, 0, 0, 0, 0])
        image = zlib.compress(b"".join(b"\0" + row for row in rows))
        png = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", size) + chunk(b"IDAT", image) + chunk(b"IEND", b"")
        data = (5 + len(png)).to_bytes(4, "big") + b"\x07" + png
        body = part[16 : five[0] + 9] + (41).to_bytes(2, "big") + part[five[0] + 11 : seven[0]] + data
        parts.append(part[:8] + (20 + len(body)).to_bytes(8, "big") + body + b"7777")
    field = only(written(tmp_path, b"".join(parts) + air(names=("v", "t", "gh")))).field
    plain = only(written(tmp_path, air(bits=16), "plain.grib")).field
    np.testing.assert_array_equal(field.wind_u_m_s, plain.wind_u_m_s)


@pytest.mark.parametrize("order", [1, 2])
@pytest.mark.parametrize("holes", [0, 40])
@pytest.mark.parametrize("bits", [6, 12, 24])
def test_complex_packing_with_missing_values_equals_eccodes(tmp_path: Path, order: int, holes: int, bits: int) -> None:
    # ecCodes packs and is the reference; fields of smooth weather and of noise make groups of many widths
    rng = np.random.default_rng(bits + order)
    longitudes = np.arange(0.0, 60.0, 1.0)
    latitudes = np.arange(70.0, 29.0, -1.0)
    parts, expected = [], []
    for level in LEVELS_HPA:
        for name in ("u", "v", "t", "gh"):
            values = value_of(name, level, latitudes, longitudes, 0, 0)
            keys = {}
            if name == "u":
                values = 30.0 * np.sin(values) + rng.uniform(-1.0, 1.0, values.shape) * rng.uniform(0, 20.0)
                values[:4].ravel()[rng.choice(4 * 60, holes, replace=False)] = 9999.0
                keys = {"orderOfSpatialDifferencing": order} if bits != 6 else {}
            packing = "grid_complex_spatial_differencing" if name == "u" else "grid_simple"
            how: dict[str, Any] = {
                "latitudes": latitudes,
                "longitudes": longitudes,
                "bits": bits if name == "u" else 24,
            }
            missing = 9999.0 if name == "u" and holes else None
            part = message(name, values, level=level, packing=packing, missing=missing, **how)
            if name == "u":
                part = _with_order(part, keys)
                handle = eccodes.codes_new_from_message(part)
                eccodes.codes_set(handle, "missingValue", np.float64(-1e30))
                found = eccodes.codes_get_values(handle).reshape(values.shape)[::-1]
                expected.append(np.where(found == -1e30, np.nan, found))
                eccodes.codes_release(handle)
            parts.append(part)
    path = written(tmp_path, b"".join(parts))
    ((name, content),) = [(path.name, np.fromfile(path, np.uint8))]
    (run,) = find_runs([(name, content)])
    fields = [run.by_kind["pressure"]["u", 0, 0, level * 100.0] for level in LEVELS_HPA]
    grid = read_grid(name, fields[0].grid, 2, fields[0].points, None)
    found = run.decode(fields, grid)
    assert int(np.isnan(found).sum()) == holes * len(LEVELS_HPA)
    np.testing.assert_allclose(found, expected, rtol=1e-14, atol=1e-13)


def _with_order(part: bytes, keys: dict[str, int]) -> bytes:
    """Repacked with another order of differences."""
    handle = eccodes.codes_new_from_message(part)
    values = eccodes.codes_get_values(handle)
    for key, value in keys.items():
        eccodes.codes_set(handle, key, value)
    eccodes.codes_set_values(handle, values)
    octets = bytes(eccodes.codes_get_message(handle))
    eccodes.codes_release(handle)
    return octets


def test_decimal_scale(tmp_path: Path) -> None:
    field = only(written(tmp_path, air(keys={"decimalScaleFactor": 2}))).field
    np.testing.assert_allclose(field.wind_u_m_s[0, 0, 0], value_of("u", 1000, LATITUDES, LONGITUDES, 0, 0), atol=0.011)
