"""Every file that is handed out: pictures of a prediction."""

from pappus.export._height_time import draw_height_time
from pappus.export._map import draw_landing_map
from pappus.export._wind_profile import draw_wind_profile

__all__ = ["draw_height_time", "draw_landing_map", "draw_wind_profile"]
