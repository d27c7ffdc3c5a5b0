"""From checked keys to domain objects, and the words for what the plan leaves open."""

from __future__ import annotations

from typing import Any, cast

from pappus.decision import GoLimits
from pappus.flight_train import (
    Canopy,
    CutDown,
    Cylinder,
    Envelope,
    FillWish,
    FlightTrain,
    Gas,
    Line,
    Package,
    prior_burst_diameter_m,
)
from pappus.plan._checks import FILL_WAYS
from pappus.plan._go_keys import GoKeys, RulesKeys
from pappus.plan._key import Section
from pappus.plan._keys import PlanKeys
from pappus.plan._plan import (
    Call,
    CrewMember,
    EnsembleSize,
    LegalState,
    Limits,
    Mission,
    Plan,
    ReceiverPlace,
    Scatter,
    Site,
    Vehicle,
    Window,
)
from pappus.plan._reading import Reading
from pappus.plan._train_keys import BalloonKeys, CutDownKeys, FillKeys, GasKeys
from pappus.rules import Equipment, Operator, Permission

_STRETCH = 5.5
"""Burst over unstretched diameter: 5 to 6 in the handbook table that the prior is fitted to (from memory)."""
_SHEET_LN_SD, _PRIOR_LN_SD = 0.06, 0.08
"""Scatter of a batch about its sheet [own prior]; with the residual of the fit when there is no sheet."""
_FITTED_KG = (0.1, 3.0)


def build(keys: PlanKeys, reading: Reading, source_sha256: str) -> Plan:
    """The plan; every key has been read and checked."""
    mission, window, limits, ensemble = keys.mission, keys.window, keys.limits, keys.ensemble
    assert limits is not None  # every key of it has a default
    assert ensemble is not None  # likewise
    return Plan(
        mission=Mission(
            name=mission.name,
            client=mission.client,
            wanted_height_msl_m=mission.wanted_height,
            time_zone=mission.time_zone,
            heights_of_interest_msl_m=tuple(mission.heights_of_interest),
            about=mission.about,
        ),
        sites=tuple(
            Site(s.name, s.place, s.latitude_deg, s.longitude_deg, s.height, s.pressure, s.temperature)
            for s in keys.site
        ),
        flight_train=_flight_train(keys),
        cylinder=_cylinder(keys.gas),
        fill=_fill(keys.fill),
        fill_options=tuple((option.name, _fill(option)) for option in keys.fill_option or []),
        balloon_options=tuple((option.name, _envelope(option)) for option in keys.balloon_option or []),
        window=Window(window.opens, window.closes, window.release or window.opens, window.step),
        limits=Limits(
            sounding_distance_m=limits.sounding_distance,
            sounding_age_s=limits.sounding_age,
            forecast_age_s=limits.forecast_age,
            extrapolation_above_top_m=limits.extrapolation_above_top,
            least_climb_m_s=limits.least_climb,
            longest_flight_s=limits.longest_flight,
            landing_ground_height_msl_m=limits.landing_ground_height,
        ),
        scatter=_scatter(keys),
        ensemble=EnsembleSize(ensemble.flights, ensemble.seed, ensemble.run_half_life),
        go=_go(keys.go),
        people_per_km2=keys.landing.people_per_km2 if keys.landing else None,
        legal=_legal(keys.rules),
        permissions=tuple(Permission(tuple(p.covers), p.reference, p.given_by, p.until) for p in keys.permission or []),
        equipment=_equipment(keys),
        trackers=tuple((keys.equipment.trackers if keys.equipment else None) or ()),
        operator=None if keys.operator is None else Operator(keys.operator.name, keys.operator.phone),
        crew=tuple(CrewMember(c.role, c.name, c.phone) for c in keys.crew or []),
        calls=tuple(Call(c.when, c.whom, c.phone) for c in keys.call or []),
        vehicles=tuple(Vehicle(v.name, v.latitude_deg, v.longitude_deg) for v in keys.vehicle or []),
        receivers=tuple(ReceiverPlace(r.name, r.role, r.kind, r.address) for r in keys.receiver or []),
        assumptions=_assumptions(keys, reading),
        source_sha256=source_sha256,
    )


def _scatter(keys: PlanKeys) -> Scatter:
    canopy, own = keys.canopy, keys.scatter
    fall = canopy.fall_exponent, canopy.fall_exponent_spread, canopy.fall_wobble
    if own is None:
        return Scatter(*fall)
    return Scatter(
        *fall, own.drag_factor, own.drag_factor_spread, own.climb_wobble, own.gas_warmth_spread, own.leak_chance,
        own.leak_per_hour, own.release_spread,
    )  # fmt: skip


def _go(keys: GoKeys | None) -> GoLimits:
    assert keys is not None  # every key of it has a default
    return GoLimits(
        reach_wanted_least=keys.reach_wanted_height,
        land_acceptably_least=keys.land_acceptably,
        water_most=keys.water,
        built_up_most=keys.built_up,
        road_most=keys.road,
        rail_most=keys.rail,
        power_line_most=keys.power_line,
        keep_out_most=keys.keep_out,
        leave_permit_area_most=keys.leave_permit_area,
        abroad_most=keys.abroad,
        airspace_most=keys.airspace,
        casualty_expectation_most=keys.casualty_expectation,
        surface_wind_most_m_s=keys.surface_wind,
        gust_most_m_s=keys.gust,
        cloud_most=keys.cloud,
        visibility_least_m=keys.visibility,
        rain_most=keys.rain / 3600.0,
        sun_elevation_least_deg=keys.sun_elevation,
        forecast_age_most_s=keys.forecast_age,
        drive_time_most_s=keys.drive,
        drift_most_m=keys.drift,
        unknown_share_most=keys.unknown,
    )


def _legal(keys: RulesKeys | None) -> LegalState:
    assert keys is not None  # every key of it has a default
    return LegalState(
        profile=keys.profile,
        application_sent=keys.application_sent,
        notice_given=keys.notice_given,
        notified_release=keys.notified_release,
        position_interval_s=keys.position_interval,
        drops_object=keys.drops_object,
        assembly_near=keys.assembly_near,
        control_zone=keys.control_zone,
        radar_in_use=keys.radar_in_use,
        ads_b_in_use=keys.ads_b_in_use,
        meteorological_only=keys.meteorological_only,
    )


def _equipment(keys: PlanKeys) -> Equipment:
    carried = keys.equipment
    assert carried is not None  # every key of it has a default
    return Equipment(
        payload_cut_downs=sum(device.devices for device in keys.cut_down or []),
        envelope_terminators=carried.envelope_terminators,
        radar_reflector=carried.radar_reflector,
        continuous_tracking=carried.continuous_tracking,
        transponder=carried.transponder,
        ads_b=carried.ads_b,
        light_visible_m=carried.light_visible,
        light_flashes_per_min=carried.light_flashes,
        suspension_marked=carried.train_marked,
        antenna_breaking_force_n=carried.antenna_breaking_force,
        antenna_pennant_spacing_m=carried.antenna_pennant_spacing,
        owner_marked=carried.owner_marked,
    )


def _cylinder(gas: GasKeys) -> Cylinder | None:
    one = gas.cylinder
    return None if one is None else Cylinder(one.volume, one.pressure, one.temperature, one.residual)


def _flight_train(keys: PlanKeys) -> FlightTrain:
    canopy = keys.canopy
    return FlightTrain(
        envelope=_envelope(keys.balloon),
        gas=Gas(keys.gas.kind, keys.gas.purity),
        canopy=Canopy(
            mass_kg=canopy.mass,
            area_m2=canopy.area,
            drag_coefficient=canopy.drag_coefficient,
            drag_area_ln_sd=canopy.spread,
            fouled_chance=canopy.fouled_chance,
        ),
        packages=tuple(Package(p.name, p.mass, cast(Any, tuple(p.edges))) for p in keys.package),
        lines=tuple(Line(line.name, line.length, line.mass, line.breaking_force) for line in keys.line),
        cut_downs=tuple(_cut_down(device) for device in keys.cut_down or []),
    )


def _envelope(balloon: BalloonKeys) -> Envelope:
    is_prior = balloon.burst_diameter is None
    burst = balloon.burst_diameter or prior_burst_diameter_m(balloon.mass)
    scatter = balloon.burst_scatter
    return Envelope(
        mass_kg=balloon.mass,
        burst_diameter_m=burst,
        burst_ln_sd=scatter if scatter is not None else (_PRIOR_LN_SD if is_prior else _SHEET_LN_SD),
        unstretched_diameter_m=balloon.unstretched_diameter or burst / _STRETCH,
        diameter_is_prior=is_prior,
        early_burst_chance=balloon.early_burst_chance,
    )


def _fill(fill: FillKeys) -> FillWish:
    by = next(way for way in FILL_WAYS if getattr(fill, way) is not None)
    return FillWish(by=cast(Any, by), value=getattr(fill, by), chance=fill.chance, scale_sd_n=fill.scale_scatter)


def _cut_down(device: CutDownKeys) -> CutDown:
    corners = device.keep_inside
    return CutDown(
        name=device.name,
        devices=device.devices,
        trigger=device.trigger,
        link=device.link,
        after_release_s=device.after,
        height_msl_m=device.height,
        keep_inside_deg=None if corners is None else tuple((corner[0], corner[1]) for corner in corners),
    )


def _assumptions(keys: PlanKeys, reading: Reading) -> tuple[str, ...]:
    said = []
    envelope = _envelope(keys.balloon)
    if envelope.diameter_is_prior:
        mass_kg, burst_m = envelope.mass_kg, envelope.burst_diameter_m
        said.append(f"balloon.burst_diameter: {burst_m:.2f} m from the mass alone, no maker's sheet")
        if not _FITTED_KG[0] <= mass_kg <= _FITTED_KG[1]:
            said.append(f"balloon.mass: {mass_kg:g} kg is outside 0.1 to 3 kg, where that power law was fitted")
    for name in ("balloon", "gas", "fill", "canopy"):
        model: Section = getattr(keys, name)
        for key, info in type(model).model_fields.items():
            if isinstance(info.default, str | float) and reading.given((name, key)) is None:
                said.append(f"{name}.{key}: {info.default} taken, the plan does not say")
    if keys.balloon.burst_scatter is None:
        said.append(f"balloon.burst_scatter: {envelope.burst_ln_sd * 100.0:.0f} % taken, the plan does not say")
    if keys.balloon.unstretched_diameter is None:
        said.append(f"balloon.unstretched_diameter: {envelope.unstretched_diameter_m:.2f} m, burst / {_STRETCH}")
    if keys.window.release is None:
        said.append("window.release: when the window opens, the plan does not say")
    return tuple(said)
