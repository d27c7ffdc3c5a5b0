"""Is a GRIB message the one that its index promised, and is it sound: the questions before anything is kept.

Sections and templates: WMO-No. 306, Manual on Codes, volume I.2, FM 92 GRIB edition 2 (from memory). GRIB has no
checksum. What is seen: any damage to lengths, section numbers, end mark, time of the run, step, member, level or
quantity; data that cannot be decoded; values that no weather has. What cannot be seen: other bits among packed
values, when the values stay possible. Only a second reading finds those (``DownloadRules.reread_share``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from typing import NamedTuple

from pappus.sources.centres._fields import BY_NAME, PRESSURE, Numbers
from pappus.sources.centres._run_index import Record

_HOURS_OF_UNIT = {1: 1.0, 10: 3.0, 11: 6.0, 12: 12.0, 2: 24.0, 0: 1 / 60, 13: 1 / 3600}
_STATISTICS = {0: "average", 1: "sum", 2: "maximum", 3: "minimum"}
_SMALLEST_SECTIONS = {1: 21, 2: 5, 3: 14, 4: 34, 5: 11, 6: 6, 7: 5}


class BadMessage(Exception):
    """A message that is damaged or not the one promised; says why."""


class Piece(NamedTuple):
    """One field of a message: where its sections begin and end, and what its headers say."""

    sections: dict[int, tuple[int, int]]
    discipline: int
    numbers: Numbers
    surface: int
    surface_value: float
    start_h: float
    end_h: float
    statistic: str
    member: int
    run: datetime
    centre: int


def require_promised(
    octets: bytes, records: Sequence[Record], run: datetime, centre: int
) -> list[tuple[Piece, Record]]:
    """Each record of one message with its field; raises BadMessage unless the message is whole and holds these.

    ``records`` are all those wanted at this offset, ``centre`` is the number of the centre in common code table C-11.
    """
    pieces = read_pieces(octets)
    result = []
    for record in records:
        reasons = [_mismatch(piece, record, run, centre) for piece in pieces]
        if "" not in reasons:
            raise BadMessage(f"{_words(record)} was promised, but {reasons[0]}")
        result.append((pieces[reasons.index("")], record))
    return result


def read_pieces(octets: bytes) -> list[Piece]:
    """Headers of every field of exactly one message of edition 2; raises BadMessage when anything does not fit."""
    if octets[:4] != b"GRIB":
        start = octets[:200].lstrip().lower()
        what = "an HTML page came in place of GRIB" if start[:1] == b"<" else "no GRIB message begins there"
        raise BadMessage(what)
    if len(octets) < 16 + 21 + 5 + 4 or octets[7] != 2:
        raise BadMessage("it is no GRIB message of edition 2")
    length = int.from_bytes(octets[8:16], "big")
    if length != len(octets):
        raise BadMessage(f"the message has {length} octets, the index says {len(octets)}")
    if octets[-4:] != b"7777":
        raise BadMessage("the end of the message is missing")
    try:
        pieces = list(_pieces(octets))
    except (IndexError, ValueError, KeyError) as error:
        raise BadMessage(f"its headers are damaged ({error})") from None
    if not pieces:
        raise BadMessage("the message holds no field")
    return pieces


def _pieces(octets: bytes) -> Iterator[Piece]:
    at, before = 16, 0
    sections: dict[int, tuple[int, int]] = {}
    bitmap: tuple[int, int] | None = None
    while at < len(octets) - 4:
        length, number = int.from_bytes(octets[at : at + 4], "big"), octets[at + 4]
        # a message may go back to section 2, 3 or 4 for its next field
        if number not in _SMALLEST_SECTIONS or not (number > before or (before == 7 and number in (2, 3, 4))):
            raise ValueError("its sections are out of order")
        if length < _SMALLEST_SECTIONS[number] or at + length > len(octets) - 4:
            raise ValueError("its sections do not fill it")
        sections[number] = (at, at + length)
        at, before = at + length, number
        if number == 6:
            indicator = octets[sections[6][0] + 5]
            if indicator not in (0, 254, 255) or (indicator == 254 and bitmap is None):
                raise ValueError("it uses a bitmap that it does not have")
            bitmap = bitmap if indicator == 254 else sections[6]
        if number == 7:
            if not {1, 3, 4, 5, 6} <= sections.keys() or bitmap is None:
                raise ValueError("a section is missing")
            yield _piece(octets, {**sections, 6: bitmap})
    if before != 7:
        raise ValueError("its sections do not fill it")


def _piece(octets: bytes, sections: dict[int, tuple[int, int]]) -> Piece:
    head, product = (octets[slice(*sections[number])] for number in (1, 4))
    template = int.from_bytes(product[7:9], "big")
    if product[5:7] != bytes(2):
        raise ValueError("it is said to have a vertical coordinate of a model")
    discipline = octets[6]
    exponent = product[23] if product[23] < 128 else 128 - product[23]
    value = int.from_bytes(product[24:28], "big") / 10.0**exponent if product[22] in (100, 103, 105, 119) else 0.0
    start = end = int.from_bytes(product[18:22], "big") * _HOURS_OF_UNIT[product[17]]
    statistic, member = "instant", 0
    if template not in (0, 1, 8, 11) or product[18] & 0x80:
        statistic = "of a kind that we do not read"
    if template in (1, 11):
        member = -product[35] if product[34] == 2 else product[35]
    if template in (8, 11):
        at = 46 if template == 8 else 49
        statistic = _STATISTICS.get(product[at], "of a kind that we do not read")
        end = start + int.from_bytes(product[at + 3 : at + 7], "big") * _HOURS_OF_UNIT[product[at + 2]]
    year = int.from_bytes(head[12:14], "big")
    month, day, hour, minute, second = head[14:19]
    run = datetime(year, month, day, hour, minute, second, tzinfo=UTC)
    numbers = (discipline, product[9], product[10])
    centre = int.from_bytes(head[5:7], "big")
    return Piece(sections, discipline, numbers, product[22], value, start, end, statistic, member, run, centre)


def _mismatch(piece: Piece, record: Record, run: datetime, centre: int) -> str:
    """Empty when a field is what its record says."""
    wanted = BY_NAME[record.name]
    if piece.numbers not in wanted.numbers:
        return "another quantity came"
    if not any(piece.surface == kind and value in (None, piece.surface_value) for kind, value in wanted.surfaces):
        return "it came for another kind of level"
    if wanted.kind == PRESSURE and abs(piece.surface_value - record.level_pa) > 1e-6 * record.level_pa:
        return f"it came for {piece.surface_value / 100.0:g} hPa"
    if piece.centre != centre:
        return f"it came from centre {piece.centre}"
    if piece.run != run:
        return f"it came from the run {piece.run:%Y-%m-%d %H:%M}"
    if record.statistic not in ("", piece.statistic):
        return f"it came as {piece.statistic}"
    times = (piece.start_h, piece.end_h) if record.statistic else (record.end_h, piece.end_h)
    if max(abs(times[0] - (record.start_h if record.statistic else record.end_h)), abs(times[1] - record.end_h)) > 1e-6:
        return f"it came for {piece.start_h:g} to {piece.end_h:g} h"
    if piece.member != record.member:
        return f"it came for member {piece.member}"
    return ""


def _words(record: Record) -> str:
    where = f" at {record.level_pa / 100.0:g} hPa" if record.level_pa else ""
    return f"{record.name}{where}, +{record.end_h} h, member {record.member}"
