"""Every file that is handed out: pages, and pictures of a prediction."""

from pappus.export._calendar import deadlines_calendar
from pappus.export._crew_map import draw_crew_map
from pappus.export._curves import CURVE_LEVELS, DelayCurve, LiftCurve, draw_delay_curve, draw_lift_curve
from pappus.export._document import (
    AID,
    DRAFT_MARK,
    Block,
    BriefingDocument,
    Chapter,
    ClockTime,
    CrewPage,
    DraftNotice,
    Judged,
    JudgedTable,
    KeyNumber,
    PhoneCall,
    Picture,
)
from pappus.export._document_html import document_html
from pappus.export._geojson import landing_geojson
from pappus.export._gpx import flight_gpx
from pappus.export._height_time import draw_height_time
from pappus.export._html import briefing_html
from pappus.export._kml import flight_kml
from pappus.export._map import draw_landing_map
from pappus.export._map_layers import AreaKind, LineKind, MapArea, MapLayers
from pappus.export._matrix import LaunchMatrix, MatrixCell, draw_launch_matrix, matrix_grid
from pappus.export._page import Grid, Page, Rows, Section, Sentences
from pappus.export._pdf import Paper, document_pdf
from pappus.export._signs import STATES, State
from pappus.export._wind_profile import draw_wind_profile

__all__ = [
    "AID",
    "CURVE_LEVELS",
    "DRAFT_MARK",
    "STATES",
    "AreaKind",
    "Block",
    "BriefingDocument",
    "Chapter",
    "ClockTime",
    "CrewPage",
    "DelayCurve",
    "DraftNotice",
    "Grid",
    "Judged",
    "JudgedTable",
    "KeyNumber",
    "LaunchMatrix",
    "LiftCurve",
    "LineKind",
    "MapArea",
    "MapLayers",
    "MatrixCell",
    "Page",
    "Paper",
    "PhoneCall",
    "Picture",
    "Rows",
    "Section",
    "Sentences",
    "State",
    "briefing_html",
    "deadlines_calendar",
    "document_html",
    "document_pdf",
    "draw_crew_map",
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
