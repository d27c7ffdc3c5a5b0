"""The field pack: made, checked, and read for the map; and the example that has one."""

from pappus.preflight.pack._check import Lack, check_pack, pack_page
from pappus.preflight.pack._example import write_example
from pappus.preflight.pack._make import Wanted, centre_names, make_pack, pack_folder
from pappus.preflight.pack._map_layers import layers_of
from pappus.preflight.pack._maps import PackMaps, read_maps

__all__ = [
    "Lack",
    "PackMaps",
    "Wanted",
    "centre_names",
    "check_pack",
    "layers_of",
    "make_pack",
    "pack_folder",
    "pack_page",
    "read_maps",
    "write_example",
]
