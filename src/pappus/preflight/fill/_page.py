"""The fill card as a page: the number to read first, then what it means."""

from __future__ import annotations

from pappus.export import Grid, Page, Rows, Sentences
from pappus.preflight.fill._card import Consequence, FillCard
from pappus.units import (
    foot_m,
    gram_force_n,
    say_distance,
    say_height,
    say_lift,
    say_speed,
    say_time,
    zero_celsius_k,
)

FOOT = "A planning aid: it replaces no training, no supplier's sheet and no local rule."


def fill_page(card: FillCard) -> Page:
    """What the crew at the balloon reads."""
    fill = card.fill
    lead = (
        f"Read {say_lift(fill.scale_lift_n)} on the scale, within ±{say_lift(card.tolerance_n)}.",
        f"Site {card.site.name}, release {say_time(card.release, card.plan.mission.time_zone, date=True)}.",
    )
    sections = (
        Rows("", _gas(card)),
        _consequences(card),
        _climb(card),
        Sentences("Cautions", card.cautions),
        Sentences("Assumed", card.plan.assumptions),
    )
    return Page(lead, card.plan.mission.about or "", sections, FOOT)


def _between(card: FillCard) -> str:
    low, high = (say_height(height) for height in card.burst_between_msl_m)
    return f"8 of 10 between {low} and {high}, early bursts apart"


def _gas(card: FillCard) -> tuple[tuple[str, str], ...]:
    fill, gas, envelope = card.fill, card.plan.flight_train.gas, card.plan.flight_train.envelope
    air = f"{fill.site_pressure_pa / 100:.1f} hPa, {fill.site_temperature_k - zero_celsius_k:.1f} °C"
    purity = f"{100 * gas.purity:.4g} % pure"
    rows = [
        ("Gas", f"{gas.kind}, {purity}: {fill.volume_m3:.2f} m³ at the site, {fill.gas_mass_kg:.3f} kg"),
        ("Diameter at release", f"{fill.diameter_m:.2f} m"),
        ("Gross lift", say_lift(fill.gross_lift_n)),
        ("Lift at the neck", f"{say_lift(fill.scale_lift_n)}, the balloon alone, before the train is tied on"),
        ("Free lift", say_lift(fill.free_lift_n)),
        ("Climb", f"{say_speed(card.climb_m_s)}, mean of the first 5 km"),
        ("Burst", f"{say_height(card.burst_msl_m)} at {envelope.burst_diameter_m:.2f} m; {_between(card)}"),
        ("Air at the site", f"{air}; {card.air_name}"),
    ]
    cylinder = card.plan.cylinder
    if card.cylinders is not None and card.cylinder_share is not None and cylinder is not None:
        kind = (
            f"{cylinder.water_volume_m3 * 1000:.0f} L at {cylinder.pressure_pa / 1e5:.0f} bar absolute, "
            f"{cylinder.temperature_k - zero_celsius_k:.0f} °C"
        )
        left = f"{cylinder.residual_pressure_pa / 1e5:.0f} bar left inside"
        rows.append(
            ("Cylinders to bring", f"{card.cylinders} of {kind} ({card.cylinder_share:.2f} used, {left}), and a spare")
        )
    return tuple(rows)


def _consequences(card: FillCard) -> Grid:
    columns = ("gf", "N", "climb m/s", "burst km", "ft", "landing moves", "towards")
    here = _row(card.fill.scale_lift_n, card.climb_m_s, card.burst_msl_m, "-", "")
    rows = (_consequence(card.less), here, _consequence(card.more))
    return Grid("If the scale reads", columns, rows, marked=1)


def _consequence(other: Consequence) -> tuple[str, ...]:
    shift, towards = "give --winds", ""
    if other.landing_shift_m is not None and other.shift_bearing_deg is not None:
        shift, towards = say_distance(other.landing_shift_m), f"{other.shift_bearing_deg:03.0f}°"
    return _row(other.scale_lift_n, other.climb_m_s, other.burst_msl_m, shift, towards)


def _row(lift_n: float, climb_m_s: float, burst_msl_m: float, shift: str, towards: str) -> tuple[str, ...]:
    heights = f"{burst_msl_m / 1000:.2f}", f"{burst_msl_m / foot_m:,.0f}"
    return f"{lift_n / gram_force_n:.0f}", f"{lift_n:.2f}", f"{climb_m_s:.2f}", *heights, shift, towards


def _climb(card: FillCard) -> Grid:
    rows = tuple(
        (f"{height / 1000:.1f}", f"{height / foot_m:,.0f}", f"{rate:.2f}", f"{rate / foot_m * 60:,.0f}")
        for height, rate in zip(card.climb_heights_msl_m, card.climb_rates_m_s, strict=True)
    )
    return Grid("Climb on the way up", ("km", "ft", "m/s", "ft/min"), rows)
