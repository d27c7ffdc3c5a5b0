"""What lies under the flights, made ready once for many ensembles: search trees, zones, countries, terrain."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from pappus.ground import ROAD_CLASSES, CountryMap, GroundFeatures, RoadNetwork, TerrainGrid, Zone, ZoneRole

NARROWEST_TRAFFIC = ROAD_CLASSES.index("living street")


@dataclass(frozen=True)
class Clearances:
    """How near a landing counts as a hit [own choices: a train some 10 to 20 m long, and the error of the map]."""

    waterway_m: float = 5.0
    """From the middle of a stream that the map draws as a line; lakes and wide rivers are areas."""
    building_m: float = 50.0
    """From a building: built-up ground."""
    road_m: float = 15.0
    """From the middle of a road with traffic; service roads and tracks do not count."""
    railway_m: float = 15.0
    power_line_m: float = 50.0
    """From a line, its towers or a substation: more than the length of a train and its canopy."""
    slope_deg: float = 30.0
    """Steeper ground is hard to walk."""


@dataclass(frozen=True, eq=False)
class Surroundings:
    """Everything that does not change from one ensemble to the next. All of it may be missing.

    The search trees are made at the first call and kept: use one object for all calls.
    """

    features: GroundFeatures | None = None
    """What stands on the ground, from a map."""
    roads: RoadNetwork | None = None
    zones: tuple[Zone, ...] = ()
    countries: CountryMap | None = None
    home: str | None = None
    """Country of the release, by its name in ``countries``."""
    terrain: tuple[TerrainGrid, ...] = ()
    """Surveyed heights, the best first. No ground of a forecast model: its slopes mean nothing."""
    clearances: Clearances = Clearances()

    def zones_of(self, role: ZoneRole) -> tuple[Zone, ...]:
        """The zones with that meaning."""
        return tuple(zone for zone in self.zones if zone.role == role)

    def tree(self, kind: str) -> Any:
        """Search tree of all shapes of a kind on the plane of the map. The map must have been read for it."""
        features = self.features
        if features is None:
            raise ValueError("there is no map")
        if kind not in self._trees:
            import shapely

            self._trees[kind] = shapely.STRtree(features.shapes[kind].on_plane(features.box.plane))
        return self._trees[kind]

    @cached_property
    def traffic_roads(self) -> Any:
        """Search tree of the pieces of road with traffic, on the plane of the road network."""
        import shapely

        roads = self.roads
        if roads is None:
            raise ValueError("there are no roads")
        pieces = roads.segments
        edge = np.where(pieces[:, 2] >= 0, pieces[:, 2], pieces[:, 3])
        ends = pieces[roads.edge_class[edge] <= NARROWEST_TRAFFIC, :2]
        nodes = np.column_stack(roads.box.plane.to_east_north_m(roads.node_latitude_deg, roads.node_longitude_deg))
        return shapely.STRtree(shapely.linestrings(nodes[ends]))

    @cached_property
    def _trees(self) -> dict[str, Any]:
        return {}
