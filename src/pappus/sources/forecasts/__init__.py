"""Model runs: files in, wind field, ground and surface weather out."""

from pappus.sources.forecasts._cube import Forecast
from pappus.sources.forecasts._forecast import looks_like_column_forecast, looks_like_forecast, read_forecast
from pappus.sources.forecasts._invented import FILE_NAME, write_invented_forecast
from pappus.sources.forecasts._pairs import ForecastPairs, looks_like_forecast_pairs, read_forecast_pairs

__all__ = [
    "FILE_NAME",
    "Forecast",
    "ForecastPairs",
    "looks_like_column_forecast",
    "looks_like_forecast",
    "looks_like_forecast_pairs",
    "read_forecast",
    "read_forecast_pairs",
    "write_invented_forecast",
]
