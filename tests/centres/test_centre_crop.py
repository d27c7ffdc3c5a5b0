"""Messages cut to an area: the same values to the last bit, and damage that must be seen."""

from __future__ import annotations

from typing import Any

import eccodes
import numpy as np
import pytest

from oracle.centre_faults import RUN
from pappus.errors import BadFile
from pappus.sources.centres._crop import cropped
from pappus.sources.centres._message import BadMessage, read_pieces, require_promised
from pappus.sources.centres._run_index import Record
from pappus.sources.grib._area import Area
from sources.grib_writer import message, sections

LATITUDES, LONGITUDES = np.arange(90.0, -90.1, -2.5), np.arange(0.0, 359.9, 2.5)
U_500 = Record(0, 0, "u", 50_000.0, 6, 6, "instant", 3)
PACKINGS = ("grid_simple", "grid_complex", "grid_complex_spatial_differencing", "grid_ccsds", "grid_jpeg", "grid_png")


def wind(packing: str = "grid_ccsds", *, shift: float = 0.0, keys: dict[str, Any] | None = None, **how: Any) -> bytes:
    """u at 500 hPa of a global grid, of member 3 at +6 h."""
    y, x = np.radians(LATITUDES)[:, None], np.radians(LONGITUDES)[None, :] + shift
    values = 30.0 * np.cos(y) + 12.0 * np.sin(3.0 * x) * np.cos(y) + np.sin(40.0 * x + 30.0 * y)
    how = {"longitudes": LONGITUDES, "member": 3, "bits": 14, **how}
    return message("u", values, level=500, hour=6, run=RUN, latitudes=LATITUDES, packing=packing, keys=keys, **how)


def cut(octets: bytes, box: tuple[float, float, float, float], record: Record = U_500) -> bytes:
    ((piece, found),) = require_promised(octets, [record], RUN, 98)
    return cropped(octets, piece, found, Area.of(box))


def places(octets: bytes) -> dict[tuple[float, float], float]:
    """Values by place, all by ecCodes."""
    handle = eccodes.codes_new_from_message(octets)
    table = zip(
        *(eccodes.codes_get_array(handle, name).tolist() for name in ("latitudes", "longitudes", "values")), strict=True
    )
    eccodes.codes_release(handle)
    return {(round(lat, 6), round(lon % 360.0, 6)): value for lat, lon, value in table}


@pytest.mark.parametrize("packing", PACKINGS)
@pytest.mark.parametrize("box", [(40.0, 52.0, 2.0, 17.0), (-12.0, 11.0, 172.0, 191.0), (30.0, 44.0, -9.0, 8.0)])
def test_values_inside_are_the_same(packing: str, box: tuple[float, float, float, float]) -> None:
    """Over the date line and over the first meridian too; the reference for both is ecCodes."""
    octets = wind(packing)
    small = cut(octets, box)
    before, after = places(octets), places(small)
    assert len(small) < len(octets)
    inside = {
        (lat, lon)
        for lat, lon in before
        if box[0] <= lat <= box[1] and (lon - box[2]) % 360.0 <= (box[3] - box[2]) % 360.0
    }
    assert inside
    assert inside <= after.keys()
    assert {place: before[place] for place in after} == pytest.approx(after, rel=1e-14, abs=1e-13)


def test_headers_are_kept() -> None:
    octets = wind()
    small = cut(octets, (40.0, 52.0, 2.0, 17.0))
    before, after = sections(octets), sections(small)
    for number in (1, 4):
        assert octets[slice(*before[number])] == small[slice(*after[number])]


def test_the_whole_earth() -> None:
    assert places(cut(wind(), (-90.0, 90.0, -180.0, 180.0))) == pytest.approx(places(wind()), rel=1e-14, abs=1e-13)


def test_decimal_scale_and_constant_fields() -> None:
    decimal = wind("grid_simple", keys={"decimalScaleFactor": 2})
    assert places(cut(decimal, (0.0, 9.0, 0.0, 9.0))).items() <= places(decimal).items()
    flat = np.full((len(LATITUDES), len(LONGITUDES)), 7.25)
    constant = message(
        "u", flat, level=500, hour=6, member=3, run=RUN, latitudes=LATITUDES, longitudes=LONGITUDES
    )  # fmt: skip
    assert set(places(cut(constant, (0.0, 9.0, 0.0, 9.0))).values()) == {7.25}


def test_points_without_a_value_stay_so() -> None:
    """Near the ground a centre may leave points out; on pressure levels it may not."""
    values = np.full((len(LATITUDES), len(LONGITUDES)), 20.0) + np.arange(len(LONGITUDES)) / 10.0
    values[LATITUDES > 45.0] = -999.0
    gust = message(
        "gust", values, level=10, kind="above ground", hour=6, member=3, run=RUN, latitudes=LATITUDES,
        longitudes=LONGITUDES, missing=-999.0,
    )  # fmt: skip
    small = cut(gust, (40.0, 52.0, 2.0, 17.0), Record(0, 0, "gust", 0.0, 6, 6, "", 3))
    handle = eccodes.codes_new_from_message(small)
    table = eccodes.codes_get_values(handle).reshape(eccodes.codes_get(handle, "Nj"), -1)
    missing = eccodes.codes_get(handle, "missingValue")
    north = eccodes.codes_get(handle, "latitudeOfFirstGridPointInDegrees")
    eccodes.codes_release(handle)
    rows = north - 2.5 * np.arange(len(table)) > 45.0
    assert rows.any()
    assert not rows.all()
    assert (table[rows] == missing).all()
    assert (table[~rows] != missing).all()


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"name": "v"}, "another quantity came"),
        ({"level_pa": 25_000.0}, "it came for 500 hPa"),
        ({"start_h": 9, "end_h": 9}, "it came for 6 to 6 h"),
        ({"member": 4}, "it came for member 3"),
        ({"name": "10u", "level_pa": 0.0}, "it came for another kind of level"),
        ({"statistic": "average"}, "it came as instant"),
    ],
)
def test_a_message_that_was_not_promised(change: dict[str, Any], reason: str) -> None:
    with pytest.raises(BadMessage, match=reason):
        require_promised(wind(), [U_500._replace(**change)], RUN, 98)


def test_another_run_and_another_centre() -> None:
    with pytest.raises(BadMessage, match="it came from the run 2026-03-04 06:00"):
        require_promised(wind(), [U_500], RUN.replace(hour=12), 98)
    with pytest.raises(BadMessage, match="it came from centre 98"):
        require_promised(wind(), [U_500], RUN, 7)


@pytest.mark.parametrize(
    ("octets", "reason"),
    [
        (wind()[1:], "no GRIB message begins there"),
        (b"<html><body>busy</body></html>" * 20, "an HTML page came in place of GRIB"),
        (wind()[:-1], "octets, the index says"),
        (wind()[:-4] + b"7770", "the end of the message is missing"),
        (wind()[:7] + b"\x01" + wind()[8:], "edition 2"),
        (b"", "no GRIB message begins there"),
    ],
)
def test_what_is_no_message(octets: bytes, reason: str) -> None:
    with pytest.raises(BadMessage, match=reason):
        read_pieces(octets)


@pytest.mark.parametrize("packing", ["grid_simple", "grid_complex_spatial_differencing", "grid_ccsds"])
def test_no_bit_of_the_headers_changes_a_value_unseen(packing: str) -> None:
    """Every single bit outside of the packed values and their scale: refused, or of no effect on any value."""
    latitudes, longitudes = np.arange(90.0, -90.1, -10.0), np.arange(0.0, 359.9, 10.0)
    values = 20.0 * np.cos(np.radians(latitudes))[:, None] + np.sin(np.radians(3.0 * longitudes))[None, :]
    octets = message(
        "u", values, level=500, hour=6, member=3, run=RUN, latitudes=latitudes, longitudes=longitudes,
        packing=packing, bits=12,
    )  # fmt: skip
    box = (30.0, 52.0, 2.0, 37.0)
    right, found, refused = places(cut(octets, box)), sections(octets), 0
    packed = {place for number in (5, 6, 7) for place in range(found[number][0] + 5, found[number][1])}
    headers = [place for place in range(len(octets)) if place not in packed]
    for place in headers:
        for bit in range(8):
            damaged = bytearray(octets)
            damaged[place] ^= 1 << bit
            try:
                small = cut(bytes(damaged), box)
            except (BadMessage, BadFile):
                refused += 1
                continue
            assert places(small) == right, (place, bit)
    assert len(headers) > 150
    assert refused > 4 * len(headers)


@pytest.mark.parametrize(
    ("values", "reason"),
    [(500.0, "impossible values"), (np.nan, "points without a value")],
)
def test_values_that_no_weather_has(values: float, reason: str) -> None:
    table = 10.0 + np.zeros((len(LATITUDES), len(LONGITUDES)))
    table[3, 5] = -9e9 if np.isnan(values) else values
    how: dict[str, Any] = {"missing": -9e9} if np.isnan(values) else {}
    octets = message(
        "u", table, level=500, hour=6, member=3, run=RUN, latitudes=LATITUDES, longitudes=LONGITUDES, **how
    )
    with pytest.raises(BadMessage, match=reason):
        cut(octets, (40.0, 52.0, 2.0, 17.0))


def test_an_area_beyond_a_regional_grid() -> None:
    latitudes, longitudes = np.arange(60.0, 29.9, -2.5), np.arange(0.0, 40.1, 2.5)
    table = np.full((len(latitudes), len(longitudes)), 5.0)
    octets = message("u", table, level=500, hour=6, member=3, run=RUN, latitudes=latitudes, longitudes=longitudes)
    with pytest.raises(BadFile, match="does not reach into the area"):
        cut(octets, (-30.0, -20.0, 2.0, 17.0))
