"""An invented flight for the tests of drafts: the places are real geography, everything else is made up."""

from __future__ import annotations

from datetime import UTC, datetime

from pappus.rules import FlightNotice, Operator, TrackPoint


def at(hour: int, minute: int) -> datetime:
    return datetime(2026, 6, 14, hour, minute, tzinfo=UTC)


LANDING = TrackPoint(at(11, 25), 45.416667, 7.566667, 350.0, 350.0)
BURST = TrackPoint(at(10, 52), 45.46, 7.5, 33_000.0, 32_600.0)
FULL = FlightNotice(
    identification="INVENTED 7",
    ats_unit="Invented Information",
    operator=Operator("Invented Crew", "+00 000 0000"),
    site_name="Østervang field",
    site_latitude_deg=45.505556,
    site_longitude_deg=7.261111,
    release_utc=at(9, 0),
    release_end_utc=at(9, 30),
    balloon_class="light",
    description="white latex",
    envelope_length_m=2.6,
    envelope_diameter_m=2.1,
    suspension_length_m=14.0,
    payload_mass_kg=2.4,
    antenna_length_m=0.0,
    transponder_code="none",
    aircraft_address="none",
    beacon_frequency_hz=868.3e6,
    ascent_rate_m_s=5.2,
    drift_toward_deg=112.0,
    top_height_msl_m=32_940.0,
    top_pressure_altitude_m=32_600.0,
    climb_limit=TrackPoint(at(9, 58), 45.48, 7.4, 18_400.0, 18_288.0),
    burst=BURST,
    descent_limit=TrackPoint(at(10, 57), 45.45, 7.52, 18_400.0, 18_288.0),
    trajectory=(TrackPoint(at(9, 30), 45.5, 7.3, 9000.0, 8900.0), BURST, LANDING),
    landing=LANDING,
    landing_area_deg=((45.40, 7.54), (45.44, 7.56), (45.43, 7.60), (45.39, 7.58)),
    landing_area_level=0.9,
)
