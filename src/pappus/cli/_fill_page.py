"""The fill card as a page of a terminal."""

from __future__ import annotations

from rich.console import RenderableType
from rich.text import Text

from pappus.cli._tables import grid_table, list_of, rows_table
from pappus.preflight import Consequence, FillCard
from pappus.units import foot_m, gram_force_n, say_distance, say_height, say_lift, say_speed, say_time


def fill_page(card: FillCard) -> list[RenderableType]:
    """The number to read first; then what it means."""
    fill, gas = card.fill, card.plan.flight_train.gas
    title = f"Read {say_lift(fill.scale_lift_n)} on the scale, within ±{say_lift(card.tolerance_n)}"
    gas_rows = [
        ("Gas", f"{gas.kind}, {100 * gas.purity:.4g} % pure: {fill.volume_m3:.2f} m³ at the site, {fill.gas_mass_kg:.3f} kg"),
        ("Diameter at release", f"{fill.diameter_m:.2f} m"),
        ("Gross lift", say_lift(fill.gross_lift_n)),
        ("Lift at the neck", f"{say_lift(fill.scale_lift_n)}, the balloon alone, before the train is tied on"),
        ("Free lift", say_lift(fill.free_lift_n)),
        ("Climb", f"{say_speed(card.climb_m_s)}, mean of the first 5 km"),
        ("Burst", f"{say_height(card.burst_msl_m)} at {card.plan.flight_train.envelope.burst_diameter_m:.2f} m"),
        ("Site air", f"{fill.site_pressure_pa / 100:.1f} hPa, {fill.site_temperature_k - 273.15:.1f} °C; {card.air_name}"),
    ]  # fmt: skip
    if card.cylinders is not None and card.cylinder_share is not None and card.plan.cylinder is not None:
        cylinder = card.plan.cylinder
        gas_rows.append(
            ("Cylinders to bring",
             f"{card.cylinders} ({card.cylinder_share:.2f} used) of {cylinder.water_volume_m3 * 1000:.0f} L at "
             f"{cylinder.pressure_pa / 1e5:.0f} bar absolute, {cylinder.temperature_k - 273.15:.0f} °C, "
             f"{cylinder.residual_pressure_pa / 1e5:.0f} bar left inside; bring one spare")
        )  # fmt: skip
    return [
        Text(title, style="bold"),
        f"Site {card.site.name}, release {say_time(card.release, card.plan.mission.time_zone, date=True)}",
        *([Text(card.plan.mission.about, style="italic")] if card.plan.mission.about else []),
        rows_table("", gas_rows),
        _consequences(card),
        _climb(card),
        list_of("Assumed", card.plan.assumptions),
        list_of("Cautions", card.cautions),
    ]


def _consequences(card: FillCard) -> RenderableType:
    table = grid_table("If the scale reads", "gf", "N", "climb m/s", "burst km", "ft", "landing moves", "towards")
    here = (card.fill.scale_lift_n, card.climb_m_s, card.burst_msl_m, "-", "")
    rows = [_consequence(card.less), here, _consequence(card.more)]
    for index, (lift_n, climb, burst, shift, bearing) in enumerate(rows):
        table.add_row(
            f"{lift_n / gram_force_n:.0f}",
            f"{lift_n:.2f}",
            f"{climb:.2f}",
            f"{burst / 1000:.2f}",
            f"{burst / foot_m:,.0f}",
            shift,
            bearing,
            style="bold" if index == 1 else "",
        )
    return table


def _consequence(other: Consequence) -> tuple[float, float, float, str, str]:
    lift, climb, burst = other.scale_lift_n, other.climb_m_s, other.burst_msl_m
    if other.landing_shift_m is None or other.shift_bearing_deg is None:
        return lift, climb, burst, "give --winds", ""
    return lift, climb, burst, say_distance(other.landing_shift_m), f"{other.shift_bearing_deg:03.0f}°"


def _climb(card: FillCard) -> RenderableType:
    table = grid_table("Climb on the way up", "km", "ft", "m/s", "ft/min")
    for height, rate in zip(card.climb_heights_msl_m, card.climb_rates_m_s, strict=True):
        table.add_row(f"{height / 1000:.1f}", f"{height / foot_m:,.0f}", f"{rate:.2f}", f"{rate / foot_m * 60:,.0f}")
    return table
