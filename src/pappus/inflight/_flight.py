"""What the estimate needs of a flight plan."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from typing import cast

from pappus.errors import BadInput, Finding
from pappus.plan import Plan
from pappus.sources import ReceiverSetting, load_geoid
from pappus.tracking import Estimator, LaunchPlace, PacketKind, Role


def estimator_for(
    plan: Plan, site: str | None = None, trackers: Collection[str] | None = None
) -> Callable[[], Estimator]:
    """Makes estimators for a flight from one of the sites of its plan.

    :param site: name of the site; None takes the first.
    :param trackers: callsigns of the flight; None takes those of the plan, and where it names none every tracker
        that is heard.

    Raises BadInput for a site that the plan does not name.
    """
    places = {one.name: one for one in plan.sites}
    chosen = plan.sites[0] if site is None else places.get(site)
    if chosen is None:
        raise BadInput(Finding("site", str(site), "is not in the plan", f"Write one of: {', '.join(places)}."))
    launch = LaunchPlace(chosen.latitude_deg, chosen.longitude_deg, chosen.height_msl_m)
    geoid = load_geoid()
    vehicles = frozenset(vehicle.name for vehicle in plan.vehicles)

    def undulation_m(latitude_deg: float, longitude_deg: float, /) -> float:
        return float(geoid.undulation_m(latitude_deg, longitude_deg))

    known = trackers if trackers is not None else plan.trackers or None
    return lambda: Estimator(launch, undulation_m, known, vehicles)


def receivers_of(plan: Plan, passwords: Mapping[str, str] | None = None) -> tuple[ReceiverSetting, ...]:
    """The receivers that the plan names, checked.

    :param passwords: by the name of the receiver; they have no place in a plan file.

    Raises BadInput, naming each field that cannot be used.
    """
    known = passwords or {}
    return tuple(
        ReceiverSetting(
            place.name,
            cast(Role, place.role),
            cast(PacketKind, place.kind),
            place.address,
            password=known.get(place.name),
        )
        for place in plan.receivers
    )
