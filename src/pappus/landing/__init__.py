"""Where the flights of an ensemble land: areas with their uncertainty, shares, quantiles and scores.

Samples first: every area and every share is counted over all flights, and flights that did not land in the data stay
in it as unknown mass.
"""

from __future__ import annotations

from pappus.landing._area import MINIMUM_LANDED, AreaLevel, LandingArea, landing_area
from pappus.landing._ellipse import Ellipse, chi2_radius, circular_error_probable, ellipse_from_covariance
from pappus.landing._intervals import (
    Quantiles,
    Share,
    clopper_pearson,
    quantiles,
    samples_for_zero_events,
    share,
    share_over_members,
    student_t975,
)
from pappus.landing._scores import crps_ensemble, crps_normal, energy_score

__all__ = [
    "MINIMUM_LANDED",
    "AreaLevel",
    "Ellipse",
    "LandingArea",
    "Quantiles",
    "Share",
    "chi2_radius",
    "circular_error_probable",
    "clopper_pearson",
    "crps_ensemble",
    "crps_normal",
    "ellipse_from_covariance",
    "energy_score",
    "landing_area",
    "quantiles",
    "samples_for_zero_events",
    "share",
    "share_over_members",
    "student_t975",
]
