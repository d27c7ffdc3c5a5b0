"""After the flight: recorded against computed."""

from pappus.postflight._page import verification_page
from pappus.postflight._verify import DriftCheck, Verification, drift_check, verify_folder

__all__ = ["DriftCheck", "Verification", "drift_check", "verification_page", "verify_folder"]
