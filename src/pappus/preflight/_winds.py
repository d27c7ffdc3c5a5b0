"""Which winds the flight flies on, and whether they hold it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from pappus.earth import distance_m
from pappus.errors import Finding, OutsideCoverage
from pappus.plan import Limits, Site
from pappus.wind import WindField

ADVECTION_M_S = 15.0
"""Weighs the age of a sounding against its distance when the nearest of several is chosen."""
STAMP = "%Y-%m-%d %H:%MZ"


def choose_winds(fields: Sequence[WindField], site: Site, release: datetime) -> tuple[WindField, tuple[str, ...]]:
    """The one field that stands nearest to the release in place and time, and a line for each that was left.

    Fields are never mixed. Raises OutsideCoverage, with a finding for each field, when none holds the release.
    """
    refused = {field.name: _outside(field, site, release) for field in fields}
    usable = [field for field in fields if not refused[field.name]]
    if not usable:
        raise OutsideCoverage(*(finding for findings in refused.values() for finding in findings))
    best = min(usable, key=lambda field: _reach_m(field, site, release))
    left = tuple(
        f"{field.name}: " + ("; ".join(str(f) for f in refused[field.name]) or "farther in place or time, not used")
        for field in fields
        if field is not best
    )
    return best, left


def _reach_m(field: WindField, site: Site, release: datetime) -> float:
    return float(np.hypot(_away_m(field, site), ADVECTION_M_S * (release - field.issued).total_seconds()))


def _away_m(field: WindField, site: Site) -> float:
    """Distance of the site from the station of a sounding; zero for a forecast."""
    centre = field.coverage.centre_deg
    if centre is None:
        return 0.0
    return float(distance_m(*centre, site.latitude_deg, site.longitude_deg))


def _outside(field: WindField, site: Site, release: datetime) -> list[Finding]:
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
    if not coverage.first_valid <= release <= coverage.last_valid:
        findings.append(
            Finding(
                "release",
                f"{release:{STAMP}}",
                f"{field.name} may be used from {coverage.first_valid:{STAMP}} to {coverage.last_valid:{STAMP}}",
                'Bring newer winds, move the release, or raise limits.sounding_age, for example "18 h".',
            )
        )
    return findings


def require_height(field: WindField, nominal_top_msl_m: float, limits: Limits) -> None:
    """Refuse winds that end so far below the top of the flight that most of what decides would be guessed."""
    top = field.coverage.top_msl_m
    highest = top + limits.extrapolation_above_top_m
    if np.isnan(nominal_top_msl_m) or nominal_top_msl_m > highest:
        goes = "higher still" if np.isnan(nominal_top_msl_m) else f"to {nominal_top_msl_m / 1000:.1f} km"
        raise OutsideCoverage(
            Finding(
                "winds",
                field.name,
                f"the winds end at {top / 1000:.1f} km, the flight goes {goes}, and no more than "
                f"{limits.extrapolation_above_top_m / 1000:.0f} km may be extrapolated",
                'Bring winds that reach higher, or raise limits.extrapolation_above_top, for example "8 km".',
            )
        )
