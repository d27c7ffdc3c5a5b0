"""GRIB messages: found, decoded, cut to an area and written, and the grids they stand on."""

from pappus.sources.grib._area import Area, columns_inside, rows_inside
from pappus.sources.grib._grid import Grid, read_grid
from pappus.sources.grib._messages import Bytes, Field, Unreadable, field_2, ibm_floats, is_grib, read_fields
from pappus.sources.grib._products import HYBRID, PRESSURE, SURFACE, Product
from pappus.sources.grib._quiet_eccodes import quiet_eccodes
from pappus.sources.grib._surface import read_surface
from pappus.sources.grib._values import decode, message_of
from pappus.sources.grib._write import ABOVE_GROUND, GROUND, ISOBARIC, TOP_OF_AIR, Ensemble, Quantity, write_grib

__all__ = [
    "ABOVE_GROUND",
    "GROUND",
    "HYBRID",
    "ISOBARIC",
    "PRESSURE",
    "SURFACE",
    "TOP_OF_AIR",
    "Area",
    "Bytes",
    "Ensemble",
    "Field",
    "Grid",
    "Product",
    "Quantity",
    "Unreadable",
    "columns_inside",
    "decode",
    "field_2",
    "ibm_floats",
    "is_grib",
    "message_of",
    "quiet_eccodes",
    "read_fields",
    "read_grid",
    "read_surface",
    "rows_inside",
    "write_grib",
]
