"""NMEA 0183 to fixes: the sentences of one epoch (GGA, RMC, GNS, GLL, GSA, VTG, ZDA) make one fix."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from pappus.sources.receivers._dating import full_time, time_of_day
from pappus.sources.receivers._nmea_sentence import Sentence, angle, clock, count, number, read_sentence
from pappus.sources.receivers._refused import NotUnderstood, Refused, degrees_as_sent
from pappus.tracking import Fix, FixQuality
from pappus.units import knot_m_s

MOST_LINES = 64
_CLOCK_FIELD = {"GGA": 0, "RMC": 0, "GNS": 0, "ZDA": 0, "GLL": 4}
_MEASURED_QUALITY = frozenset("123459")
"""GGA quality: GNSS, differential, precise, fixed and float carrier phase, and 9 (some receivers' satellite-based
corrections). 6 is dead reckoning, 7 typed in, 8 a simulator: none of them is a measured place."""
_MEASURED_MODE = frozenset("ADPRF")
_SAME_PLACE_DEG = 5e-4
"""Sentences of one epoch tell one place; further apart than their rounding, one of them is damaged."""
_FIX_OF_GSA: dict[str, FixQuality] = {"1": "none", "2": "two-dimensional", "3": "three-dimensional"}


@dataclass
class _Epoch:
    """What the sentences of one time said so far."""

    clock: tuple[int, int, float] | None = None
    date: tuple[int, int, int] | None = None
    place: tuple[float, float] | None = None
    step_m: float | None = None
    height_msl_m: float | None = None
    separation_m: float | None = None
    speed_m_s: float | None = None
    course_deg: float | None = None
    satellites: int | None = None
    without: str = ""
    """Why there is no fix, in the words of the sentence; empty while there is one."""
    dimension: FixQuality = "not told"
    extra: dict[str, str | float] = field(default_factory=dict)


def clock_field(line: bytes) -> bytes:
    """The time in a sentence, unread; empty where it has none. Tells one epoch from the next without parsing."""
    parts = line.split(b",", 6)
    index = _CLOCK_FIELD.get(parts[0][3:6].decode("latin-1")) if len(parts[0]) == 6 else None
    return parts[index + 1] if index is not None and index + 1 < len(parts) else b""


def parse_nmea(raw: bytes, heard_utc: datetime, tracker: str = "") -> tuple[Fix, ...] | NotUnderstood:
    """Fixes of one or more lines, one for each epoch; a line that fails its checksum is left out and counted.

    An epoch in which any sentence says that there is no fix has no position; it is never 0, 0.
    """
    epochs: list[_Epoch] = []
    refused: list[str] = []
    known = 0
    for line in [line for line in raw.splitlines() if line.strip()][:MOST_LINES]:
        try:
            sentence = read_sentence(line)
            reader = _READERS.get(sentence.name)
            if reader is None:
                continue
            index = _CLOCK_FIELD.get(sentence.name)
            now = clock(sentence.field(index)) if index is not None else None
            if not epochs or (now is not None and epochs[-1].clock is not None and now != epochs[-1].clock):
                epochs.append(_Epoch())
            reader(sentence, epochs[-1])
            epochs[-1].clock = now or epochs[-1].clock
            known += 1
        except Refused as error:
            refused.append(str(error))
    if not known:
        return NotUnderstood(refused[0] if refused else "no sentence that tells a position")
    try:
        fixes = tuple(_fix(epoch, heard_utc, tracker, len(refused)) for epoch in epochs if _says_something(epoch))
    except Refused as error:
        return NotUnderstood(str(error))
    return fixes or NotUnderstood("no sentence that tells a position or that there is none")


def _says_something(epoch: _Epoch) -> bool:
    return epoch.place is not None or bool(epoch.without) or epoch.dimension == "none"


def _fix(epoch: _Epoch, heard_utc: datetime, tracker: str, refused: int) -> Fix:
    time_utc = None
    if epoch.clock is not None:
        time_utc = (
            full_time(*epoch.date, *epoch.clock) if epoch.date is not None else time_of_day(*epoch.clock, heard_utc)
        )
    extra = dict(epoch.extra)
    if refused:
        extra["lines_refused"] = float(refused)
    without = epoch.without or ("no fix" if epoch.dimension == "none" else "")
    if without:
        extra["no_fix"] = without
    measured = epoch.place is not None and not without
    height_msl_m = epoch.height_msl_m if measured else None
    if height_msl_m is not None and epoch.dimension == "two-dimensional":
        # with three satellites a receiver holds its last height: it is not a measurement
        extra["height_held_msl_m"], height_msl_m = height_msl_m, None
    height_ellipsoid_m = None
    if height_msl_m is not None and epoch.separation_m is not None:
        height_ellipsoid_m = height_msl_m + epoch.separation_m
    return Fix(
        tracker=tracker,
        time_utc=time_utc,
        time_quality="none" if time_utc is None else "full" if epoch.date is not None else "time of day",
        latitude_deg=epoch.place[0] if measured and epoch.place else None,
        longitude_deg=epoch.place[1] if measured and epoch.place else None,
        height_msl_m=height_msl_m,
        height_ellipsoid_m=height_ellipsoid_m,
        speed_m_s=epoch.speed_m_s if measured else None,
        course_deg=epoch.course_deg if measured else None,
        satellites=epoch.satellites,
        fix_quality=epoch.dimension if measured else "none",
        position_step_m=epoch.step_m if measured else None,
        extra=extra,
        checked=True,
    )


def _place(epoch: _Epoch, sentence: Sentence, first: int) -> None:
    latitude = angle(sentence.field(first), sentence.field(first + 1), "NS")
    longitude = angle(sentence.field(first + 2), sentence.field(first + 3), "EW")
    if latitude is None or longitude is None:
        epoch.without = epoch.without or "the position is empty"
        return
    place = degrees_as_sent(latitude[0], longitude[0])
    if place is None:
        epoch.without = epoch.without or "the position is 0, 0"
        return
    if epoch.place is None:
        epoch.place, epoch.step_m = place, latitude[1]
        return
    if max(abs(place[0] - epoch.place[0]), abs(place[1] - epoch.place[1])) > _SAME_PLACE_DEG:
        epoch.without = "its sentences tell two places"
        raise Refused("two sentences of one epoch tell two places")
    if epoch.step_m is not None and (latitude[1] is None or latitude[1] < epoch.step_m):
        epoch.place, epoch.step_m = place, latitude[1]


def _gga(sentence: Sentence, epoch: _Epoch) -> None:
    quality = sentence.field(5)
    if quality not in _MEASURED_QUALITY:
        words = {"6": "dead reckoning", "7": "typed in", "8": "simulated"}
        epoch.without = words.get(quality, "no fix")
    satellites, hdop = count(sentence.field(6)), number(sentence.field(7))
    height_m, separation_m = number(sentence.field(8)), number(sentence.field(10))
    if (height_m is not None and sentence.field(9) != "M") or (separation_m is not None and sentence.field(11) != "M"):
        raise Refused("a height of GGA is not in metres")
    _place(epoch, sentence, 1)
    _keep(epoch, satellites, hdop, height_m, separation_m)


def _gns(sentence: Sentence, epoch: _Epoch) -> None:
    if not _MEASURED_MODE & set(sentence.field(5)):
        epoch.without = "no fix"
    satellites, hdop = count(sentence.field(6)), number(sentence.field(7))
    height_m, separation_m = number(sentence.field(8)), number(sentence.field(9))
    _place(epoch, sentence, 1)
    _keep(epoch, satellites, hdop, height_m, separation_m)


def _keep(
    epoch: _Epoch, satellites: int | None, hdop: float | None, height_m: float | None, separation_m: float | None
) -> None:
    epoch.satellites = satellites if satellites is not None else epoch.satellites
    epoch.height_msl_m = height_m if height_m is not None else epoch.height_msl_m
    epoch.separation_m = separation_m if separation_m is not None else epoch.separation_m
    if hdop is not None:
        epoch.extra["hdop"] = hdop


def _rmc(sentence: Sentence, epoch: _Epoch) -> None:
    speed_kt, course_deg = _speed(sentence.field(6)), _course(sentence.field(7))
    variation_deg, side = number(sentence.field(9)), sentence.field(10)
    if variation_deg is not None and side in ("E", "W"):
        epoch.extra["magnetic_variation_deg"] = variation_deg if side == "E" else -variation_deg
    date = sentence.field(8)
    if date:
        if not (date.isascii() and date.isdigit() and len(date) == 6):
            raise Refused(f"{date!r} is not a date ddmmyy")
        year = int(date[4:])
        whole = (year + (1900 if year >= 80 else 2000), int(date[2:4]), int(date[:2]))
        full_time(*whole, 0, 0, 0.0)
        epoch.date = whole
    if sentence.field(1) != "A" or not _mode_measured(sentence.field(11)):
        epoch.without = "the receiver warns of its position" if sentence.field(1) != "A" else "not measured"
    _place(epoch, sentence, 2)
    epoch.speed_m_s = speed_kt * knot_m_s if speed_kt is not None else epoch.speed_m_s
    epoch.course_deg = course_deg if course_deg is not None else epoch.course_deg


def _gll(sentence: Sentence, epoch: _Epoch) -> None:
    if sentence.field(5) != "A" or not _mode_measured(sentence.field(6)):
        epoch.without = "no fix"
    _place(epoch, sentence, 0)


def _gsa(sentence: Sentence, epoch: _Epoch) -> None:
    # one sentence for each constellation, all with the same dimension
    epoch.dimension = _FIX_OF_GSA.get(sentence.field(1), epoch.dimension)


def _vtg(sentence: Sentence, epoch: _Epoch) -> None:
    if not _mode_measured(sentence.field(8)):
        return
    course_deg, speed_kt = _course(sentence.field(0)), _speed(sentence.field(4))
    epoch.course_deg = course_deg if course_deg is not None else epoch.course_deg
    epoch.speed_m_s = speed_kt * knot_m_s if speed_kt is not None else epoch.speed_m_s


def _zda(sentence: Sentence, epoch: _Epoch) -> None:
    parts = [sentence.field(index) for index in (3, 2, 1)]
    if all(part.isascii() and part.isdigit() and len(part) <= 4 for part in parts):
        whole = (int(parts[0]), int(parts[1]), int(parts[2]))
        full_time(*whole, 0, 0, 0.0)
        epoch.date = whole


def _speed(text: str) -> float | None:
    speed_kt = number(text)
    if speed_kt is not None and speed_kt < 0.0:
        raise Refused(f"a speed of {text} is below zero")
    return speed_kt


def _course(text: str) -> float | None:
    course_deg = number(text)
    if course_deg is not None and not 0.0 <= course_deg <= 360.0:
        raise Refused(f"a course of {text} is no direction")
    return course_deg


def _mode_measured(mode: str) -> bool:
    """The mode letter at the end of newer sentences; older receivers leave it out."""
    return not mode or mode in _MEASURED_MODE


_READERS = {"GGA": _gga, "RMC": _rmc, "GNS": _gns, "GLL": _gll, "GSA": _gsa, "VTG": _vtg, "ZDA": _zda}
