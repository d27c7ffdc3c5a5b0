"""The ground and the air above it as files: map extracts, terrain, zones, airspace."""

from pappus.sources.maps._invented import write_invented_maps
from pappus.sources.maps._openair import AirspaceFile, read_openair
from pappus.sources.maps._osm import MapExtract, read_map_extract
from pappus.sources.maps._terrain import read_terrain
from pappus.sources.maps._zones_file import ZonesFile, read_zones

__all__ = [
    "AirspaceFile",
    "MapExtract",
    "ZonesFile",
    "read_map_extract",
    "read_openair",
    "read_terrain",
    "read_zones",
    "write_invented_maps",
]
