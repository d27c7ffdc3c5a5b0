"""The fields that a flight needs, by the names that centres give them in their indexes and by their GRIB numbers.

Index names: the text indexes of NCEP and the index lines of the open data of ECMWF. Numbers: WMO-No. 306, Manual on
Codes, volume I.2, FM 92 GRIB edition 2, code tables 4.2 and 4.5, and the local numbers of centre 98. Both from memory;
the tests compare the numbers with what ecCodes calls these fields.
"""

from __future__ import annotations

from typing import NamedTuple

PRESSURE, NEAR_GROUND = "pressure", "near the ground"
Numbers = tuple[int, int, int]
"""Discipline, category and number."""


class Wanted(NamedTuple):
    """One quantity and everything by which it is known."""

    name: str
    ncep: tuple[tuple[str, str], ...]
    """Variable and level of a text index; the level is empty for pressure levels."""
    ecmwf: tuple[str, ...]
    """``param`` of an index line."""
    numbers: frozenset[Numbers]
    surfaces: frozenset[tuple[int, float | None]]
    """Kind of the first fixed surface and its value, None where the kind says it all."""
    low: float
    high: float
    """No value of real weather lies outside (common practice, no source)."""
    kind: str = NEAR_GROUND


def _wanted(
    name: str,
    ncep: list[tuple[str, str]],
    ecmwf: list[str],
    numbers: list[Numbers],
    surfaces: list[tuple[int, float | None]],
    bounds: tuple[float, float],
    kind: str = NEAR_GROUND,
) -> Wanted:
    return Wanted(name, tuple(ncep), tuple(ecmwf), frozenset(numbers), frozenset(surfaces), *bounds, kind)


_GROUND: list[tuple[int, float | None]] = [(1, None)]
_ABOVE_10M: list[tuple[int, float | None]] = [(103, 10.0)]
_ABOVE_2M: list[tuple[int, float | None]] = [(103, 2.0)]
_ISOBARIC: list[tuple[int, float | None]] = [(100, None)]
_WIND_M_S = (-350.0, 350.0)
_CLOUD = (-0.01, 100.5)
_TEN, _TWO = "10 m above ground", "2 m above ground"

WANTED = (
    _wanted("u", [("UGRD", "")], ["u"], [(0, 2, 2)], _ISOBARIC, _WIND_M_S, PRESSURE),
    _wanted("v", [("VGRD", "")], ["v"], [(0, 2, 3)], _ISOBARIC, _WIND_M_S, PRESSURE),
    _wanted("t", [("TMP", "")], ["t"], [(0, 0, 0)], _ISOBARIC, (120.0, 350.0), PRESSURE),
    _wanted("gh", [("HGT", "")], ["gh"], [(0, 3, 5)], _ISOBARIC, (-1_500.0, 95_000.0), PRESSURE),
    _wanted("10u", [("UGRD", _TEN)], ["10u"], [(0, 2, 2)], _ABOVE_10M, _WIND_M_S),
    _wanted("10v", [("VGRD", _TEN)], ["10v"], [(0, 2, 3)], _ABOVE_10M, _WIND_M_S),
    _wanted(
        "gust", [("GUST", "surface")], ["10fg", "10fg3", "10fg6", "fg10", "gust"], [(0, 2, 22)],
        [*_GROUND, *_ABOVE_10M], (0.0, 200.0),
    ),
    _wanted("2t", [("TMP", _TWO)], ["2t"], [(0, 0, 0)], _ABOVE_2M, (150.0, 350.0)),
    _wanted("2d", [("DPT", _TWO)], ["2d"], [(0, 0, 6)], _ABOVE_2M, (100.0, 330.0)),
    _wanted(
        "cloud", [("TCDC", "entire atmosphere"), ("TCDC", "entire atmosphere (considered as a single layer)")],
        ["tcc"], [(0, 6, 1), (0, 6, 192), (192, 128, 164)], [*_GROUND, (10, None), (200, None)], _CLOUD,
    ),
    _wanted(
        "low cloud", [("LCDC", "low cloud layer"), ("TCDC", "low cloud layer")],
        ["lcc"], [(0, 6, 3), (0, 6, 1), (0, 6, 193), (192, 128, 186)], [*_GROUND, (214, None)], _CLOUD,
    ),
    _wanted(
        "medium cloud", [("MCDC", "middle cloud layer"), ("TCDC", "middle cloud layer")],
        ["mcc"], [(0, 6, 4), (0, 6, 1), (0, 6, 194), (192, 128, 187)], [*_GROUND, (224, None)], _CLOUD,
    ),
    _wanted(
        "high cloud", [("HCDC", "high cloud layer"), ("TCDC", "high cloud layer")],
        ["hcc"], [(0, 6, 5), (0, 6, 1), (0, 6, 195), (192, 128, 188)], [*_GROUND, (234, None)], _CLOUD,
    ),
    _wanted("visibility", [("VIS", "surface")], ["vis"], [(0, 19, 0)], _GROUND, (0.0, 300_000.0)),
    _wanted(
        "rain", [("APCP", "surface")], ["tp"], [(0, 1, 8), (0, 1, 193), (0, 1, 52), (192, 128, 228)],
        _GROUND, (-0.01, 10_000.0),
    ),
    _wanted("rain rate", [("PRATE", "surface")], ["prate"], [(0, 1, 7)], _GROUND, (-1e-6, 1.0)),
    _wanted(
        "cape", [("CAPE", "surface")], ["cape", "mucape"], [(0, 7, 6)], [*_GROUND, (8, None), (17, None)],
        (-1.0, 30_000.0),
    ),
    _wanted("ground", [("HGT", "surface")], ["z"], [(0, 3, 5), (0, 3, 4)], _GROUND, (-15_000.0, 100_000.0)),
)  # fmt: skip
"""``ground`` is the height of the model's surface, in geopotential metres at NCEP and in m2 s-2 at ECMWF."""

BY_NAME = {wanted.name: wanted for wanted in WANTED}
BY_NCEP = {pair: wanted for wanted in WANTED for pair in wanted.ncep}
BY_ECMWF = {(param, wanted.kind): wanted for wanted in WANTED for param in wanted.ecmwf}
UPPER_AIR = frozenset(wanted.name for wanted in WANTED if wanted.kind == PRESSURE)
