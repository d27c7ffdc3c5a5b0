"""What the first minutes over a site may meet, for the rules on low flight: towns below, airspace of an airport."""

from __future__ import annotations

from pappus.airspace import AirspaceVolume
from pappus.earth import distance_m
from pappus.landing import Share
from pappus.plan import Site
from pappus.preflight.window._around import NONE, Around

LOW_FLIGHT_M = 3_000.0
"""A balloon at 3 m/s is above 600 m after 200 s; the strongest wind in which anybody releases carries it less than this
meanwhile (15 m/s)."""
_SURFACE_KINDS = {"B", "C", "D", "E", "CTR", "CTZ", "ATZ", "TMA", "CTA"}


def congested_below(around: Around, site: Site) -> Share | None:
    """Chance to be over a built-up area low after the release: none where none lies near, else it cannot be told."""
    features = around.surroundings.features
    if features is None:
        return None
    at = site.latitude_deg, site.longitude_deg
    if not bool(features.box.holds(*at)[0]) or float(features.box.reach_m(*at)[0]) < LOW_FLIGHT_M:
        return None
    for kind in ("building", "building_point", "built_up"):
        if kind not in features.shapes:
            return None
        if float(features.nearest(kind, *at).distance_m[0]) <= LOW_FLIGHT_M:
            return None
    return NONE


def surface_area_around(around: Around, site: Site) -> Share | None:
    """Chance to be low inside airspace of an airport that reaches the ground: none where none lies near the site.

    A volume counts whose class or type is controlled, whatever it is called; inside one it cannot be told which rules
    of the airport hold.
    """
    if around.volumes is None or around.airspace_lacks:
        return None
    return None if any(_may_be_low_in(volume, site) for volume in around.volumes) else NONE


def _may_be_low_in(volume: AirspaceVolume, site: Site) -> bool:
    if volume.kind.strip().upper() not in _SURFACE_KINDS:
        return False
    if bool(volume.outline.contains(site.latitude_deg, site.longitude_deg)):
        return True
    return any(
        float(distance_m(site.latitude_deg, site.longitude_deg, ring[:, 0], ring[:, 1]).min()) <= LOW_FLIGHT_M
        for rings in volume.outline.polygons
        for ring in rings
    )
