"""Cuts the fields of a message to an area and writes them as GRIB again, with not one value changed.

A packed value is (R + X 2^E) 10^-D with an integer X. The integers of the points inside the area are found again and
packed as they are, with the same R, E and D, in simple packing (template 5.0): a reader gets the same numbers. All
headers but the grid are those of the centre. Templates 3.0, 5.0, 5.2, 5.3, 5.40 to 5.42: WMO-No. 306, Manual on Codes,
volume I.2, FM 92 GRIB edition 2 (from memory).
"""

from __future__ import annotations

import struct

import numpy as np
from numpy.typing import NDArray

from pappus.errors import BadFile
from pappus.sources.centres._fields import BY_NAME, PRESSURE
from pappus.sources.centres._message import BadMessage, Piece
from pappus.sources.centres._run_index import Record
from pappus.sources.grib import PRESSURE as ON_PRESSURE
from pappus.sources.grib import SURFACE, Area, Grid, Product, Unreadable, decode, field_2, read_grid

Array = NDArray[np.float64]

_PACKING = struct.Struct(">fHHB")
_PACKINGS = (0, 2, 3, 40, 41, 42)
"""Simple, complex, complex with differences, JPEG 2000, PNG, CCSDS: R, E, D and bits lie at the same octets."""


def cropped(octets: bytes, piece: Piece, record: Record, area: Area) -> bytes:
    """A message with this field alone, cut to the area; raises BadMessage when its values are damaged or impossible.

    Raises BadFile when the grid does not reach into the area.
    """
    content = np.frombuffer(octets, np.uint8)
    grid_section = octets[slice(*piece.sections[3])]
    template = int.from_bytes(grid_section[12:14], "big")
    if template != 0:
        raise BadMessage(f"its grid is of kind 3.{template}, not latitude-longitude")
    kind = ON_PRESSURE if BY_NAME[record.name].kind == PRESSURE else SURFACE
    product = Product(record.name, kind, record.level_pa, 0, 0, "instant", record.member)
    try:
        field = field_2(0, memoryview(octets), piece.sections, piece.discipline, product)
        if isinstance(field, Unreadable):
            raise BadMessage(field.reason)
        _require_plain_grid(grid_section)
        read_grid("the message", grid_section, 2, field.points, None)
        values = decode([field], [content], ["the message"], _as_they_are)[0]
    except (BadFile, struct.error, IndexError, ValueError) as error:
        reason = error.findings[0].reason if isinstance(error, BadFile) else str(error)
        raise BadMessage(f"{record.name} cannot be decoded: {reason}") from None
    _require_possible(values, record)
    grid = read_grid("the forecast", grid_section, 2, field.points, area)
    inside = grid.cut(values[None])[0][::-1]  # north first, as centres write it
    return _message(octets, piece, grid, grid_section, inside)


def _require_plain_grid(section: bytes) -> None:
    """BadMessage unless corners, distances and numbers of points agree, and rows run from the north and from the west.

    One wrong bit in a corner would put every value elsewhere.
    """
    if len(section) < 72:
        raise BadMessage("its grid is not described")
    columns, rows = struct.unpack_from(">II", section, 30)
    north, west, _, south, east, step_east, step_south, scan = struct.unpack_from(">IIBIIIIB", section, 46)
    degrees = [(-1 if number >> 31 else 1) * (number & 0x7FFFFFFF) for number in (north, west, south, east)]
    fits = degrees[0] - degrees[2] == step_south * (rows - 1)
    fits &= (degrees[3] - degrees[1] - step_east * (columns - 1)) % 360_000_000 == 0
    if scan or not fits or min(columns, rows) < 2 or max(abs(number) for number in degrees) > 360_000_000:
        raise BadMessage("corners and distances of its grid contradict each other")


def _as_they_are(values: NDArray[np.generic]) -> NDArray[np.generic]:
    return values


def _require_possible(values: Array, record: Record) -> None:
    wanted = BY_NAME[record.name]
    present = values[~np.isnan(values)]
    if present.size == 0 or (wanted.kind == PRESSURE and present.size != values.size):
        raise BadMessage(f"{record.name} has points without a value")
    low, high = float(present.min()), float(present.max())
    if not wanted.low <= low <= high <= wanted.high:
        raise BadMessage(f"{record.name} has impossible values ({low:.6g} to {high:.6g})")


def _message(octets: bytes, piece: Piece, grid: Grid, grid_section: bytes, values: Array) -> bytes:
    section_5 = octets[slice(*piece.sections[5])]
    template = int.from_bytes(section_5[9:11], "big")
    if template not in _PACKINGS:
        raise BadMessage(f"values packed by template 5.{template} are not read")
    reference, binary, decimal, bits = _PACKING.unpack_from(section_5, 11)
    present = ~np.isnan(values)
    integers = _integers(values[present], reference, _signed(binary), _signed(decimal)) if bits else None
    # no bits at all would say that the decimal scale does not count either
    wide = 0 if integers is None else max(1, int(integers.max()).bit_length())
    packed = b"" if integers is None else _packed(integers, wide)
    count = int(present.sum())
    new_5 = b"\x05" + struct.pack(">IH", count, 0) + section_5[11:19] + bytes([wide, section_5[20]])
    whole = count == present.size
    new_6 = b"\x06\xff" if whole else b"\x06\x00" + np.packbits(present.ravel()).tobytes()
    sections = [octets[slice(*piece.sections[number])] for number in (1, 2) if number in piece.sections]
    sections.append(_grid(grid_section, grid))
    sections.append(octets[slice(*piece.sections[4])])
    sections.extend(_with_length(section) for section in (new_5, new_6, b"\x07" + packed))
    body = b"".join(sections)
    return octets[:8] + (16 + len(body) + 4).to_bytes(8, "big") + body + b"7777"


def _integers(values: Array, reference: float, binary: int, decimal: int) -> NDArray[np.int64]:
    """X of every value; BadMessage where the values are not those of this packing."""
    exact = (values * 10.0**decimal - reference) / 2.0**binary
    integers = np.rint(exact)
    # one packed value is a step of 1 here; float64 leaves it exact to far less
    if np.abs(exact - integers).max(initial=0.0) > 1e-3 or integers.min() < 0 or integers.max() >= 2**32:
        raise BadMessage("its values do not fit its packing")
    return integers.astype(np.int64)


def _packed(integers: NDArray[np.int64], bits: int) -> bytes:
    octets = integers.astype(">u4").view(np.uint8).reshape(-1, 4)
    return np.packbits(np.unpackbits(octets, axis=1)[:, 32 - bits :].ravel()).tobytes()


def _grid(section: bytes, grid: Grid) -> bytes:
    """The section of the grid with its rows and columns from north to south and west to east."""
    rows, columns = len(grid.latitude_deg), len(grid.longitude_deg)
    new = bytearray(section[:72])
    new[0:4] = (72).to_bytes(4, "big")
    new[6:10] = (rows * columns).to_bytes(4, "big")
    new[30:38] = struct.pack(">II", columns, rows)
    new[38:46] = bytes(4) + b"\xff\xff\xff\xff"
    north, south = (_micro(grid.latitude_deg[place]) for place in (-1, 0))
    west, east = (_micro(grid.longitude_deg[place] % 360.0) for place in (0, -1))
    steps = [abs(axis[1] - axis[0]) for axis in (grid.longitude_deg, grid.latitude_deg)]
    new[46:54] = north + west
    new[55:63] = south + east
    new[63:71] = b"".join(_micro(step) for step in steps)
    new[71] = 0
    return bytes(new)


def _micro(degrees: float) -> bytes:
    """Millionths of a degree, as sign and magnitude."""
    number = round(abs(float(degrees)) * 1e6)
    return (number | (0x80000000 if degrees < 0 else 0)).to_bytes(4, "big")


def _with_length(section: bytes) -> bytes:
    return (4 + len(section)).to_bytes(4, "big") + section


def _signed(number: int) -> int:
    """Sixteen bits of sign and magnitude."""
    return -(number & 0x7FFF) if number & 0x8000 else number
