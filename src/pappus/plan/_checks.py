"""Checks that need more than one key. A key that could not be read is None here and is passed over."""

from __future__ import annotations

from collections import Counter
from typing import Any

from pappus.flight_train import prior_burst_diameter_m
from pappus.plan._go_keys import PermissionKeys
from pappus.plan._keys import PlanKeys
from pappus.plan._people_keys import VehicleKeys
from pappus.plan._reading import Path, Reading
from pappus.plan._train_keys import BalloonKeys, CutDownKeys, FillKeys
from pappus.units import standard_gravity_m_s2

FILL_WAYS = ("volume", "scale_lift", "free_lift", "climb", "height")
LEAST_STRETCH = 1.2
MOST_LAUNCHES = 200
_LEAST_CLIMB_ABOVE_SITE_M = 1000.0
_LEAST_TRAIN_KG, _MOST_TRAIN_KG = 0.02, 60.0
_TRIGGER_KEYS = {"time": "after", "height": "height", "area": "keep_inside"}


def check_all(plan: PlanKeys, reading: Reading) -> None:
    """Notes in ``reading`` whatever does not fit together."""
    for name in ("site", "package", "line", "cut_down", "fill_option", "balloon_option", "vehicle", "receiver"):
        _names_differ(name, getattr(plan, name) or [], reading)
    _heights(plan, reading)
    _balloon(plan.balloon, ("balloon",), reading)
    for index, balloon in enumerate(plan.balloon_option or []):
        _balloon(balloon, ("balloon_option", index), reading)
    _cylinder(plan, reading)
    train_kg = _train_mass_kg(plan, reading)
    _fill(plan.fill, ("fill",), train_kg, reading)
    for index, fill in enumerate(plan.fill_option or []):
        _fill(fill, ("fill_option", index), train_kg, reading)
    for index, device in enumerate(plan.cut_down or []):
        _cut_down(device, index, plan, reading)
    _window(plan, reading)
    for index, vehicle in enumerate(plan.vehicle or []):
        _vehicle(vehicle, index, reading)
    for index, permission in enumerate(plan.permission or []):
        _permission(permission, index, plan, reading)


def _names_differ(section: str, blocks: list[Any], reading: Reading) -> None:
    counts = Counter(block.name for block in blocks if block.name is not None)
    seen: set[str] = set()
    for index, block in enumerate(blocks):
        if block.name in seen:
            reading.refuse(
                (section, index, "name"),
                f"{counts[block.name]} blocks [[{section}]] have this name",
                f'Give each a name of its own, for example name = "{block.name} {index + 1}".',
            )
        if block.name is not None:
            seen.add(block.name)


def _heights(plan: PlanKeys, reading: Reading) -> None:
    sites = [site.height for site in plan.site or [] if site.height is not None]
    wanted = plan.mission.wanted_height if plan.mission else None
    if sites and wanted is not None and wanted < max(sites) + _LEAST_CLIMB_ABOVE_SITE_M:
        reading.refuse(("mission", "wanted_height"), f"less than 1 km above the highest site, {max(sites):.0f} m")


def _balloon(balloon: BalloonKeys | None, at: Path, reading: Reading) -> None:
    if balloon is None or balloon.mass is None:
        return
    prior = prior_burst_diameter_m(balloon.mass)
    burst, unstretched = balloon.burst_diameter, balloon.unstretched_diameter
    if burst is not None and not prior / 2.0 <= burst <= prior * 2.0:
        reading.refuse(
            (*at, "burst_diameter"),
            f"absurd for a balloon of {balloon.mass * 1000.0:.0f} g, near {prior:.1f} m: is the unit right?",
            f'Write the diameter (not the radius) of the maker\'s sheet, for example burst_diameter = "{prior:.1f} m".',
        )
    if unstretched is None or (reading.given((*at, "burst_diameter")) is not None and burst is None):
        return
    if (burst or prior) <= LEAST_STRETCH * unstretched:
        reading.refuse(
            (*at, "unstretched_diameter"),
            f"the burst diameter of {burst or prior:.2f} m is not {LEAST_STRETCH} times as large",
            f'Leave it out, or write for example unstretched_diameter = "{(burst or prior) / 5.5:.2f} m".',
        )


def _cylinder(plan: PlanKeys, reading: Reading) -> None:
    cylinder = plan.gas.cylinder if plan.gas else None
    if cylinder is None or cylinder.pressure is None or cylinder.residual is None:
        return
    if cylinder.residual >= cylinder.pressure:
        reading.refuse(("gas", "cylinder", "residual"), "not below the pressure in the cylinder")


def _train_mass_kg(plan: PlanKeys, reading: Reading) -> float | None:
    parts: list[Any] = [*(plan.package or []), *(plan.line or []), *([plan.canopy] if plan.canopy else [])]
    masses = [part.mass for part in parts]
    complete = plan.package and plan.line and plan.canopy and None not in masses
    train_kg = sum(masses) if complete else None
    if train_kg is not None and not _LEAST_TRAIN_KG <= train_kg <= _MOST_TRAIN_KG:
        reading.refuse(
            ("package",),
            f"packages, lines and canopy together are {train_kg:.3f} kg; 20 g to 60 kg can be planned",
        )
    return train_kg


def _fill(fill: FillKeys | None, at: Path, train_kg: float | None, reading: Reading) -> None:
    if fill is None:
        return
    ways = [way for way in FILL_WAYS if reading.given((*at, way)) is not None]
    if len(ways) != 1:
        reading.refuse(
            at,
            f"{' and '.join(ways) if ways else 'none'} given; exactly one of {', '.join(FILL_WAYS)} is needed",
            'Keep one, for example climb = "5 m/s".',
        )
    if "height" in ways and reading.given((*at, "chance")) is None:
        reading.refuse((*at, "chance"), "missing: a fill for a height needs the chance to reach it")
    if "height" not in ways and reading.given((*at, "chance")) is not None:
        reading.refuse((*at, "chance"), "belongs to height alone", 'Take it out, or write height = "30 km" with it.')
    if fill.scale_lift is not None and train_kg is not None:
        weight_n = train_kg * standard_gravity_m_s2
        if fill.scale_lift <= weight_n:
            more_gf = 1500.0 * train_kg
            reading.refuse(
                (*at, "scale_lift"),
                f"does not lift the train, which weighs {train_kg * 1000.0:.0f} gf",
                f'Write a lift above that, for example scale_lift = "{more_gf:.0f} gf".',
            )


def _cut_down(device: CutDownKeys, index: int, plan: PlanKeys, reading: Reading) -> None:
    if device.trigger is None:
        return
    wanted = _TRIGGER_KEYS.get(device.trigger)
    for trigger, name in _TRIGGER_KEYS.items():
        path = ("cut_down", index, name)
        given = reading.given(path) is not None
        if name == wanted and not given:
            reading.refuse(path, f"missing: trigger {trigger} needs it")
        elif name != wanted and given:
            own = f"trigger {device.trigger} takes {wanted or 'no such key'}"
            fix = f'Take it out, or write trigger = "{trigger}".'
            reading.refuse(path, f"belongs to trigger {trigger}; {own}", fix)
    if wanted == "keep_inside" and device.keep_inside:
        _area(device.keep_inside, index, plan, reading)


def _area(corners: list[list[float]], index: int, plan: PlanKeys, reading: Reading) -> None:
    from shapely import Point, Polygon  # only plans with an area pay for it

    path = ("cut_down", index, "keep_inside")
    for number, (latitude, longitude) in enumerate(corners):
        if not (abs(latitude) <= 90.0 and abs(longitude) <= 180.0):
            reading.refuse((*path, number), "not a [latitude, longitude] in degrees")
            return
    # Longitudes are counted from the first corner, so that an area across the date line stays whole.
    first = corners[0][1]
    polygon = Polygon([((longitude - first + 180.0) % 360.0 - 180.0, latitude) for latitude, longitude in corners])
    if not polygon.is_valid or polygon.area == 0.0:
        reading.refuse(path, "the corners do not go round an area: its edges cross or it is flat")
        return
    for site in plan.site or []:
        if site.name is None or site.latitude_deg is None or site.longitude_deg is None:
            continue
        if not polygon.contains(Point((site.longitude_deg - first + 180.0) % 360.0 - 180.0, site.latitude_deg)):
            reading.refuse(path, f"site {site.name} is outside, so the train would be cut at release")


def _window(plan: PlanKeys, reading: Reading) -> None:
    window = plan.window
    if window is None or window.opens is None or window.closes is None:
        return
    if window.closes <= window.opens:
        reading.refuse(("window", "closes"), "not after the window opens")
    elif window.release is not None and not window.opens <= window.release <= window.closes:
        reading.refuse(("window", "release"), "outside the window")
    if window.step is not None and (window.closes - window.opens).total_seconds() > MOST_LAUNCHES * window.step:
        reading.refuse(("window", "step"), f"more than {MOST_LAUNCHES} launches from opening to closing")


def _permission(permission: PermissionKeys, index: int, plan: PlanKeys, reading: Reading) -> None:
    closes = plan.window.closes if plan.window else None
    if permission.until is not None and closes is not None and permission.until < closes:
        fix = "Ask for a longer one, close the window earlier, or take the block out."
        reading.refuse(("permission", index, "until"), "it ends before the window closes", fix)


def _vehicle(vehicle: VehicleKeys, index: int, reading: Reading) -> None:
    if (vehicle.latitude_deg is None) != (vehicle.longitude_deg is None):
        lacks = "latitude_deg" if vehicle.latitude_deg is None else "longitude_deg"
        reading.refuse(("vehicle", index, lacks), "missing: a place needs both", "Give both or none.")
