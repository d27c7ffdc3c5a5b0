"""What lies around the flights of a launch window, and what each cell has to say about it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pappus.decision import Fact, missing
from pappus.ground import RoadNetwork, TerrainGrid
from pappus.plan import Site
from pappus.preflight._window_fly import CellFlights, NotFlown

DRIVES = 25
"""Landings of each cell to which the way by car is looked up."""
NO_MAP = "no map of the area was given"


@dataclass(frozen=True, eq=False)
class Around:
    """Everything beside the winds; None or empty where nothing was given, and then no cell can tell."""

    terrain: tuple[TerrainGrid, ...] = ()
    roads: RoadNetwork | None = None

    @property
    def notes(self) -> tuple[str, ...]:
        """What is missing for every cell."""
        lines = []
        if not self.terrain:
            lines.append("No terrain: flights come down on the ground of the forecast, or as high as the site.")
        if self.roads is None:
            lines.append("No map: water, buildings, roads, railways and power lines are not looked at.")
        return tuple(lines)


class Drives:
    """Drive times from one site to the landings of many cells: the roads are searched once for all of them."""

    def __init__(self, around: Around, site: Site) -> None:
        self._roads, self._site = around.roads, site
        self._landings: list[NDArray[np.float64]] = []

    def take(self, flown: CellFlights | NotFlown) -> None:
        """Keep some of its landings."""
        if isinstance(flown, NotFlown):
            self._landings.append(np.empty((0, 2)))
            return
        flights = flown.ensemble.flights
        some = np.flatnonzero(flights.landed)[:DRIVES]
        self._landings.append(np.stack([flights.end_latitude_deg[some], flights.end_longitude_deg[some]], axis=1))

    def facts(self) -> list[Fact]:
        """Of every cell taken, in that order."""
        if self._roads is None:
            return [missing(NO_MAP)] * len(self._landings)
        places = np.concatenate([*self._landings, np.empty((0, 2))])
        if not len(places):
            return [missing("no flight lands in the data")] * len(self._landings)
        found = self._roads.drive_times(self._site.latitude_deg, self._site.longitude_deg, places[:, 0], places[:, 1])
        ends = np.cumsum([0, *map(len, self._landings)])
        return [_drive(found.time_s[first:last]) for first, last in pairwise(ends)]


def _drive(time_s: NDArray[np.float64]) -> Fact:
    if not time_s.size:
        return missing("no flight lands in the data")
    reached = time_s[np.isfinite(time_s)]
    if not reached.size:
        return missing("none of its landings can be reached by car in this map")
    source = f"legal speeds on empty roads, to {time_s.size} of its landings"
    if reached.size < time_s.size:
        source += f", {time_s.size - reached.size} of which no road of this map reaches"
    low, middle, high = (float(one) for one in np.quantile(reached, (0.05, 0.5, 0.95)))
    return Fact(middle, "s", source, low=low, high=high)
