"""Values of GRIB fields: simple and complex packing in numpy, every other packing through ecCodes.

Simple packing is WMO-No. 306, FM 92 GRIB, edition 2 template 5.0 and edition 1 section 4 (from memory). Values are
those of ecCodes to the rounding of float64.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from itertools import groupby
from math import gcd
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.errors import BadFile
from pappus.sources._files import bad_file
from pappus.sources.grib._complex import unpack_complex
from pappus.sources.grib._messages import Bytes, Field, Packing
from pappus.sources.grib._quiet_eccodes import quiet_eccodes

Array = NDArray[np.float64]
Cut = Callable[[NDArray[Any]], NDArray[Any]]

_MISSING = -1.0e30
_POINTS_AT_ONCE = 65_536
"""So many stay in the cache of a processor."""


def decode(fields: Sequence[Field], contents: Sequence[Bytes], names: Sequence[str], cut: Cut) -> Array:
    """Values of fields on one grid, shape (field, latitude, longitude); NaN where a bitmap leaves a point out.

    ``cut`` takes values of shape (field, point) in the order of the file to the shape that is returned.
    """
    first = cut(np.zeros((1, fields[0].points), dtype=np.uint8))
    result = np.empty((len(fields), *first.shape[1:]))
    at_once = max(1, _POINTS_AT_ONCE // fields[0].points)
    start = 0
    for bits, group in groupby(fields, key=_plain_bits):
        alike = list(group)
        for batch in (alike[place : place + at_once] for place in range(0, len(alike), at_once)):
            target = result[start : start + len(batch)]
            start += len(batch)
            if bits is not None:
                packings = [field.packing for field in batch if field.packing is not None]
                integers = _integers(packings, [contents[field.file] for field in batch])
                _scale(cut(integers), packings, target)
                continue
            for row, field in zip(target, batch, strict=True):
                alone = _alone if field.packing else _through_eccodes
                row[...] = cut(alone(field, contents[field.file], names[field.file])[None])[0]
    return result


def _plain_bits(field: Field) -> int | None:
    """Bits of each integer of a field without bitmap and groups: many such fields are unpacked at once."""
    packing = field.packing
    return None if packing is None or packing.bitmap or packing.groups else packing.bits


def _integers(packings: Sequence[Packing], contents: Sequence[Bytes]) -> NDArray[Any]:
    """Packed integers of fields of one number of bits and of points, shape (field, point), each from its own file."""
    bits, coded = packings[0].bits, packings[0].coded
    if bits == 0:
        return np.zeros((len(packings), coded), dtype=np.uint8)
    octets = (coded * bits + 7) // 8
    # eight numbers fill as many octets as one has bits
    packed = np.zeros((len(packings), -(-coded // 8) * bits), dtype=np.uint8)
    for row, content, packing in zip(packed, contents, packings, strict=True):
        row[:octets] = content[packing.start : packing.start + octets]
    return unpack_integers(packed, bits)[:, :coded]


def _scale(integers: NDArray[Any], packings: Sequence[Packing], target: Array) -> None:
    """Write the values of integers (field, ...) to ``target``."""

    def one_a_field(numbers: list[float]) -> Array:
        return np.array(numbers).reshape(-1, *(1,) * (integers.ndim - 1))

    np.multiply(integers, one_a_field([2.0**packing.binary for packing in packings]), out=target)
    target += one_a_field([packing.reference for packing in packings])
    # like ecCodes we take the reference of a constant field as it stands, whatever the decimal scale
    if packings[0].bits and any(packing.decimal for packing in packings):
        target *= one_a_field([10.0**-packing.decimal for packing in packings])


def unpack_integers(packed: Bytes, bits: int) -> NDArray[Any]:
    """Big-endian integers of ``bits`` (1 to 32) each, shape (row, count), from rows of ``count * bits / 8`` octets.

    ``count`` is a multiple of eight.
    """
    if bits in (8, 16, 32):
        return packed.view(f">u{bits // 8}")
    rows, octets = packed.shape
    together = 8 // gcd(bits, 8)  # so many numbers start and end with an octet
    each = bits * together // 8
    groups = packed.reshape(rows, octets // each, each)
    word = np.uint32 if bits <= 25 else np.uint64  # 25 bits lie in at most four octets
    values = np.empty((rows, octets // each, together), dtype=word)
    for place in range(together):
        first, last = place * bits, (place + 1) * bits
        number: NDArray[Any] = groups[:, :, first // 8].astype(word)
        for octet in range(first // 8 + 1, (last + 7) // 8):
            number <<= word(8)
            number |= groups[:, :, octet]
        number >>= word(-last % 8)
        number &= word((1 << bits) - 1)
        values[:, :, place] = number
    return values.reshape(rows, -1)


def _alone(field: Field, content: Bytes, name: str) -> Array:
    """Values of a field with a bitmap or in groups, shape (point,)."""
    packing = field.packing
    assert packing is not None
    present = np.ones(field.points, dtype=bool)
    if packing.bitmap:
        bitmap = content[packing.bitmap : packing.bitmap + (field.points + 7) // 8]
        present = np.unpackbits(bitmap)[: field.points].astype(bool)
    values = np.full(field.points, np.nan)
    count = int(present.sum())
    if not 0 < count <= packing.coded:  # the bitmap and the data contradict each other: nothing is known
        return values
    if not packing.groups:
        some = np.empty((1, count))
        only = [packing._replace(coded=count)]
        _scale(_integers(only, [content]), only, some)
        values[present] = some[0]
        return values
    try:
        data = content[packing.start : packing.start + packing.octets]
        integers, missing = unpack_complex(packing.groups, data, packing.coded)
    except (ValueError, IndexError, struct.error) as error:
        raise _undecodable(field, name, error) from None
    found = (integers * 2.0**packing.binary + packing.reference) * 10.0**-packing.decimal
    found[missing] = np.nan
    values[present] = found[:count]
    return values


def message_of(field: Field, content: Bytes) -> bytes:
    """A message of this field alone."""
    body = b"".join(content[start:end].tobytes() for start, end in field.parts)
    if field.discipline < 0:
        return body
    length = 16 + len(body) + 4
    return b"GRIB\xff\xff" + bytes([field.discipline, 2]) + length.to_bytes(8, "big") + body + b"7777"


def _through_eccodes(field: Field, content: Bytes, name: str) -> Array:
    codes = quiet_eccodes()
    handle = None
    try:
        _require_sane_image(field, content)
        handle = codes.codes_new_from_message(_bare_message(field, content))
        codes.codes_set(handle, "missingValue", _MISSING)
        values = np.asarray(codes.codes_get_values(handle), dtype=np.float64)
    except (codes.CodesInternalError, ValueError, MemoryError, struct.error) as error:
        raise _undecodable(field, name, error) from None
    finally:
        if handle is not None:
            codes.codes_release(handle)
    if len(values) != field.points:
        raise bad_file(name, "a field has not as many values as its grid has points", "Get the file again.")
    values[values == _MISSING] = np.nan
    return values


def _bare_message(field: Field, content: Bytes) -> bytes:
    """The packed values under headers of our own, which spares ecCodes the search in its tables of centres."""
    if field.discipline < 0:
        return message_of(field, content)
    identification = (21).to_bytes(4, "big") + b"\x01" + bytes(4) + b"\x02\x00\x01" + b"\x07\xd0\x01\x01" + bytes(5)
    grid = (72).to_bytes(4, "big") + b"\x03\x00" + field.points.to_bytes(4, "big") + bytes(4) + b"\x06" + bytes(15)
    grid += field.points.to_bytes(4, "big") + (1).to_bytes(4, "big") + bytes(34)
    product = (34).to_bytes(4, "big") + b"\x04" + bytes(8) + bytes(21)
    packed = b"".join(content[start:end].tobytes() for start, end in field.parts[-3:])
    body = identification + grid + product + packed
    return b"GRIB\xff\xff\x00\x02" + (16 + len(body) + 4).to_bytes(8, "big") + body + b"7777"


def _require_sane_image(field: Field, content: Bytes) -> None:
    """ValueError when JPEG 2000 or PNG data do not have the size that the message gives them.

    The decoders below ecCodes write outside their memory then. Sources: ISO/IEC 15444-1, annex A (SIZ marker), and
    W3C Portable Network Graphics, IHDR (from memory).
    """
    if field.discipline < 0:
        return
    representation, _, data = (content[start:end].tobytes() for start, end in field.parts[-3:])
    coded, template = struct.unpack_from(">IH", representation, 5)
    bits = representation[19]
    if bits == 0 or template not in (40, 41):
        return
    if template == 41:
        start, width, height, depth, colour = struct.unpack_from(">16sIIBB", data, 5)
        channels = {0: 1, 2: 3, 6: 4}.get(colour, 0)
        sane = start[:8] == b"\x89PNG\r\n\x1a\n" and width * height == coded and depth * channels >= bits
    else:
        markers, width, height, _, tile_width, tile_height, _, components, depth, steps = struct.unpack_from(
            ">I4xII8sII8sHBH", data, 5
        )
        sane = markers == 0xFF4FFF51 and width * height == coded and (tile_width, tile_height) == (width, height)
        sane &= components == 1 and depth + 1 == bits and steps == 0x0101
    if not sane:
        raise ValueError("the image in it has another size than the field")


def _undecodable(field: Field, name: str, error: Exception) -> BadFile:
    what = f"{field.product.name} on level {field.product.level:g}"
    return bad_file(name, f"{what} cannot be decoded ({error})", "Get the file again.")
