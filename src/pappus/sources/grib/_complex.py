"""Complex packing of GRIB edition 2, with and without spatial differencing: values in groups of their own width.

Source: WMO-No. 306, Manual on Codes, volume I.2, FM 92 GRIB edition 2, templates 5.2, 5.3, 7.2 and 7.3 (from memory;
the tests compare with ecCodes). Own code, since ecCodes crashes the process on damaged groups.
"""

from __future__ import annotations

import struct

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Integers = NDArray[np.int64]

_GROUPS = struct.Struct(">BIIIBBIBIB")
_WIDEST_BITS = 32


def unpack_complex(representation: bytes, data: Bytes, coded: int) -> tuple[Integers, NDArray[np.bool_]]:
    """The ``coded`` integers of a field and which of them are missing.

    ``representation`` is section 5, ``data`` section 7 without its first five octets. Raises ValueError where the
    groups do not fill the field or lie outside the data.
    """
    template = int.from_bytes(representation[9:11], "big")
    bits = representation[19]
    (missing_kind, _, _, groups, width0, width_bits, length0, length_step, last_length, length_bits) = (
        _GROUPS.unpack_from(representation, 22)
    )
    if not 0 < groups <= coded or max(bits, width_bits, length_bits) > _WIDEST_BITS:
        raise ValueError("the groups of a field are absurd")
    at = 0
    first: list[int] = []
    if template == 3:
        order, octets = representation[47], representation[48]
        if order not in (1, 2) or not 0 < octets <= 4:
            raise ValueError("the spatial differencing is of an unknown kind")
        first = [_sign_and_magnitude(data[k * octets : (k + 1) * octets]) for k in range(order + 1)]
        at = (order + 1) * octets
    references, at = _equal_widths(data, at, bits, groups)
    widths, at = _equal_widths(data, at, width_bits, groups)
    lengths, at = _equal_widths(data, at, length_bits, groups)
    widths += width0
    lengths = lengths * length_step + length0
    lengths[-1] = last_length
    if int(widths.max()) > _WIDEST_BITS or int(lengths.min()) < 0 or int(lengths.sum()) != coded:
        raise ValueError("the groups do not fill the field")
    width = np.repeat(widths, lengths)
    packed = _at_bits(data, 8 * at + np.cumsum(width) - width, width)
    missing = np.zeros(coded, dtype=bool)
    if missing_kind in (1, 2):
        # all bits set is the first kind of missing, one less the second; groups without width say it once
        highest = np.where(width > 0, (np.int64(1) << width) - 1, (1 << bits) - 1)
        said = np.where(width > 0, packed, np.repeat(references, lengths))
        missing = said > highest - missing_kind
    values = packed + np.repeat(references, lengths)
    if first:
        values[~missing] = _summed(values[~missing], first)
    return values, missing


def _summed(differences: Integers, first: list[int]) -> Integers:
    """Undo differences of first or second order; the last of ``first`` is the least difference."""
    *start, least = first
    if len(differences) < len(start):
        raise ValueError("the field is shorter than its differences")
    values = differences + least
    if len(start) == 2:
        values[0], values[1] = start[0], start[1] - start[0]
        values[1:] = np.cumsum(values[1:])
    else:
        values[0] = start[0]
    return np.cumsum(values)


def _sign_and_magnitude(octets: Bytes) -> int:
    number = int.from_bytes(octets.tobytes(), "big")
    sign = 1 << (8 * len(octets) - 1)
    return -(number & ~sign) if number & sign else number


def _equal_widths(data: Bytes, at: int, bits: int, count: int) -> tuple[Integers, int]:
    """Integers of one width from an octet on, and the octet after them."""
    width = np.full(count, bits, dtype=np.int64)
    return _at_bits(data, 8 * at + np.arange(count) * bits, width), at + (count * bits + 7) // 8


def _at_bits(data: Bytes, offset: Integers, width: Integers) -> Integers:
    """Big-endian integers of up to 32 bits at any offset, in bits."""
    if int(offset[-1] + width[-1]) > 8 * len(data):
        raise ValueError("the groups lie outside the data")
    padded = np.concatenate([data, np.zeros(8, dtype=np.uint8)])
    # eight octets from every octet on, without a copy
    words = np.ndarray(shape=(len(data) + 1,), dtype=">u8", buffer=padded, strides=(1,))
    word = words[offset >> 3].astype(np.uint64)
    down = (64 - width - (offset & 7)).astype(np.uint64)
    # a width of 0 may ask for a shift by 64, which a processor does not define
    word >>= np.minimum(down, np.uint64(63))
    return np.asarray(word & ((np.uint64(1) << width.astype(np.uint64)) - np.uint64(1))).astype(np.int64)
