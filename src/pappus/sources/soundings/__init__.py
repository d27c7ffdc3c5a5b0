"""Soundings and recorded flights in every form that is read, and the column of winds made from one."""

from pappus.sources.soundings._column import box_around_disc, to_wind_field
from pappus.sources.soundings._hydrostatics import log_pressure_above_first
from pappus.sources.soundings._invented import invented_sounding_csv
from pappus.sources.soundings._levels import wind_components
from pappus.sources.soundings._read import read_sounding
from pappus.sources.soundings._sounding import Sounding

__all__ = [
    "Sounding",
    "box_around_disc",
    "invented_sounding_csv",
    "log_pressure_above_first",
    "read_sounding",
    "to_wind_field",
    "wind_components",
]
