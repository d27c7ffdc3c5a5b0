"""What lies around the flights and what the law asks, from a plan, a field pack and the data of the package."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pappus.earth import geodesic_direct
from pappus.ground import Countries, MapBox, PlaceIndex, TerrainGrid
from pappus.hazard import Surroundings
from pappus.plan import Plan
from pappus.preflight.pack import PackMaps
from pappus.preflight.window._around import Around
from pappus.preflight.window._rules import Law
from pappus.rules import RuleFacts
from pappus.sources import MapExtract, read_rule_profile, rule_profile_names

_BORDERS_WITHIN_M = 270_000.0
"""North, south, east and west of the sites: the corners of that box stay within what a map may span."""


def gather_around(
    plan: Plan,
    plan_path: Path,
    held: PackMaps,
    terrain: Sequence[TerrainGrid],
    places: PlaceIndex | None,
    countries: Countries | None,
) -> Around:
    """Map, zones, airspace, borders, towns and rules, each as far as it is at hand; what is not stays unknown.

    Of several maps the one that holds the first site is judged by. Raises BadFile for a profile of rules that does not
    exist.
    """
    extract = _map_of(plan, held)
    volumes = [volume for _, airspace in held.airspace for volume in airspace.volumes]
    surroundings = Surroundings(
        features=extract.features if extract else None,
        roads=extract.roads if extract else None,
        zones=tuple(zone for _, file in held.zones for zone in file.zones),
        countries=None if countries is None else countries.clip(_border_box(plan)),
        home=None if countries is None else countries.name_at(plan.sites[0].latitude_deg, plan.sites[0].longitude_deg),
        terrain=tuple(terrain),
    )
    return Around(
        surroundings=surroundings,
        zones_given=bool(held.zones),
        zones_lack=held.lacks("zones"),
        volumes=tuple(volumes) if held.airspace else None,
        airspace_lacks=held.lacks("airspace"),
        permissions=plan.permissions,
        places=places,
        people_per_km2=plan.people_per_km2,
        law=law_of(plan, plan_path),
        map_source=f"the map {extract.name}" if extract else "no map",
        airspace_source=", ".join(file.origin for file, _ in held.airspace) or "no airspace",
    )


def law_of(plan: Plan, plan_path: Path) -> Law:
    """The rules that the plan names, and what it says of itself: a name of a built-in profile, or a file beside it."""
    name, said = plan.legal.profile, plan.legal
    profile = read_rule_profile(name if name in rule_profile_names() else plan_path.parent / name)
    known = RuleFacts(
        equipment=plan.equipment,
        permissions=plan.permissions,
        application_sent_utc=said.application_sent,
        notice_given_utc=said.notice_given,
        notified_release_utc=said.notified_release,
        position_interval_s=said.position_interval_s,
        drops_object=said.drops_object,
        assembly_low=said.assembly_near,
        controlled_release=said.control_zone,
        ssr_in_use=said.radar_in_use,
        ads_b_in_use=said.ads_b_in_use,
        meteorological_only=said.meteorological_only,
    )
    return Law(profile, known)


def _map_of(plan: Plan, held: PackMaps) -> MapExtract | None:
    site = plan.sites[0]
    for _, extract in held.maps:
        if bool(extract.box.holds(site.latitude_deg, site.longitude_deg).all()):
            return extract
    return held.maps[0][1] if held.maps else None


def _border_box(plan: Plan) -> MapBox:
    """Around the first site: a flight that comes down beyond it cannot be told."""
    site = plan.sites[0]
    north, east, south, west = (
        geodesic_direct(site.latitude_deg, site.longitude_deg, bearing, _BORDERS_WITHIN_M)
        for bearing in (0.0, 90.0, 180.0, 270.0)
    )
    return MapBox(south[0], north[0], west[1], east[1])
