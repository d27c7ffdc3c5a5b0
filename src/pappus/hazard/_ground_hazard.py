"""What the landings of an ensemble may hit, and how hard: every number with its interval and what is not known.

A planning aid. It sees only what its maps, zones and priors hold, and it stands for no permission.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.ground import Whereabouts, Zone
from pappus.hazard._areas import abroad_flags, country_flags, leaving_flags, zone_flags
from pappus.hazard._casualties import BranchHazard, Casualties, branch_hazards, casualties, touchdown_energy_j
from pappus.hazard._chances import Chance, Flags, chance, over_flights, quantiles_known
from pappus.hazard._classes import Landings, map_flags, sea_flags, slope_deg
from pappus.hazard._descents import Descents
from pappus.hazard._retrieval import Retrieval, retrieval
from pappus.hazard._surroundings import Surroundings
from pappus.landing import Quantiles, Share, share_over_members

_AVOIDED = ("water", "sea", "built_up", "road", "rail", "power_line")


@dataclass(frozen=True)
class GroundHazard:
    """The answer for one ensemble. What is None has its reason in ``why_not`` under the same name."""

    flights: int
    not_landed: Share
    """Flights whose landing is not in the data; they are unknown in every chance below."""
    water: Chance | None
    """In a lake, river or stream."""
    sea: Chance | None
    wet: Chance | None
    """In water or at sea. Without a map lakes and rivers are unknown in it."""
    built_up: Chance | None
    road: Chance | None
    rail: Chance | None
    power_line: Chance | None
    steep: Chance | None
    acceptable: Chance | None
    """On dry ground clear of buildings, roads, rails and power lines, in no keep-out zone, and inside the permitted
    landing zones where the crew drew some."""
    keep_out: Chance | None
    """In any keep-out zone."""
    permitted: Chance | None
    """In any permitted landing zone."""
    lands_outside_permit_area: Chance | None
    leaves_permit_area: Chance | None
    """With any part of the flight."""
    zones: tuple[tuple[Zone, Chance], ...]
    """Chance to land in each zone that is drawn."""
    countries: tuple[tuple[str, Chance], ...]
    """Chance to land in each country that is surely or perhaps landed in, the likeliest first."""
    abroad: Chance | None
    landing_height_msl_m: Quantiles | None
    slope_deg: Quantiles | None
    branches: tuple[BranchHazard, ...]
    casualties: Casualties | None
    retrieval: Retrieval | None
    why_not: Mapping[str, str]


def ground_hazard(
    descents: Descents,
    surroundings: Surroundings,
    *,
    people_per_km2: ArrayLike | None = None,
    objects_m2: Sequence[float] = (),
    wind_at_ground_m_s: ArrayLike | None = None,
    leaves_permit_area: NDArray[np.int8] | None = None,
    with_retrieval: bool = False,
    drive_from_deg: tuple[float, float] | None = None,
) -> GroundHazard:
    """Everything about the ground under the landings that the surroundings can tell.

    :param people_per_km2: one number, or one for each flight at its landing; NaN where not known.
    :param objects_m2: area from above of every package, from ``object_areas_m2``.
    :param wind_at_ground_m_s: one number, or one for each flight: it carries the train into what it hits. Without it
        the energies are those of the sink alone, which is too little on a windy day.
    :param leaves_permit_area: for all flights, from ``leaves_area``.
    :param with_retrieval: roads near the landings and drive times; much slower than all the rest together.
    :param drive_from_deg: latitude and longitude of the car.
    """
    landings, why_not = Landings(descents), {}
    people = None
    if people_per_km2 is not None:
        people = np.broadcast_to(np.asarray(people_per_km2, dtype=np.float64), descents.landed.shape)
    countries = surroundings.countries
    where = None if countries is None else countries.where(landings.latitude_deg, landings.longitude_deg)
    flags, missing = map_flags(landings, surroundings)
    why_not.update(missing)
    sea = sea_flags(flags.get("sea"), where)
    if sea is not None:
        flags["sea"] = sea
        why_not.pop("sea", None)
        unseen = Flags(np.zeros(len(landings), dtype=np.bool_), np.ones(len(landings), dtype=np.bool_))
        flags["wet"] = sea.either(flags.get("water", unseen))
    else:
        why_not["wet"] = why_not["sea"]
    slopes = slope_deg(landings, surroundings)
    if surroundings.terrain:
        steep = slopes > surroundings.clearances.slope_deg
        flags["steep"] = Flags(steep, np.isnan(slopes))
    else:
        why_not["steep"] = why_not["slope_deg"] = "no terrain is given"
    inside = [zone_flags(landings, zone) for zone in surroundings.zones]
    _zones(surroundings.zones, inside, flags, why_not)
    _acceptable(flags, why_not)
    if where is None or countries is None or surroundings.home is None:
        why_not["abroad"] = "the country of the release is not known" if where else "no borders are given"
    else:
        flags["abroad"] = abroad_flags(where, countries.names, surroundings.home)
    chances = {name: chance(over_flights(found, descents), descents) for name, found in flags.items()}
    if leaves_permit_area is not None and surroundings.zones_of("permit area"):
        chances["leaves_permit_area"] = chance(leaving_flags(leaves_permit_area), descents)
    elif surroundings.zones_of("permit area"):
        why_not["leaves_permit_area"] = "the tracks were not compared with the permit area"
    else:
        why_not["leaves_permit_area"] = "no permit area is drawn"
    energy = touchdown_energy_j(descents, wind_at_ground_m_s)
    expected, why_not_expected = casualties(descents, energy, people, objects_m2)
    if expected is None:
        why_not["casualties"] = why_not_expected
    elif wind_at_ground_m_s is None:
        expected = replace(expected, assumptions=f"{expected.assumptions}; the sink alone gives the energy")
    fetched = None
    if surroundings.roads is None or not with_retrieval:
        why_not["retrieval"] = "no map of roads is given" if surroundings.roads is None else "it was not asked for"
    else:
        fetched = retrieval(descents, surroundings.roads, drive_from_deg)
    heights = quantiles_known(descents.height_msl_m[descents.landed], descents.flights, "did not land in the data")
    if heights is None:
        why_not["landing_height_msl_m"] = "no flight landed in the data"
    known_slopes, beyond = slopes[np.isfinite(slopes)], "did not land in the data or lie where the terrain ends"
    slope = quantiles_known(known_slopes, descents.flights, beyond)
    if slope is None:
        why_not.setdefault("slope_deg", "the terrain covers no landing")
    return GroundHazard(
        flights=descents.flights,
        not_landed=share_over_members(~descents.landed, descents.member),
        water=chances.get("water"),
        sea=chances.get("sea"),
        wet=chances.get("wet"),
        built_up=chances.get("built_up"),
        road=chances.get("road"),
        rail=chances.get("rail"),
        power_line=chances.get("power_line"),
        steep=chances.get("steep"),
        acceptable=chances.get("acceptable"),
        keep_out=chances.get("keep_out"),
        permitted=chances.get("permitted"),
        lands_outside_permit_area=chances.get("lands_outside_permit_area"),
        leaves_permit_area=chances.get("leaves_permit_area"),
        zones=tuple(
            (zone, chance(over_flights(found, descents), descents))
            for zone, found in zip(surroundings.zones, inside, strict=True)
        ),
        countries=_countries(where, () if countries is None else countries.names, descents),
        abroad=chances.get("abroad"),
        landing_height_msl_m=heights,
        slope_deg=slope,
        branches=branch_hazards(descents, energy, people, objects_m2),
        casualties=expected,
        retrieval=fetched,
        why_not=why_not,
    )


def _zones(zones: Sequence[Zone], inside: Sequence[Flags], flags: dict[str, Flags], why_not: dict[str, str]) -> None:
    for name, role in (
        ("keep_out", "keep-out"), ("permitted", "permitted landing"), ("lands_outside_permit_area", "permit area"),
    ):  # fmt: skip
        of_role = [found for zone, found in zip(zones, inside, strict=True) if zone.role == role]
        if not of_role:
            why_not[name] = f"no {role} {'' if role == 'permit area' else 'zone '}is drawn"
            continue
        in_any = reduce(Flags.either, of_role)
        flags[name] = in_any.reversed() if role == "permit area" else in_any


def _acceptable(flags: dict[str, Flags], why_not: dict[str, str]) -> None:
    """Clear of everything that is to be avoided; a class that nobody could look up leaves the answer open."""
    lacking = [name for name in _AVOIDED if name not in flags]
    if lacking:
        why_not["acceptable"] = f"{', '.join(lacking).replace('_', ' ')} cannot be told: {why_not[lacking[0]]}"
        return
    hit = reduce(Flags.either, [flags[name] for name in _AVOIDED])
    if "keep_out" in flags:
        hit = hit.either(flags["keep_out"])
    if "permitted" in flags:
        hit = hit.either(flags["permitted"].reversed())
    flags["acceptable"] = hit.reversed()


def _countries(where: Whereabouts | None, names: Sequence[str], descents: Descents) -> tuple[tuple[str, Chance], ...]:
    if where is None:
        return ()
    found = [
        (name, chance(over_flights(country_flags(where, column), descents), descents))
        for column, name in enumerate(names)
        if (where.inside[:, column] | where.may_be[:, column]).any()
    ]
    return tuple(sorted(found, key=lambda pair: (-pair[1].share.p, -pair[1].at_most.p, pair[0])))
