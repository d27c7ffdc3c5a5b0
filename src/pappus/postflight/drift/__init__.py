"""Recorded flights along their own winds, against where they were."""

from pappus.postflight.drift._check import DriftCheck, drift_check
from pappus.postflight.drift._page import drift_sections

__all__ = [
    "DriftCheck",
    "drift_check",
    "drift_sections",
]
