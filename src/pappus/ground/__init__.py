"""The ground as the flight meets it: named places and the lines of a map. ``sources`` loads them."""

from pappus.ground._lines import MapLines
from pappus.ground._places import NamedPlace, PlaceIndex

__all__ = ["MapLines", "NamedPlace", "PlaceIndex"]
