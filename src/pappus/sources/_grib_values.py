"""Values of GRIB fields: simple packing in numpy, many fields at once; every other packing through ecCodes.

Simple packing is WMO-No. 306, FM 92 GRIB, edition 2 template 5.0 and edition 1 section 4 (from memory). Values are
those of ecCodes to the rounding of float64.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from pappus.sources._files import bad_file
from pappus.sources._grib_messages import Bytes, Field, Packing, eccodes

Array = NDArray[np.float64]
Cut = Callable[[Array], Array]

_POINTS_AT_ONCE = 2_000_000
"""Bounds the memory of a batch."""


def decode(fields: Sequence[Field], contents: Sequence[Bytes], names: Sequence[str], cut: Cut) -> Array:
    """Values of fields on one grid, shape (field, latitude, longitude); NaN where a bitmap leaves a point out.

    ``cut`` takes values of shape (field, point) in the order of the file to the shape that is returned.
    """
    first = cut(np.zeros((1, fields[0].points)))
    result = np.empty((len(fields), *first.shape[1:]))
    at_once = max(1, _POINTS_AT_ONCE // fields[0].points)
    plain: dict[int, list[int]] = {}
    for index, field in enumerate(fields):
        if field.packing is not None and not field.packing.bitmap:
            plain.setdefault(field.packing.bits, []).append(index)
        elif field.packing is not None:
            result[index] = cut(_with_bitmap(field.packing, field.points, contents[field.file])[None])[0]
        else:
            result[index] = cut(_through_eccodes(field, contents[field.file], names[field.file])[None])[0]
    for indices in plain.values():
        for start in range(0, len(indices), at_once):
            batch = indices[start : start + at_once]
            packings = [packing for index in batch if (packing := fields[index].packing) is not None]
            values = cut(_unpack(packings, [contents[fields[index].file] for index in batch]))
            if len(batch) == len(fields):
                return values
            result[batch] = values
    return result


def _unpack(packings: Sequence[Packing], contents: Sequence[Bytes]) -> Array:
    """Values of fields of one number of bits and of points, shape (field, point), each from its own file."""
    bits, coded = packings[0].bits, packings[0].coded
    scale = np.array([2.0**packing.binary for packing in packings])[:, None]
    reference = np.array([packing.reference for packing in packings])[:, None]
    if bits == 0:
        values = np.broadcast_to(reference, (len(packings), coded)).copy()
    else:
        octets = (coded * bits + 7) // 8
        # eight numbers fill as many octets as one has bits
        packed = np.zeros((len(packings), -(-coded // 8) * bits), dtype=np.uint8)
        for row, content, packing in zip(packed, contents, packings, strict=True):
            row[:octets] = content[packing.start : packing.start + octets]
        values = unpack_integers(packed, bits)[:, :coded]
        values *= scale
        values += reference
    if any(packing.decimal for packing in packings):
        values *= np.array([10.0**-packing.decimal for packing in packings])[:, None]
    return values


def unpack_integers(packed: Bytes, bits: int) -> Array:
    """Big-endian integers of ``bits`` (1 to 32) each, shape (row, count), from rows of ``count * bits / 8`` octets."""
    if bits in (8, 16, 32):
        return packed.view(f">u{bits // 8}").astype(np.float64)
    rows, octets = packed.shape
    groups = packed.reshape(rows, octets // bits, bits)
    word = np.uint32 if bits <= 25 else np.uint64  # 25 bits lie in at most four octets
    values = np.empty((rows, octets // bits, 8))
    for place in range(8):
        first, last = place * bits, (place + 1) * bits
        number = groups[:, :, first // 8].astype(word)
        for octet in range(first // 8 + 1, (last + 7) // 8):
            number <<= word(8)
            number |= groups[:, :, octet]
        number >>= word(-last % 8)
        number &= word((1 << bits) - 1)
        values[:, :, place] = number
    return values.reshape(rows, -1)


def _with_bitmap(packing: Packing, points: int, content: Bytes) -> Array:
    bitmap = content[packing.bitmap : packing.bitmap + (points + 7) // 8]
    present = np.unpackbits(bitmap)[:points].astype(bool)
    values = np.full(points, np.nan)
    count = int(present.sum())
    if 0 < count <= packing.coded:  # else the bitmap and the data contradict each other: nothing is known
        values[present] = _unpack([packing._replace(coded=count)], [content])[0]
    return values


def message_of(field: Field, content: Bytes) -> bytes:
    """A message of this field alone."""
    body = b"".join(content[start:end].tobytes() for start, end in field.parts)
    if field.discipline < 0:
        return body
    length = 16 + len(body) + 4
    return b"GRIB\xff\xff" + bytes([field.discipline, 2]) + length.to_bytes(8, "big") + body + b"7777"


def _through_eccodes(field: Field, content: Bytes, name: str) -> Array:
    codes = eccodes()
    handle = None
    try:
        handle = codes.codes_new_from_message(message_of(field, content))
        codes.codes_set(handle, "missingValue", -1.0e30)
        values = np.asarray(codes.codes_get_values(handle), dtype=np.float64)
    except (codes.CodesInternalError, ValueError, MemoryError) as error:
        what = f"{field.product.name} on level {field.product.level:g}"
        raise bad_file(name, f"{what} cannot be decoded ({error})", "Get the file again.") from None
    finally:
        if handle is not None:
            codes.codes_release(handle)
    if len(values) != field.points:
        raise bad_file(name, "a field has not as many values as its grid has points", "Get the file again.")
    values[values == -1.0e30] = np.nan
    return values
