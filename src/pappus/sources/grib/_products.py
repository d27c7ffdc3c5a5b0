"""What a GRIB message is about: parameter, level, valid time and member, for the few fields that a flight needs.

Sources: WMO-No. 306, Manual on Codes, volume I.2: FM 92 GRIB edition 2, code tables 4.2, 4.4, 4.5 and templates 4.0,
4.1, 4.8, 4.11; FM 92 GRIB edition 1, tables 2, 3, 4, 5. The cloud layers 200, 214, 224, 234 and gust 180 are those of
centre 7, table 128 (and discipline 192) those of centre 98. All from memory; the tests compare with ecCodes.
"""

from __future__ import annotations

from typing import NamedTuple

PRESSURE, HYBRID, SURFACE = "pressure", "hybrid", "surface"
UPPER_AIR = frozenset({"u", "v", "t", "gh", "z", "q"})


class Product(NamedTuple):
    """One field: what, where in the column, and when."""

    name: str
    kind: str
    """PRESSURE, HYBRID or SURFACE."""
    level: float
    """Pressure in Pa, number of the model level, or 0 at the surface."""
    start_s: int
    end_s: int
    """Seconds after the run: a window for means and sums, twice the same for an instant."""
    statistic: str
    """"instant", "average", "sum" or "maximum"."""
    member: int


_NAMES_2 = {
    (0, 0, 0): "t",
    (0, 1, 0): "q",
    (0, 1, 7): "rain rate",
    (0, 1, 8): "rain",
    (0, 2, 2): "u",
    (0, 2, 3): "v",
    (0, 2, 22): "gust",
    (0, 3, 0): "sp",
    (0, 3, 4): "z",
    (0, 3, 5): "gh",
    (0, 3, 25): "lnsp",
    (0, 6, 1): "cloud %",
    (0, 6, 3): "low cloud %",
    (0, 6, 4): "medium cloud %",
    (0, 6, 5): "high cloud %",
    (0, 19, 0): "visibility",
}
_NAMES_1 = {
    1: "sp",
    6: "z",
    7: "gh",
    11: "t",
    20: "visibility",
    33: "u",
    34: "v",
    51: "q",
    59: "rain rate",
    61: "rain",
    71: "cloud %",
    73: "low cloud %",
    74: "medium cloud %",
    75: "high cloud %",
    180: "gust",
}
_NAMES_128 = {
    49: "gust",
    129: "z",
    130: "t",
    131: "u",
    132: "v",
    133: "q",
    134: "sp",
    152: "lnsp",
    156: "gh",
    164: "cloud",
    165: "10u",
    166: "10v",
    167: "2t",
    186: "low cloud",
    187: "medium cloud",
    188: "high cloud",
    228: "rain in metres",
}
_CLOUD_LAYERS = {214: "low cloud %", 224: "medium cloud %", 234: "high cloud %"}
_SECONDS_OF_UNIT = {0: 60, 1: 3600, 2: 86400, 10: 3 * 3600, 11: 6 * 3600, 12: 12 * 3600}
_STATISTICS_2 = {0: "average", 1: "sum", 2: "maximum"}


def product_of_edition_2(discipline: int, section: bytes) -> Product | None:
    """The product of a section 4; None when it is nothing that we use."""
    template = int.from_bytes(section[7:9], "big")
    name = _name_2(discipline, section[9], section[10])
    if name is None or template not in (0, 1, 8, 11):
        return None
    unit = {**_SECONDS_OF_UNIT, 13: 1}.get(section[17])
    if unit is None or section[18] & 0x80:
        return None
    start = end = int.from_bytes(section[18:22], "big") * unit
    statistic, member = "instant", 0
    if template in (1, 11):
        member = int(section[35])
        if section[34] == 2:  # negatively perturbed; centres number the pairs alike
            member = -member
    if template in (8, 11):
        range_at = 46 if template == 8 else 49
        range_unit = {**_SECONDS_OF_UNIT, 13: 1}.get(section[range_at + 2])
        statistic = _STATISTICS_2.get(section[range_at], "")
        if section[range_at - 5] != 1 or range_unit is None or not statistic:
            return None
        end = start + int.from_bytes(section[range_at + 3 : range_at + 7], "big") * range_unit
    kind = section[22]
    if kind in (100, 103, 105, 119):
        exponent = section[23] if section[23] < 128 else 128 - section[23]
        value = int.from_bytes(section[24:28], "big") / 10.0**exponent
    else:
        value = 0.0
    placed = _place_2(name, kind, value)
    return None if placed is None else Product(*placed, start, end, statistic, member)


def _name_2(discipline: int, category: int, number: int) -> str | None:
    if discipline == 192 and category == 128:
        return _NAMES_128.get(number)
    return _NAMES_2.get((discipline, category, number))


def _place_2(name: str, kind: int, value: float) -> tuple[str, str, float] | None:
    if kind == 100:
        return (name, PRESSURE, value) if name in UPPER_AIR else None
    if kind in (105, 119):
        return (name, HYBRID, value) if name in UPPER_AIR or name in ("lnsp", "sp") else None
    if kind == 103:
        return _above_ground(name, value)
    return _at_surface(name, kind)


def product_of_edition_1(section: bytes, member: int) -> Product | None:
    """The product of a section 1; ``member`` is read elsewhere, since centres keep it in their own octets."""
    name = _name_1(table=section[3], centre=section[4], number=section[8])
    unit = {**_SECONDS_OF_UNIT, 13: 900, 14: 1800, 254: 1}.get(section[17])
    if name is None or unit is None:
        return None
    first, second, indicator = section[18], section[19], section[20]
    start = end = first * unit
    statistic = "instant"
    if indicator == 10:
        start = end = int.from_bytes(section[18:20], "big") * unit
    elif indicator == 1:
        start = end = 0
    elif indicator in (2, 3, 4):
        end = second * unit
        statistic = {2: "maximum", 3: "average", 4: "sum"}[indicator]
    elif indicator != 0:
        return None
    if name == "rain in metres":  # centre 98 writes the sum since the start of the run as if it were an instant
        start, statistic = 0, "sum"
    kind, level = section[9], int.from_bytes(section[10:12], "big")
    placed: tuple[str, str, float] | None
    if kind in (100, 210):
        placed = (name, PRESSURE, level * (100.0 if kind == 100 else 1.0)) if name in UPPER_AIR else None
    elif kind == 109:
        placed = (name, HYBRID, float(level)) if name in UPPER_AIR or name in ("lnsp", "sp") else None
    elif kind == 105:
        placed = _above_ground(name, float(level))
    else:
        placed = _at_surface(name, kind)
    return None if placed is None else Product(*placed, start, end, statistic, member)


def _name_1(table: int, centre: int, number: int) -> str | None:
    if table == 128 and centre == 98:
        return _NAMES_128.get(number)
    if table < 128 or table == 253:
        name = _NAMES_1.get(number)
        # limited-area models of table 253 write cloud as a fraction or in per cent: we cannot tell which
        return None if table == 253 and name is not None and "cloud" in name else name
    return None


def _above_ground(name: str, height_ground_m: float) -> tuple[str, str, float] | None:
    if name in ("u", "v") and height_ground_m == 10.0:
        return "10" + name, SURFACE, 0.0
    if name == "t" and height_ground_m == 2.0:
        return "2t", SURFACE, 0.0
    if name in ("gh", "z", "sp") and height_ground_m == 0.0:
        return name, SURFACE, 0.0
    return (name, SURFACE, 0.0) if name == "gust" and height_ground_m == 10.0 else None


def _at_surface(name: str, kind: int) -> tuple[str, str, float] | None:
    if kind in _CLOUD_LAYERS:
        return (_CLOUD_LAYERS[kind], SURFACE, 0.0) if name == "cloud %" else None
    if name in ("u", "v", "t", "q"):
        return None
    if kind == 1:
        return name, SURFACE, 0.0
    return (name, SURFACE, 0.0) if kind in (10, 200) and "cloud" in name else None
