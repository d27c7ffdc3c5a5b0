"""Wind field, members and the wind-error model."""

from pappus.wind._error import (
    FlightKnots,
    draw_wind_error,
    drift_sd_m,
    knot_covariance,
    sounding_wind_sd_m_s,
    structure_function_m2_s2,
)
from pappus.wind._extend import extend, subdivide
from pappus.wind._field import Coverage, SourceFile, WindField
from pappus.wind._sampler import Air, Sampler

__all__ = [
    "Air",
    "Coverage",
    "FlightKnots",
    "Sampler",
    "SourceFile",
    "WindField",
    "draw_wind_error",
    "drift_sd_m",
    "extend",
    "knot_covariance",
    "sounding_wind_sd_m_s",
    "structure_function_m2_s2",
    "subdivide",
]
