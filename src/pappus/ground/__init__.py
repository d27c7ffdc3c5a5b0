"""The ground as the flight meets it: its height, named places and the lines of a map. ``sources`` loads them."""

from pappus.ground._lines import MapLines
from pappus.ground._places import NamedPlace, PlaceIndex
from pappus.ground._terrain import FlatGround, Terrain, TerrainGrid

__all__ = ["FlatGround", "MapLines", "NamedPlace", "PlaceIndex", "Terrain", "TerrainGrid"]
