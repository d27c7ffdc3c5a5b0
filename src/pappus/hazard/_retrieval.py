"""Fetching the payload: how far from a road it lands, and how long the drive there takes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pappus.ground import RoadNetwork
from pappus.hazard._chances import Chance, Flags, chance, over_flights, quantiles_known
from pappus.hazard._descents import Descents
from pappus.landing import Quantiles


@dataclass(frozen=True)
class Retrieval:
    """Distance to the nearest road and drive times from one place, over the landings for which the map can tell."""

    road_m: Quantiles | None
    """Straight to the nearest road or track for cars; None when the map covers no landing."""
    drive_time_s: Quantiles | None
    """At legal speeds on empty roads to the road nearest to the landing: a lower bound. None when no road is reached.
    """
    reached: Chance | None
    """That the road nearest to the landing can be driven to; None without a place to start from."""
    why_no_drive: str
    """Empty when there are drive times."""


def retrieval(descents: Descents, roads: RoadNetwork, start_deg: tuple[float, float] | None) -> Retrieval:
    """How the landings can be reached by car from ``start_deg``, latitude and longitude.

    Where the map ends nearer to a landing than the nearest road that it knows, the landing counts as unknown. Obey the
    law and the land owner, not this number.
    """
    latitude, longitude = descents.latitude_deg[descents.landed], descents.longitude_deg[descents.landed]
    nearest = roads.nearest(latitude, longitude, main_only=True)
    certain = np.asarray(nearest.distance_m <= roads.box.reach_m(latitude, longitude))
    road = quantiles_known(
        nearest.distance_m[certain], descents.flights, "did not land in the data or lie where the map of roads ends"
    )
    if start_deg is None:
        return Retrieval(road, None, None, "no place to drive from is given")
    if not bool(roads.box.holds(*start_deg)[0]):
        return Retrieval(road, None, None, "the place to drive from lies outside the map of roads")
    if not certain.any():
        return Retrieval(road, None, None, "the map of roads covers no landing")
    times = roads.drive_times(*start_deg, latitude, longitude, main_only=True)
    found = Flags(certain & times.reached, ~certain)
    rest = "did not land in the data, lie where the map of roads ends, or cannot be reached by car in it"
    drive = quantiles_known(times.time_s[found.yes], descents.flights, rest)
    why_not = "" if drive else "no road near a landing is reached from there"
    return Retrieval(road, drive, chance(over_flights(found, descents), descents), why_not)
