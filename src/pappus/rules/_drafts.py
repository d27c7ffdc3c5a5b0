"""Texts for air traffic services, to be read out or sent by hand: what each paragraph asks for, item by item.

Items follow 14 CFR 101.37 and 101.39, and ICAO Annex 2 App. 5 (SERA App. 2) 5 and 6; which of them were seen and which
are from memory stands in each draft. What is not known stays as a blank.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from pappus.rules._coordinates import covering_circle
from pappus.rules._limits import pound_kg
from pappus.rules._notice import (
    BLANK,
    FlightNotice,
    TrackPoint,
    say_clock,
    say_level,
    say_number,
    say_place,
    say_point,
)

RuleSet = Literal["us", "icao"]
_Item = tuple[str, str]
_MHZ = 1e6
_ICAO = "ICAO Annex 2 App. 5 / SERA App. 2,"


@dataclass(frozen=True)
class Draft:
    """A text that nobody has sent."""

    title: str
    text: str
    blanks: tuple[str, ...]
    """Items with something to fill in by hand."""


def launch_notice(notice: FlightNotice, rule_set: RuleSet) -> Draft:
    """Notice before the launch: 14 CFR 101.37(a), or 5.1.2."""
    if rule_set == "us":
        items = _us_notice(notice)
        return _draft(
            "Notice of the launch",
            "14 CFR 101.37(a)",
            "heading seen in 2019 and 2024, items from memory",
            notice,
            items,
        )
    known = "items a to g restated by others, h to l from memory"
    return _draft("Notice of the flight", f"{_ICAO} 5.1.2", known, notice, _icao_notice(notice))


def launch_report(notice: FlightNotice, rule_set: RuleSet, released_utc: datetime | None) -> Draft:
    """Report at once after the launch: 14 CFR 101.37(d), or 5.2."""
    items = [*_who(notice), ("Site of the launch", _site(notice)), ("Time of the launch", say_clock(released_utc))]
    if rule_set == "icao":
        items += [
            ("Estimated time and place of passing 18 000 m (60 000 ft)", say_point(notice.climb_limit)),
            ("Changes to what was told", f"{BLANK} (or none)"),
        ]
    paragraph = "14 CFR 101.37(d)" if rule_set == "us" else f"{_ICAO} 5.2"
    return _draft("Report of the launch", paragraph, "from memory", notice, items)


def position_report(notice: FlightNotice, rule_set: RuleSet, position: TrackPoint | None) -> Draft:
    """Position on request: 14 CFR 101.39(a), or 6."""
    items = [*_who(notice), *_position(position), ("Forecast landing", say_point(notice.landing))]
    paragraph = "14 CFR 101.39(a)" if rule_set == "us" else f"{_ICAO} 6.1"
    return _draft("Report of the position", paragraph, "restated by others or from memory", notice, items)


def lost_position_report(notice: FlightNotice, rule_set: RuleSet, last: TrackPoint | None) -> Draft:
    """No position recorded for two hours, or at all: told at once. 14 CFR 101.39(c), or 6.3."""
    items = [
        *_who(notice),
        ("No position since", say_clock(last.time_utc if last else None)),
        *_position(last),
        ("Revised forecast trajectory", _trajectory(notice)),
        ("Forecast landing", say_point(notice.landing)),
        ("When tracking is re-established", "told again"),
    ]
    paragraph, known = ("14 CFR 101.39(c)", "text seen") if rule_set == "us" else (f"{_ICAO} 6.3", "from memory")
    return _draft("Report of a lost position", paragraph, known, notice, items)


def descent_report(notice: FlightNotice, rule_set: RuleSet, position: TrackPoint | None) -> Draft:
    """One hour before the descent begins, which a burst does, so it hangs on the prediction: 101.39(b), or 6.4."""
    due = None if notice.burst is None else notice.burst.time_utc - timedelta(hours=1)
    burst = say_point(notice.burst)
    items = [
        *_who(notice),
        ("Due by", f"{say_clock(due)} (one hour before the predicted burst; give it again when that moves)"),
        *_position(position),
        ("Begin of the descent, predicted", burst),
        ("Forecast time and place of passing 60 000 ft (18 000 m)", say_point(notice.descent_limit)),
        ("Forecast trajectory of the rest", _trajectory(notice, after=notice.burst)),
        ("Forecast time and place of impact", say_point(notice.landing)),
        ("Landing area", _area(notice)),
    ]
    paragraph, known = (
        ("14 CFR 101.39(b)", "heading seen, items from memory") if rule_set == "us" else (f"{_ICAO} 6.4", "from memory")
    )
    return _draft("Report of the descent", paragraph, known, notice, items)


def cancellation(notice: FlightNotice, rule_set: RuleSet) -> Draft:
    """The flight is called off: told at once. 14 CFR 101.37(c), or 5.3."""
    items = [
        *_who(notice),
        ("Site of the launch", _site(notice)),
        ("Launch that was told", say_clock(notice.release_utc)),
        ("Message", "this launch is cancelled"),
        ("NOTAM that was asked for", f"{BLANK} (or none): ask for its cancellation"),
    ]
    paragraph = "14 CFR 101.37(c)" if rule_set == "us" else f"{_ICAO} 5.3"
    return _draft("Cancellation of the launch", paragraph, "from memory", notice, items)


def end_report(notice: FlightNotice, rule_set: RuleSet, landed: TrackPoint | None) -> Draft:
    """The operation has ended: 14 CFR 101.39(d), or 6.5."""
    items = [
        *_who(notice),
        ("End of the operation", say_clock(landed.time_utc if landed else None)),
        ("Place of the landing", say_place(landed.latitude_deg, landed.longitude_deg) if landed else BLANK),
        ("Message", "the operation has ended"),
    ]
    paragraph, known = ("14 CFR 101.39(d)", "text seen") if rule_set == "us" else (f"{_ICAO} 6.5", "from memory")
    return _draft("End of the operation", paragraph, known, notice, items)


def _us_notice(notice: FlightNotice) -> list[_Item]:
    span = "" if notice.release_end_utc is None else f", latest {say_clock(notice.release_end_utc)}"
    return [
        ("1 Balloon identification", notice.identification or BLANK),
        (
            "2 Estimated date and time of launch",
            f"{say_clock(notice.release_utc)}{span} (amended to stay within 30 min)",
        ),
        ("3 Site of the launch", _site(notice)),
        ("4 Cruising altitude", say_level(notice.top_pressure_altitude_m, notice.top_height_msl_m)),
        ("5 Forecast trajectory", _trajectory(notice)),
        ("5 Estimated time to cruising altitude or 60 000 ft, whichever is lower", say_point(notice.climb_limit)),
        ("6 Length of the balloon", say_number(notice.envelope_length_m, "m")),
        ("6 Diameter of the balloon", say_number(notice.envelope_diameter_m, "m")),
        ("6 Length of the suspension", say_number(notice.suspension_length_m, "m")),
        ("6 Weight of the payload", _pounds(notice.payload_mass_kg)),
        ("6 Length of the trailing antenna", say_number(notice.antenna_length_m, "m")),
        ("7 Duration of the flight", _duration(notice)),
        ("8 Forecast time and place of impact", say_point(notice.landing)),
        ("8 Landing area", _area(notice)),
        ("Operator", _operator(notice)),
    ]


def _icao_notice(notice: FlightNotice) -> list[_Item]:
    end = "" if notice.release_end_utc is None else f" to {say_clock(notice.release_end_utc)}"
    interval = (
        ""
        if notice.balloons == 1
        else f", every {say_number(notice.interval_s and notice.interval_s / 60.0, 'min', 0)}"
    )
    beacon = None if notice.beacon_frequency_hz is None else notice.beacon_frequency_hz / _MHZ
    drift = "drifts towards " + say_number(notice.drift_toward_deg, "degrees true", 0)
    codes = (
        f"code {notice.transponder_code or BLANK}, address {notice.aircraft_address or BLANK}, "
        f"beacon {say_number(beacon, 'MHz', 3)}"
    )
    return [
        ("a Identification or project code", notice.identification or BLANK),
        ("b Classification", notice.balloon_class or BLANK),
        ("b Description", _description(notice)),
        ("c Transponder code, aircraft address, beacon frequency (or none)", codes),
        ("d Operator and telephone", _operator(notice)),
        ("e Site of the launch", _site(notice)),
        ("f Estimated time of launch", f"{say_clock(notice.release_utc)}{end}"),
        ("g Number of balloons", f"{notice.balloons}{interval}"),
        ("h Expected direction of ascent", f"{drift}, rising at {say_number(notice.ascent_rate_m_s, 'm/s')}"),
        ("i Cruising level", say_level(notice.top_pressure_altitude_m, notice.top_height_msl_m)),
        (
            "j Time and place of passing 18 000 m (60 000 ft) or the cruising level if lower",
            say_point(notice.climb_limit),
        ),
        ("j Elapsed time to it", _elapsed(notice)),
        ("k Time of the end of the flight", say_clock(notice.landing.time_utc if notice.landing else None)),
        ("l Planned place of impact", say_point(notice.landing)),
        ("l Area of impact and recovery", _area(notice)),
    ]


def _draft(title: str, paragraph: str, known: str, notice: FlightNotice, items: list[_Item]) -> Draft:
    lines = [
        f"{title.upper()} - DRAFT, NOT FILED: nobody has been told.",
        "Planning aid, not legal advice: local rules and the unit itself decide what has to be said.",
        f"{paragraph} (text {known}; confirm it).",
        f"To: {notice.ats_unit or BLANK}",
        "",
        *(f"{name}: {value}" for name, value in items),
        "",
        f"Told by {BLANK} on {BLANK} UTC, taken by {BLANK}, reference {BLANK}",
    ]
    return Draft(title, "\n".join(lines) + "\n", tuple(name for name, value in items if BLANK in value))


def _who(notice: FlightNotice) -> list[_Item]:
    return [("Balloon identification", notice.identification or BLANK), ("Operator", _operator(notice))]


def _operator(notice: FlightNotice) -> str:
    if notice.operator is None:
        return f"{BLANK}, telephone {BLANK}"
    return f"{notice.operator.name or BLANK}, telephone {notice.operator.phone or BLANK}"


def _site(notice: FlightNotice) -> str:
    place = say_place(notice.site_latitude_deg, notice.site_longitude_deg)
    return f"{notice.site_name or BLANK}, {place}"


def _description(notice: FlightNotice) -> str:
    return (
        f"{notice.description or BLANK}, {say_number(notice.envelope_diameter_m, 'm')} across at launch, "
        f"train of {say_number(notice.suspension_length_m, 'm')}, load of {say_number(notice.payload_mass_kg, 'kg', 2)}"
    )


def _pounds(mass_kg: float | None) -> str:
    return f"{BLANK} kg" if mass_kg is None else f"{mass_kg:.2f} kg ({mass_kg / pound_kg:.2f} lb)"


def _position(position: TrackPoint | None) -> list[_Item]:
    if position is None:
        return [("Position", say_point(None)), ("Level", say_level(None, None))]
    return [
        ("Position", say_point(position)),
        ("Level", say_level(position.pressure_altitude_m, position.height_msl_m)),
    ]


def _trajectory(notice: FlightNotice, after: TrackPoint | None = None) -> str:
    start = None if after is None else after.time_utc
    points = [point for point in notice.trajectory if start is None or point.time_utc >= start]
    return "; ".join(say_point(point) for point in points) if points else BLANK


def _area(notice: FlightNotice) -> str:
    if not notice.landing_area_deg:
        return BLANK
    level = BLANK if notice.landing_area_level is None else f"{notice.landing_area_level:.0%}"
    circle = covering_circle(notice.landing_area_deg)
    centre = say_place(circle.latitude_deg, circle.longitude_deg)
    return f"{level} of predicted landings inside {circle.radius_nm} NM of {centre}"


def _elapsed(notice: FlightNotice) -> str:
    if notice.release_utc is None or notice.climb_limit is None:
        return f"{BLANK} min"
    return f"{(notice.climb_limit.time_utc - notice.release_utc).total_seconds() / 60.0:.0f} min"


def _duration(notice: FlightNotice) -> str:
    if notice.release_utc is None or notice.landing is None:
        return f"{BLANK} h"
    return f"{(notice.landing.time_utc - notice.release_utc).total_seconds() / 3600.0:.1f} h"
