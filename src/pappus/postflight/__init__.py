"""After the flight: recorded against computed, and what is learned from it."""

from pappus.postflight._drift_check import DriftCheck, drift_check
from pappus.postflight._learn import Learned, learn
from pappus.postflight._page import verification_json, verification_page
from pappus.postflight._recorded import Recorded, read_recorded
from pappus.postflight._verify import Verification, verify

__all__ = [
    "DriftCheck",
    "Learned",
    "Recorded",
    "Verification",
    "drift_check",
    "learn",
    "read_recorded",
    "verification_json",
    "verification_page",
    "verify",
]
