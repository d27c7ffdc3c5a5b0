"""APRS reports to fixes, from AX.25 frames and from lines in monitor form (``SOURCE>DESTINATION,PATH:information``).

Source: APRS Protocol Reference 1.0.1, chapters 5, 6, 8, 11 and 17. Reports without a position (messages, telemetry,
status, weather alone) are not understood here.
"""

from __future__ import annotations

import re
from datetime import datetime

from pappus.sources.receivers._aprs_place import Place, read_place
from pappus.sources.receivers._ax25 import read_ui_frame, without_check_sequence
from pappus.sources.receivers._dating import day_of_month, time_of_day
from pappus.sources.receivers._kiss import MARK, unwrap
from pappus.sources.receivers._mic_e import read_mic_e
from pappus.sources.receivers._nmea import parse_nmea
from pappus.sources.receivers._refused import NotUnderstood, Refused, degrees_as_sent
from pappus.tracking import Fix, TimeQuality

LONGEST_LINE = 512
"""Bytes of one line in monitor form."""
_STATION = r"[A-Za-z0-9]{1,9}(?:-[A-Za-z0-9]{1,2})?"
_HEADER = re.compile(rf"({_STATION})>({_STATION})((?:,{_STATION}\*?)*):", re.ASCII)
_TIME = re.compile(r"(\d\d)(\d\d)(\d\d)([zh/])", re.ASCII)
_OBJECT = re.compile(r";([ -~]{9})([*_])")
_THIRD_PARTY = "}"
_MIC_E_MARKS = ("`", "'", "\x1c", "\x1d")


def parse_ax25(raw: bytes, heard_utc: datetime) -> tuple[Fix, ...] | NotUnderstood:
    """A KISS frame between its marks, or a bare AX.25 frame that ends with its check sequence."""
    try:
        bare = raw[:1] != bytes((MARK,))
        frame = read_ui_frame(without_check_sequence(raw) if bare else unwrap(raw))
        path = ",".join(f"{station}{'*' if station.marked else ''}" for station in frame.digipeaters)
        information = frame.info.decode("latin-1").rstrip("\r\n")
        return (_report(str(frame.source), frame.destination.call, path, information, heard_utc, bare),)
    except Refused as error:
        return NotUnderstood(str(error))


def parse_aprs_text(raw: bytes, heard_utc: datetime) -> tuple[Fix, ...] | NotUnderstood:
    """One line in monitor form. Lines that begin with ``#`` are the server talking."""
    try:
        line = raw.decode("latin-1").strip("\r\n")
        if line.startswith("#"):
            return NotUnderstood("a comment of the server")
        return (_line(line, heard_utc, inside=False),)
    except Refused as error:
        return NotUnderstood(str(error))


def _line(line: str, heard_utc: datetime, *, inside: bool) -> Fix:
    if len(line) > LONGEST_LINE:
        raise Refused(f"a line of more than {LONGEST_LINE} bytes")
    match = _HEADER.match(line)
    if match is None:
        raise Refused("not a line in monitor form")
    information = line[match.end() :]
    if information.startswith(_THIRD_PARTY):
        # a station passes on what it heard elsewhere; once is enough
        if inside:
            raise Refused("a report passed on inside one that is passed on")
        return _line(information[1:], heard_utc, inside=True)
    destination = match[2].partition("-")[0]
    return _report(match[1], destination, match[3].lstrip(","), information, heard_utc, False)


def _report(source: str, destination: str, path: str, information: str, heard_utc: datetime, checked: bool) -> Fix:
    tracker, text = source, information
    time_utc: datetime | None = None
    quality: TimeQuality = "none"
    kind = text[:1]
    if kind == _THIRD_PARTY:
        return _line(text[1:], heard_utc, inside=True)
    if kind == "$":
        fixes = parse_nmea(text.encode("latin-1"), heard_utc, source)
        if isinstance(fixes, NotUnderstood):
            raise Refused(fixes.why)
        return fixes[0]
    if kind in _MIC_E_MARKS and kind:
        place = read_mic_e(destination, text)
    else:
        if kind == ";":
            named = _OBJECT.match(text)
            if named is None:
                raise Refused("not an object report")
            if named[2] == "_":
                raise Refused("an object that its station has taken back")
            tracker, text = named[1].strip() or source, "/" + text[named.end() :]
        elif kind not in ("!", "=", "/", "@"):
            raise Refused("a report without a position")
        text = text[1:] if kind in ("!", "=") else text
        if kind not in ("!", "="):
            time_utc, quality = _time(text[1:8], heard_utc)
            text = text[8:]
        place = read_place(text)
    if path:
        place.extra["path"] = path
    return _fix(place, tracker, time_utc, quality, checked)


def _time(text: str, heard_utc: datetime) -> tuple[datetime | None, TimeQuality]:
    match = _TIME.fullmatch(text)
    if match is None:
        raise Refused("not a time of an APRS report")
    first, second, third = int(match[1]), int(match[2]), int(match[3])
    if match[4] == "h":
        return time_of_day(first, second, float(third), heard_utc), "time of day"
    utc = day_of_month(first, second, third, heard_utc)
    # "/" is the sender's own zone, which the packet does not tell
    return (utc, "minutes") if match[4] == "z" else (None, "none")


def _fix(place: Place, tracker: str, time_utc: datetime | None, quality: TimeQuality, checked: bool) -> Fix:
    sent = degrees_as_sent(place.latitude_deg, place.longitude_deg)
    extra = place.extra | {"symbol": place.symbol}
    if sent is None:
        extra["no_fix"] = "the position is 0, 0"
    return Fix(
        tracker=tracker,
        time_utc=time_utc,
        time_quality=quality,
        latitude_deg=sent[0] if sent else None,
        longitude_deg=sent[1] if sent else None,
        height_msl_m=place.height_msl_m if sent else None,
        height_ellipsoid_m=None,
        speed_m_s=place.speed_m_s if sent else None,
        course_deg=place.course_deg if sent else None,
        fix_quality="not told" if sent else "none",
        position_step_m=place.step_m,
        extra=extra,
        checked=checked,
    )
