"""What lies around the flights of a launch window, ready for many cells, and what each cell has to say about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pappus.airspace import AirspaceVolume, TrackEntries, chance_of_any, join_entries, track_entries
from pappus.decision import Fact, missing
from pappus.ground import FlatGround, PlaceIndex, Zone
from pappus.hazard import (
    RURAL_PER_KM2,
    Casualties,
    Chance,
    GroundHazard,
    Surroundings,
    descents_of,
    ground_hazard,
    leaves_area,
    object_areas_m2,
    people_density,
)
from pappus.landing import Share
from pappus.plan import Site
from pappus.preflight.window._fly import CellFlights, NotFlown
from pappus.preflight.window._rules import Law
from pappus.rules import Permission
from pappus.trajectory import joined_draws

DRIVES = 25
"""Landings of each cell to which the way by car is looked up."""
CLOSED = frozenset({"P", "R", "PROHIBITED", "RESTRICTED"})
"""Kinds of airspace that the rules name prohibited or restricted areas, as the sources write them."""
NO_TERRAIN = "no terrain: the ground is taken to be as high as the site"
NO_AIRSPACE = "no airspace was given"
NO_ZONES = "no zones were given; a file without any says that there are none"
UNKNOWN = "it is not known"
NO_LANDING = "no flight lands in the data"
NONE, ALL = Share(0.0, 0.0, 0.0), Share(1.0, 1.0, 1.0)
_FROM_GROUND = {
    "lands_acceptably": "acceptable", "water": "wet", "built_up": "built_up", "road": "road", "rail": "rail",
    "power_line": "power_line", "abroad": "abroad",
}  # fmt: skip
"""Fact, and field of the ground hazard."""


@dataclass(frozen=True, eq=False)
class Around:
    """Everything beside the winds. What is None was not given, and then no cell can tell."""

    surroundings: Surroundings = field(default_factory=Surroundings)
    """Map, roads, zones, countries, terrain."""
    zones_given: bool = False
    """The crew drew its zones; those that it did not draw do not exist."""
    zones_lack: tuple[str, ...] = ()
    """What of the zones could not be used, one sentence each: any flight may have met it."""
    volumes: tuple[AirspaceVolume, ...] | None = None
    airspace_lacks: tuple[str, ...] = ()
    """What of the airspace could not be used, likewise."""
    permissions: tuple[Permission, ...] = ()
    """Those that name a volume of airspace, hold a reference and have not ended let flights enter it."""
    places: PlaceIndex | None = None
    """Towns, to guess how many people live where flights land."""
    people_per_km2: float | None = None
    """Of the open country, as the plan says."""
    law: Law | None = None
    """The rules that it is flown under."""
    map_source: str = "the map"
    airspace_source: str = "the airspace"

    @property
    def tracks_needed(self) -> bool:
        """Whether the way of every flight is looked at, not its ends alone."""
        return bool(self.volumes) or bool(self.surroundings.zones_of("permit area"))

    @property
    def notes(self) -> tuple[str, ...]:
        """What is missing for every cell."""
        lacking = (
            (not self.surroundings.terrain, "No terrain: flights come down on the ground of the forecast or the site."),
            (self.surroundings.features is None, "No map: water, buildings, railways and power lines are unknown."),
            (self.surroundings.roads is None, "No roads: landings on roads and drives are unknown."),
            (self.surroundings.countries is None, "No borders: landings abroad are unknown."),
            (self.volumes is None, "No airspace: entries are unknown."),
            (self.law is None, "No rules: nothing is held against the law of the country."),
        )
        unusable = (*self.zones_lack, *self.airspace_lacks)
        return (*(line for absent, line in lacking if absent), *(f"{line[0].upper()}{line[1:]}." for line in unusable))


def ground_facts(flown: CellFlights, around: Around, wind_m_s: float | None = None) -> dict[str, Fact]:
    """What the flights meet on the ground, by the names of ``Facts``; ``wind_m_s`` near it carries what lands."""
    hazard = hazard_of(flown, around, wind_m_s=wind_m_s)
    found = {
        name: _fact(getattr(hazard, column), hazard.why_not.get(column, UNKNOWN), around.map_source)
        for name, column in _FROM_GROUND.items()
    }
    if _ground_is_guessed(flown):
        found["lands_acceptably"] = missing(NO_TERRAIN)
    drawn = {zone.role for zone in around.surroundings.zones}
    for name, role, chance in (
        ("keep_out", "keep-out", hazard.keep_out),
        ("leaves_permit_area", "permit area", hazard.leaves_permit_area),
    ):
        if role in drawn:
            found[name] = _fact(chance, hazard.why_not.get(name, UNKNOWN), "the zones drawn")
        elif around.zones_given:
            found[name] = Fact(NONE, source="no such zone is drawn", unknown=NONE)
        else:
            found[name] = missing(NO_ZONES)
        if around.zones_lack:
            found[name] = _in_doubt(found[name], around.zones_lack)
    found["casualty_expectation"] = _casualties(hazard.casualties, hazard.why_not.get("casualties", UNKNOWN))
    return found


def hazard_of(
    flown: CellFlights, around: Around, *, wind_m_s: float | None = None, with_retrieval: bool = False
) -> GroundHazard:
    """The hazard on the ground of one cell; ``with_retrieval`` also how its landings are fetched, which is slow."""
    ensemble, train = flown.ensemble, flown.plan.flight_train
    descents = descents_of(ensemble.flights, joined_draws(ensemble.draws), train, ensemble.member)
    people: float | NDArray[np.float64] | None = around.people_per_km2
    if around.places is not None:
        rural = RURAL_PER_KM2 if around.people_per_km2 is None else around.people_per_km2
        where = descents.latitude_deg, descents.longitude_deg
        people = people_density(around.places, *where, rural_per_km2=rural).people_per_km2
    permit = around.surroundings.zones_of("permit area")
    return ground_hazard(
        descents,
        around.surroundings,
        people_per_km2=people,
        objects_m2=object_areas_m2(train),
        wind_at_ground_m_s=wind_m_s,
        leaves_permit_area=_leaves(flown, permit) if permit else None,
        with_retrieval=with_retrieval,
        drive_from_deg=(flown.option.site.latitude_deg, flown.option.site.longitude_deg) if with_retrieval else None,
    )


def _fact(chance: Chance | None, why_not: str, source: str) -> Fact:
    if chance is None:
        return missing(why_not, source)
    return Fact(chance.share, source=source, unknown=chance.unknown, place_deg=chance.place_deg)


def _ground_is_guessed(flown: CellFlights) -> bool:
    """Whether flights come down on ground that is neither surveyed, nor of the forecast model, nor told by the plan."""
    ground = flown.runs[0].conditions.ground
    return isinstance(ground, FlatGround) and flown.plan.limits.landing_ground_height_msl_m is None


def _in_doubt(fact: Fact, lacks: tuple[str, ...]) -> Fact:
    """A chance beside which any flight may have met what could not be read."""
    return replace(fact, unknown=ALL, source=f"{fact.source}; {'; '.join(lacks)}") if fact.known else fact


def _casualties(found: Casualties | None, why_not: str) -> Fact:
    """By whichever of the two sizes of a person counts more."""
    if found is None:
        return missing(why_not)
    worse = max(found.nasa, found.rcc, key=lambda one: one.value)
    return Fact(worse.value, "1", found.assumptions, low=worse.low, high=worse.high)


def airspace_facts(flown: CellFlights, around: Around) -> tuple[Fact, Share | None]:
    """The way of every flight against every volume: the chance to enter one that no permission covers, and that to
    enter a prohibited or restricted area, flights of which it cannot be told in its interval; None when not known.
    """
    if around.volumes is None:
        return missing(NO_AIRSPACE), None
    fact, closed = _entered(flown, around, around.volumes)
    return (_in_doubt(fact, around.airspace_lacks), None) if around.airspace_lacks else (fact, closed)


def _entered(flown: CellFlights, around: Around, volumes: tuple[AirspaceVolume, ...]) -> tuple[Fact, Share]:
    ensemble = flown.ensemble
    release = flown.option.release
    covered = {
        volume.name: any(one.covers_rule(volume.name.strip(), release) for one in around.permissions)
        for volume in volumes
    }
    free = np.array([not covered[volume.name] for volume in volumes], dtype=np.bool_)
    closed = free & np.array([volume.kind.strip().upper() in CLOSED for volume in volumes], dtype=np.bool_)
    if not free.any():
        return Fact(NONE, source=f"{around.airspace_source}: none that no permission covers", unknown=NONE), NONE
    tracks = entries_of(flown, volumes)
    entered = chance_of_any(tracks, free, member=ensemble.member)
    forbidden = chance_of_any(tracks, closed, member=ensemble.member) if closed.any() else None
    fact = Fact(entered.any, source=around.airspace_source, unknown=entered.undecided)
    return fact, NONE if forbidden is None else forbidden.any._replace(high=forbidden.at_most.high)


def entries_of(flown: CellFlights, volumes: Sequence[AirspaceVolume]) -> TrackEntries:
    """What every flight of a cell does with every volume."""
    ground = flown.runs[0].conditions.ground.height_msl_m
    return join_entries(
        [
            track_entries(block, volumes, pressure_pa_at=flown.air.profile, ground_msl_m_at=ground)
            for block in flown.tracked()
        ]
    )


def _leaves(flown: CellFlights, permit: Sequence[Zone]) -> NDArray[np.int8]:
    return np.concatenate([leaves_area(block, permit) for block in flown.tracked()])


class Drives:
    """Drive times from one site to the landings of many cells: the roads are searched once for all of them."""

    def __init__(self, around: Around, site: Site) -> None:
        self._roads, self._site = around.surroundings.roads, site
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
            return [missing("no map of roads was given")] * len(self._landings)
        places = np.concatenate([*self._landings, np.empty((0, 2))])
        if not len(places):
            return [missing(NO_LANDING)] * len(self._landings)
        found = self._roads.drive_times(self._site.latitude_deg, self._site.longitude_deg, places[:, 0], places[:, 1])
        ends = np.cumsum([0, *map(len, self._landings)])
        return [_drive(found.time_s[first:last]) for first, last in pairwise(ends)]


def _drive(time_s: NDArray[np.float64]) -> Fact:
    """Nine of ten landings; one that no road reaches is farther than any."""
    if not time_s.size:
        return missing(NO_LANDING)
    source = f"legal speeds on empty roads; 9 of 10 of {time_s.size} landings are reached sooner"
    most = float(np.quantile(np.where(np.isfinite(time_s), time_s, np.inf), 0.9, method="higher"))
    if not np.isfinite(most):
        count = int((~np.isfinite(time_s)).sum())
        return missing(f"no road of this map leads to {count} of {time_s.size} landings", source)
    return Fact(most, "s", source)
