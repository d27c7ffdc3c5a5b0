"""The ground as the flight meets it: height, places, lines of a map, roads and what stands there; ``sources`` loads."""

from pappus.ground._countries import BORDER_TOLERANCE_M, Countries, CountryMap, Whereabouts
from pappus.ground._features import GroundFeatures, MapBox, MapShapes, Nearest
from pappus.ground._lines import MapLines
from pappus.ground._places import NamedPlace, PlaceIndex
from pappus.ground._roads import (
    ROAD_CLASSES,
    DriveTimes,
    RoadLeg,
    RoadNetwork,
    RoadPoints,
    RoadWay,
    Route,
    build_road_network,
)
from pappus.ground._terrain import FlatGround, Terrain, TerrainGrid
from pappus.ground._zones import Outline, Zone, ZoneRole

__all__ = [
    "BORDER_TOLERANCE_M",
    "ROAD_CLASSES",
    "Countries",
    "CountryMap",
    "DriveTimes",
    "FlatGround",
    "GroundFeatures",
    "MapBox",
    "MapLines",
    "MapShapes",
    "NamedPlace",
    "Nearest",
    "Outline",
    "PlaceIndex",
    "RoadLeg",
    "RoadNetwork",
    "RoadPoints",
    "RoadWay",
    "Route",
    "Terrain",
    "TerrainGrid",
    "Whereabouts",
    "Zone",
    "ZoneRole",
    "build_road_network",
]
