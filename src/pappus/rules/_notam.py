"""The text of a request for a NOTAM. Only the office that issues NOTAM issues one."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import ceil

from pappus.errors import BadInput, Finding
from pappus.rules._coordinates import WHOLE_REGION_NM, CoveringCircle, Place, covering_circle, seconds_text
from pappus.rules._notice import BLANK, FlightNotice
from pappus.units import foot_m

_Filled = Callable[[str | None, str], str]
LINE = 69
"""Characters of a line in the fixed network."""
_HIGHEST_LEVEL = 999
_POINTS = ["N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"]
# letters that do not come apart into one of the alphabet and a mark (as in ICAO Doc 9303, part 3)
_LETTERS = str.maketrans({"Ä": "AE", "Ö": "OE", "Ü": "UE", "Ø": "OE", "Å": "AA", "Æ": "AE", "Œ": "OE", "Ł": "L",
                          "Đ": "D", "Ð": "D", "Þ": "TH", "–": "-", "—": "-", "’": "'"})  # fmt: skip


@dataclass(frozen=True)
class NotamRequest:
    """A request, not a NOTAM."""

    text: str
    circle: CoveringCircle | None
    """Covers the site, the trajectory and the landing area; None where one of site and area is not known."""
    blanks: tuple[str, ...]
    """What is to be filled in by hand."""
    notes: tuple[str, ...]


def notam_request(
    notice: FlightNotice, *, region: str | None, end_utc: datetime | None = None, request_to: str | None = None
) -> NotamRequest:
    """Draft of a request for a NOTAM about the flight.

    :param region: four-letter indicator of the flight information region; None leaves a blank.
    :param end_utc: latest end of the flight; None: the predicted landing, later by as much as the release may be.
    :param request_to: the office that it is sent to.
    :raises BadInput: for an indicator that is not four letters, and an end that is not after the release.

    Structure: ICAO Annex 15, PANS-AIM and Doc 8126. Subject WL (ascent of free balloon) was seen in many lists;
    condition LW, purpose M and the words of item E are from memory: the office sets them.
    """
    if region is not None and not (len(region) == 4 and region.isascii() and region.isalpha()):
        fix = "Give the four letters of the flight information region, or leave them out."
        raise BadInput(Finding("region", region[:20], "not four letters", fix))
    blanks: list[str] = []

    def filled(text: str | None, what: str) -> str:
        if text:
            return text
        blanks.append(what)
        return BLANK

    circle = _circle(notice)
    end = end_utc or _end(notice)
    if end is not None and notice.release_utc is not None and end <= notice.release_utc:
        raise BadInput(
            Finding("end_utc", end.isoformat(), "not after the release", "Give the latest end of the flight.")
        )
    indicator = filled(region.upper() if region else None, "flight information region")
    upper = _upper_level(notice)
    area = filled(circle.text if circle else None, "centre and radius: site and landing area")
    start = filled(_ten_digits(notice.release_utc, up=False), "start: time of release")
    stop = filled(_ten_digits(end, up=True), "end: time of landing")
    body, lost = plain_capitals(_item_e(notice, filled))
    request = [
        f"({BLANK}/{BLANK} NOTAMN",
        f"Q) {indicator}/QWLLW/IV/M/W/000/{upper:03d}/{area}",
        f"A) {indicator} B) {start} C) {stop}",
        *textwrap.wrap(f"E) {body}", LINE, break_on_hyphens=False),
        f"F) SFC G) {'UNL' if upper == _HIGHEST_LEVEL else f'FL{upper:03d}'})",
    ]
    notes = [
        "The series and the number are given by the office that issues it.",
        "WL was seen in lists; LW, traffic IV, purpose M and scope W are from memory: the office decides.",
    ]
    if circle is not None and circle.radius_nm >= WHOLE_REGION_NM:
        notes.append("The area is too large for a radius: 999 stands for the whole region.")
    if lost:
        notes.append(f"Letters that the network does not carry became a question mark: {' '.join(lost)}")
    head = [
        "DRAFT OF A REQUEST FOR A NOTAM. DRAFT, NOT FILED: nobody has been told, and no NOTAM exists.",
        "Planning aid, not legal advice. The office that issues NOTAM decides about every item.",
        f"To: {request_to or BLANK}",
        "",
    ]
    text = "\n".join([*head, *request, "", *(f"Note: {note}" for note in notes), *_to_fill(blanks)]) + "\n"
    return NotamRequest(text, circle, tuple(blanks), tuple(notes))


def plain_capitals(text: str) -> tuple[str, tuple[str, ...]]:
    """Upper case ASCII, and the letters that have none and became a question mark."""
    apart = unicodedata.normalize("NFKD", unicodedata.normalize("NFC", text.upper()).translate(_LETTERS))
    letters = "".join(letter for letter in apart if not unicodedata.combining(letter)).upper()
    lost = tuple(dict.fromkeys(letter for letter in letters if not letter.isascii()))
    plain = "".join(
        letter if letter.isascii() and letter.isprintable() else "?" if letter in lost else " " for letter in letters
    )
    return " ".join(plain.split()), lost


def _item_e(notice: FlightNotice, filled: _Filled) -> str:
    site = _place(notice.site_latitude_deg, notice.site_longitude_deg)
    name = f" ({notice.site_name})" if notice.site_name else ""
    toward = None if notice.drift_toward_deg is None else _POINTS[round(notice.drift_toward_deg / 22.5) % 16]
    rate = None if notice.ascent_rate_m_s is None else f"{notice.ascent_rate_m_s:.0f}"
    # upwards, so that the text does not promise less than is flown
    top = None if notice.top_height_msl_m is None else f"{ceil(notice.top_height_msl_m / 100.0) * 100}"
    landing = None if notice.landing is None else _place(notice.landing.latitude_deg, notice.landing.longitude_deg)
    diameter = None if notice.envelope_diameter_m is None else f"{notice.envelope_diameter_m:.1f}"
    mass = None if notice.payload_mass_kg is None else f"{notice.payload_mass_kg:.1f}"
    several = "" if notice.balloons == 1 else f"{notice.balloons} "
    operator = notice.operator
    return (
        f"ASCENT OF {several}UNMANNED FREE BALLOON{'S' if several else ''} WILL TAKE PLACE. "
        f"LAUNCH PSN {filled(site, 'place of the launch')}{name}. "
        f"DRIFT {filled(toward, 'direction of drift')}, RATE OF ASCENT {filled(rate, 'rate of ascent')}M/S, "
        f"MAX ALT {filled(top, 'greatest height')}M, "
        f"DESCENT BY PARACHUTE ARND {filled(landing, 'place of the landing')}. "
        f"ENVELOPE {filled(notice.description, 'kind and colour of the envelope')} "
        f"{filled(diameter, 'diameter of the envelope')}M DIA, "
        f"PAYLOAD {filled(notice.balloon_class, 'class of the balloon')} CLASS {filled(mass, 'mass')}KG. "
        f"OPR {filled(operator.name if operator else None, 'operator')} "
        f"TEL {filled(operator.phone if operator else None, 'telephone of the operator')}"
    )


def _circle(notice: FlightNotice) -> CoveringCircle | None:
    if notice.site_latitude_deg is None or notice.site_longitude_deg is None or not notice.landing_area_deg:
        return None
    tracks = [point for point in (*notice.trajectory, notice.burst, notice.landing) if point is not None]
    places: list[Place] = [(notice.site_latitude_deg, notice.site_longitude_deg), *notice.landing_area_deg]
    return covering_circle([*places, *((point.latitude_deg, point.longitude_deg) for point in tracks)])


def _end(notice: FlightNotice) -> datetime | None:
    if notice.landing is None:
        return None
    slip = timedelta(0)
    if notice.release_utc is not None and notice.release_end_utc is not None:
        slip = notice.release_end_utc - notice.release_utc
    return notice.landing.time_utc + slip


def _ten_digits(time: datetime | None, *, up: bool) -> str | None:
    """``YYMMDDhhmm``, outwards to the minute; a day ends at 2359, never at 2400 or at 0000."""
    if time is None:
        return None
    utc = time.astimezone(UTC)
    minute = utc.replace(second=0, microsecond=0)
    if up and minute < utc:
        minute += timedelta(minutes=1)
    if up and (minute.hour, minute.minute) == (0, 0):
        minute -= timedelta(minutes=1)
    return f"{minute:%y%m%d%H%M}"


def _upper_level(notice: FlightNotice) -> int:
    """Hundreds of feet, rounded up; unlimited where the top is not known or above what three digits write."""
    if notice.top_pressure_altitude_m is None:
        return _HIGHEST_LEVEL
    return min(_HIGHEST_LEVEL, ceil(notice.top_pressure_altitude_m / (100.0 * foot_m) - 1e-9))


def _place(latitude_deg: float | None, longitude_deg: float | None) -> str | None:
    return None if latitude_deg is None or longitude_deg is None else seconds_text(latitude_deg, longitude_deg)


def _to_fill(blanks: list[str]) -> list[str]:
    return [f"To fill in: {', '.join(blanks)}"] if blanks else []
