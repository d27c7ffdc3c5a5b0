"""Forecast winds against radiosondes, and landings from run to run."""

from pappus.postflight.forecasts._fit import fit_forecast_error
from pappus.postflight.forecasts._page import forecast_sections, run_shift_section
from pappus.postflight.forecasts._run_shift import RunShift, run_shifts
from pappus.postflight.forecasts._verify import ForecastCheck, check_forecasts
from pappus.postflight.forecasts._vertical import VerticalCorrelation

__all__ = [
    "ForecastCheck",
    "RunShift",
    "VerticalCorrelation",
    "check_forecasts",
    "fit_forecast_error",
    "forecast_sections",
    "run_shift_section",
    "run_shifts",
]
