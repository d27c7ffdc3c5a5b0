"""Every file that is handed out: pages, and pictures of a prediction."""

from pappus.export._curves import CURVE_LEVELS, DelayCurve, LiftCurve, draw_delay_curve, draw_lift_curve
from pappus.export._geojson import landing_geojson
from pappus.export._gpx import flight_gpx
from pappus.export._height_time import draw_height_time
from pappus.export._html import briefing_html
from pappus.export._kml import flight_kml
from pappus.export._map import draw_landing_map
from pappus.export._map_layers import AreaKind, LineKind, MapArea, MapLayers
from pappus.export._matrix import LaunchMatrix, MatrixCell, draw_launch_matrix, matrix_grid
from pappus.export._page import Grid, Page, Rows, Section, Sentences
from pappus.export._wind_profile import draw_wind_profile

__all__ = [
    "CURVE_LEVELS",
    "AreaKind",
    "DelayCurve",
    "Grid",
    "LaunchMatrix",
    "LiftCurve",
    "LineKind",
    "MapArea",
    "MapLayers",
    "MatrixCell",
    "Page",
    "Rows",
    "Section",
    "Sentences",
    "briefing_html",
    "draw_delay_curve",
    "draw_height_time",
    "draw_landing_map",
    "draw_launch_matrix",
    "draw_lift_curve",
    "draw_wind_profile",
    "flight_gpx",
    "flight_kml",
    "landing_geojson",
    "matrix_grid",
]
