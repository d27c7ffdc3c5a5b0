"""Wind field, members and the wind-error model."""

from pappus.wind._conditioning import WindSeen, condition, gaspari_cohn, posterior, total_covariance
from pappus.wind._error import FlightKnots, draw_wind_error, drift_sd_m, knot_covariance, member_sd_m_s
from pappus.wind._extend import during, extend, subdivide
from pappus.wind._field import Coverage, SourceFile, WindField
from pappus.wind._held import held_parts_m_s
from pappus.wind._members import member_mean
from pappus.wind._prior import (
    WindPrior,
    beyond_wind_sd_m_s,
    forecast_wind_sd_m_s,
    held_wind_sd_m_s,
    structure_function_m2_s2,
)
from pappus.wind._sampler import Air, Sampler

__all__ = [
    "Air",
    "Coverage",
    "FlightKnots",
    "Sampler",
    "SourceFile",
    "WindField",
    "WindPrior",
    "WindSeen",
    "beyond_wind_sd_m_s",
    "condition",
    "draw_wind_error",
    "drift_sd_m",
    "during",
    "extend",
    "forecast_wind_sd_m_s",
    "gaspari_cohn",
    "held_parts_m_s",
    "held_wind_sd_m_s",
    "knot_covariance",
    "member_mean",
    "member_sd_m_s",
    "posterior",
    "structure_function_m2_s2",
    "subdivide",
    "total_covariance",
]
