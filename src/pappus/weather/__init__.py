"""The weather near the ground: wind, gust, cloud, visibility, rain, temperature."""

from pappus.weather._surface import SurfaceWeather

__all__ = ["SurfaceWeather"]
