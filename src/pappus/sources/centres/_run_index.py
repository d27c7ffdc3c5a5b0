"""Indexes that centres publish beside their GRIB files: which record is what, and which octets it takes.

Two forms, both from memory: the text index of NCEP, ``number:offset:d=YYYYMMDDHH:VARIABLE:level:forecast:`` with a
member such as ``ENS=+1`` at the end, where the next offset ends a record; and the index lines of ECMWF open data, one
JSON object a line with ``_offset`` and ``_length``.
"""

from __future__ import annotations

import json
import re
from datetime import datetime
from typing import Any, NamedTuple

from pappus.sources.centres._fields import BY_ECMWF, BY_NCEP, NEAR_GROUND, PRESSURE

_NCEP_LINE = re.compile(r"(\d+)(?:\.(\d+))?:(\d+):d=(\d{10}):([^:]*):([^:]*):([^:]*):(.*)")
_MILLIBARS = re.compile(r"(\d+(?:\.\d+)?) mb")
_INSTANT = re.compile(r"(\d+) (hour|day) fcst")
_WINDOW = re.compile(r"(\d+)-(\d+) (hour|day) (ave|acc|max|min) fcst")
_MEMBER = re.compile(r"ENS=([+-]\d+)")
_HOURS = {"hour": 1, "day": 24}
_STATISTICS = {"ave": "average", "acc": "sum", "max": "maximum", "min": "minimum"}
_MOST_RECORDS = 200_000


class BadIndex(Exception):
    """An index that cannot be right; says why."""


class Record(NamedTuple):
    """One field that an index promises."""

    offset: int
    length: int
    """Of its message, which may hold other fields too; 0 when only the size of the file would tell."""
    name: str
    """One of ``WANTED``."""
    level_pa: float
    """0 near the ground."""
    start_h: int
    end_h: int
    """A window for means and sums, twice the same for an instant."""
    statistic: str
    """``"instant"``, ``"average"``, ``"sum"``, ``"maximum"`` or ``"minimum"``; empty where the index does not say."""
    member: int
    """0 for a control and for a forecast without members."""


class RunIndex(NamedTuple):
    """What one file holds."""

    records: tuple[Record, ...]
    """The fields that we know, in the order of their octets."""
    last_offset: int
    """Where the last message of the file begins."""
    end: int
    """Where it ends, 0 when only the size of the file would tell."""


def read_ncep_index(text: bytes, run: datetime) -> RunIndex:
    """A text index; raises BadIndex when it is damaged, cut short or of another run."""
    lines = _lines(text)
    starts: list[int] = []
    found: list[tuple[int, Record]] = []
    number = 0
    for line in lines:
        match = _NCEP_LINE.fullmatch(line)
        if match is None:
            raise BadIndex(f"a line of it is no index line: {line[:60]!r}")
        count, submessage, offset, date = int(match[1]), match[2], int(match[3]), match[4]
        if not (count == number + 1 or (submessage and count == number and offset == starts[-1])):
            raise BadIndex(f"its record {number + 1} is missing")
        if date != f"{run:%Y%m%d%H}":
            raise BadIndex(f"it is of the run {date}, not of {run:%Y%m%d%H}")
        if count != number:
            if starts and offset <= starts[-1]:
                raise BadIndex("its offsets do not ascend")
            starts.append(offset)
        number = count
        record = _ncep_record(offset, *match.groups()[4:])
        if record is not None:
            found.append((len(starts) - 1, record))
    if starts[0] != 0:
        raise BadIndex("its first record is missing")
    ends = [*starts[1:], 0]
    records = tuple(
        record._replace(length=ends[place] - record.offset if ends[place] else 0) for place, record in found
    )
    return RunIndex(records, starts[-1], 0)


def _ncep_record(offset: int, variable: str, level: str, forecast: str, rest: str) -> Record | None:
    """None for a field, a level or a time that we do not use."""
    pressure = _MILLIBARS.fullmatch(level)
    wanted = BY_NCEP.get((variable, "" if pressure else level))
    if wanted is None:
        return None
    instant, window = _INSTANT.fullmatch(forecast), _WINDOW.fullmatch(forecast)
    if forecast == "anl":
        start, end, statistic = 0, 0, "instant"
    elif instant:
        start = end = int(instant[1]) * _HOURS[instant[2]]
        statistic = "instant"
    elif window:
        hours = _HOURS[window[3]]
        start, end, statistic = int(window[1]) * hours, int(window[2]) * hours, _STATISTICS[window[4]]
    else:
        return None
    member = _MEMBER.search(rest)
    level_pa = round(float(pressure[1]) * 100.0, 6) if pressure else 0.0
    return Record(offset, 0, wanted.name, level_pa, start, end, statistic, int(member[1]) if member else 0)


def read_ecmwf_index(text: bytes, run: datetime) -> RunIndex:
    """Index lines; raises BadIndex when they are damaged, of another run, or do not tile a file without a gap."""
    spans: list[tuple[int, int]] = []
    records: list[Record] = []
    for line in _lines(text):
        try:
            entry = json.loads(line)
            offset, length = int(entry["_offset"]), int(entry["_length"])
            date = f"{entry['date']}{str(entry['time']).zfill(4)[:2]}"
            record = _ecmwf_record(offset, length, entry)
        except (ValueError, KeyError, TypeError, RecursionError):
            raise BadIndex(f"a line of it is no index line: {line[:60]!r}") from None
        if date != f"{run:%Y%m%d%H}":
            raise BadIndex(f"it is of the run {date[:10]}, not of {run:%Y%m%d%H}")
        if offset < 0 or length <= 0:
            raise BadIndex("an offset or a length in it is absurd")
        spans.append((offset, length))
        if record is not None:
            records.append(record)
    end = 0
    for offset, length in sorted(set(spans)):
        if offset != end:
            raise BadIndex(f"no line of it tells of octet {end}" if offset > end else "records of it overlap")
        end = offset + length
    last = max(offset for offset, _ in spans)
    return RunIndex(tuple(sorted(records)), last, end)


def _ecmwf_record(offset: int, length: int, entry: dict[str, Any]) -> Record | None:
    """None for a field or a level that we do not use."""
    kind = {"pl": PRESSURE, "sfc": NEAR_GROUND}.get(str(entry["levtype"]), "")
    wanted = BY_ECMWF.get((str(entry["param"]), kind))
    if wanted is None or entry["type"] not in ("fc", "cf", "pf"):
        return None
    level_pa = round(float(entry["levelist"]) * 100.0, 6) if kind == PRESSURE else 0.0
    member = int(entry["number"]) if entry["type"] == "pf" else 0
    start, _, end = str(entry["step"]).rpartition("-")
    # the step of a sum or of a maximum is often given by its end alone: where it began, its message will say
    statistic = "" if wanted.name in ("rain", "gust") else "instant"
    return Record(offset, length, wanted.name, level_pa, int(start or end), int(end), statistic, member)


def _lines(text: bytes) -> list[str]:
    if text[:200].lstrip()[:1] == b"<":
        raise BadIndex("an HTML page came in its place")
    if not text.endswith(b"\n"):
        raise BadIndex("it is empty" if not text else "its last line is cut short")
    try:
        lines = text.decode("ascii").splitlines()
    except UnicodeDecodeError:
        raise BadIndex("it is not text") from None
    lines = [line for line in lines if line.strip()]
    if not 0 < len(lines) <= _MOST_RECORDS:
        raise BadIndex(f"it has {len(lines)} lines")
    return lines
