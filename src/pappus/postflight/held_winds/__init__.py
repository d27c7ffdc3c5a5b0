"""Winds from before and from elsewhere, against balloons that flew later and stations of the same hour."""

from pappus.postflight.held_winds._page import persistence_sections, station_hour_sections
from pappus.postflight.held_winds._scores import Persistence, persistence
from pappus.postflight.held_winds._station_hour import StationHour, fit_large_depth_m, station_hour

__all__ = [
    "Persistence",
    "StationHour",
    "fit_large_depth_m",
    "persistence",
    "persistence_sections",
    "station_hour",
    "station_hour_sections",
]
