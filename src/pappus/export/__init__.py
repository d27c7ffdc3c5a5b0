"""Every file that is handed out: pages, and pictures of a prediction."""

from pappus.export._geojson import landing_geojson
from pappus.export._gpx import flight_gpx
from pappus.export._height_time import draw_height_time
from pappus.export._html import briefing_html
from pappus.export._kml import flight_kml
from pappus.export._map import draw_landing_map
from pappus.export._map_layers import AreaKind, LineKind, MapArea, MapLayers
from pappus.export._page import Grid, Page, Rows, Section, Sentences
from pappus.export._wind_profile import draw_wind_profile

__all__ = [
    "AreaKind",
    "Grid",
    "LineKind",
    "MapArea",
    "MapLayers",
    "Page",
    "Rows",
    "Section",
    "Sentences",
    "briefing_html",
    "draw_height_time",
    "draw_landing_map",
    "draw_wind_profile",
    "flight_gpx",
    "flight_kml",
    "landing_geojson",
]
