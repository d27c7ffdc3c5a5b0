"""After the flight: recorded against computed, and what is learned from it."""

from pappus.postflight._flight_review import (
    FlownTrack,
    LandingScore,
    WindMeasured,
    WindScore,
    landing_score,
    moments_of,
    wind_scores,
    winds_told,
)
from pappus.postflight._learn import Learned, learn
from pappus.postflight._page import verification_json, verification_page
from pappus.postflight._recorded import Recorded, read_recorded
from pappus.postflight._verify import Verification, verify
from pappus.postflight.drift import DriftCheck, drift_check

__all__ = [
    "DriftCheck",
    "FlownTrack",
    "LandingScore",
    "Learned",
    "Recorded",
    "Verification",
    "WindMeasured",
    "WindScore",
    "drift_check",
    "landing_score",
    "learn",
    "moments_of",
    "read_recorded",
    "verification_json",
    "verification_page",
    "verify",
    "wind_scores",
    "winds_told",
]
