"""Which winds the flight flies on, and whether they hold it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

import numpy as np

from pappus.earth import distance_m
from pappus.errors import Finding, OutsideCoverage
from pappus.plan import Limits, Site
from pappus.preflight.winds._gather import Winds
from pappus.wind import WindField

ADVECTION_M_S = 15.0
"""Weighs the age of a sounding against its distance when the nearest of several is chosen."""
STAMP = "%Y-%m-%d %H:%MZ"


def choose_winds(
    winds: Sequence[Winds], site: Site, release: datetime, top_of: Callable[[Winds], float], limits: Limits
) -> tuple[tuple[Winds, ...], tuple[str, ...]]:
    """What the flight flies on, newest first, and a line for each source that is left.

    Every model run that holds the flight is flown, as one ensemble; without a forecast the one sounding that stands
    nearest in place and time. ``top_of`` gives the height of the nominal top in a source. Raises OutsideCoverage, with
    a finding for each source, when none holds the flight.
    """
    refused: dict[int, list[Finding]] = {}
    for index, source in enumerate(winds):
        findings = _outside(source.field, site, release, limits)
        refused[index] = findings or _too_low(source.field, top_of(source), limits)
    usable = [source for index, source in enumerate(winds) if not refused[index]]
    if not usable:
        raise OutsideCoverage(*(finding for findings in refused.values() for finding in findings))
    forecasts = [source for source in usable if source.field.kind == "forecast"]
    nearest = min(usable, key=lambda source: _reach_m(source.field, site, release))
    flown = sorted(forecasts, key=lambda source: source.field.issued, reverse=True) or [nearest]
    left = tuple(
        f"{source.field.name}: {_why_left(refused[index], bool(forecasts))}"
        for index, source in enumerate(winds)
        if not any(source is one for one in flown)
    )
    return tuple(flown), left


def _why_left(findings: Sequence[Finding], forecasts: bool) -> str:
    if findings:
        return "; ".join(finding.reason for finding in findings)
    return "a forecast is at hand" if forecasts else "farther away in place or time"


def _reach_m(field: WindField, site: Site, release: datetime) -> float:
    return float(np.hypot(_away_m(field, site), ADVECTION_M_S * (release - field.issued).total_seconds()))


def _away_m(field: WindField, site: Site) -> float:
    """Distance of the site from the station of a column; zero for a field."""
    centre = field.coverage.centre_deg
    return 0.0 if centre is None else float(distance_m(*centre, site.latitude_deg, site.longitude_deg))


def _outside(field: WindField, site: Site, release: datetime, limits: Limits) -> list[Finding]:
    coverage, findings = field.coverage, []
    place = f"{site.latitude_deg:.3f}, {site.longitude_deg:.3f}"
    if coverage.centre_deg is not None and coverage.radius_m is not None:
        away = _away_m(field, site)
        if away > coverage.radius_m:
            findings.append(
                Finding(
                    f"site {site.name}",
                    place,
                    f"{away / 1000:.0f} km from {field.name}; {coverage.radius_m / 1000:.0f} km are allowed",
                    'Bring winds from nearer, or raise limits.sounding_distance, for example "300 km".',
                )
            )
    else:
        width = coverage.east_deg - coverage.west_deg
        inside = coverage.south_deg <= site.latitude_deg <= coverage.north_deg
        if not (inside and np.mod(site.longitude_deg - coverage.west_deg, 360.0) <= width):
            findings.append(
                Finding(f"site {site.name}", place, f"outside the area of {field.name}", "Bring winds for that area.")
            )
    lead_s = (release - field.issued).total_seconds()
    if field.kind == "forecast" and lead_s > limits.forecast_age_s:
        said = f"{field.name} would be {lead_s / 3600.0:.0f} h old, {limits.forecast_age_s / 3600.0:.0f} h are allowed"
        fix = 'Bring a newer run, or raise limits.forecast_age, for example "120 h".'
        findings.append(Finding("release", f"{release:{STAMP}}", said, fix))
    if not coverage.first_valid <= release <= coverage.last_valid:
        fix = "Bring winds for that time, or move the release."
        if field.kind == "sounding":
            fix = 'Bring newer winds, move the release, or raise limits.sounding_age, for example "18 h".'
        findings.append(
            Finding(
                "release",
                f"{release:{STAMP}}",
                f"{field.name} may be used from {coverage.first_valid:{STAMP}} to {coverage.last_valid:{STAMP}}",
                fix,
            )
        )
    return findings


def _too_low(field: WindField, nominal_top_msl_m: float, limits: Limits) -> list[Finding]:
    """Winds that end so far below the top of the flight that most of what decides would be guessed."""
    top = field.coverage.top_msl_m
    if nominal_top_msl_m <= top + limits.extrapolation_above_top_m:
        return []
    goes = "higher still" if np.isnan(nominal_top_msl_m) else f"to {nominal_top_msl_m / 1000:.1f} km"
    return [
        Finding(
            "winds",
            field.name,
            f"the winds end at {top / 1000:.1f} km, the flight goes {goes}, and no more than "
            f"{limits.extrapolation_above_top_m / 1000:.0f} km may be extrapolated",
            'Bring winds that reach higher, or raise limits.extrapolation_above_top, for example "8 km".',
        )
    ]
