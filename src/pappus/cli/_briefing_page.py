"""The briefing as a page of a terminal."""

from __future__ import annotations

from datetime import datetime

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from pappus.cli._tables import grid_table, list_of, rows_table
from pappus.landing import Quantiles
from pappus.preflight import Briefing, after, say_chance, say_near, three_lines
from pappus.units import (
    foot_m,
    knot_m_s,
    say_area_km2,
    say_distance,
    say_duration,
    say_height,
    say_height_range,
    say_position,
    say_speed,
    say_time,
    zero_celsius_k,
)


def briefing_page(answer: Briefing) -> list[RenderableType]:
    """Three lines first; then the numbers behind them, in the order in which a flight happens."""
    return [
        *[Text(line, style="bold") for line in three_lines(answer)],
        "",
        _header(answer),
        _climb(answer),
        rows_table("Height and time", _height_rows(answer)),
        rows_table("Landing", _landing_rows(answer)),
        rows_table("What spreads the landing, each alone", _unknown_rows(answer)),
        list_of("What this does not know", answer.cannot_tell),
        *([list_of("Winds not used", answer.winds_not_used)] if answer.winds_not_used else []),
        "A planning aid: it replaces no permission and no judgement. Local rules decide.",
    ]


def _header(answer: Briefing) -> RenderableType:
    mission, site, field = answer.plan.mission, answer.site, answer.field
    rows = [
        ("Mission", mission.name if mission.client is None else f"{mission.name}, for {mission.client}"),
        ("Site", f"{site.name}, {site.place}: {say_position(site.latitude_deg, site.longitude_deg)}, "
                 f"{say_height(site.height_msl_m)}"),
        ("Release", _clock(answer, answer.release, date=True)),
        ("Winds", f"{field.name}; {_age(answer)}; known to {say_height(field.coverage.top_msl_m)}"),
    ]  # fmt: skip
    if mission.about:
        rows.insert(0, ("Note", mission.about))
    return rows_table("", rows)


def _age(answer: Briefing) -> str:
    seconds = (answer.release - answer.field.issued).total_seconds()
    when = "old" if seconds >= 0 else "before its time"
    return f"{say_duration(abs(seconds))} {when} at release"


def _climb(answer: Briefing) -> RenderableType:
    table = grid_table(
        "Climb by layer", "up to km", "ft", "climb m/s", "ft/min", "min", "wind m/s", "kt", "from", "coldest °C"
    )
    for layer in answer.layers:
        table.add_row(
            f"{layer.top_msl_m / 1000:.1f}" + (" *" if layer.extrapolated else ""),
            f"{layer.top_msl_m / foot_m:,.0f}",
            f"{layer.rate_m_s:.1f}",
            f"{layer.rate_m_s / foot_m * 60:,.0f}",
            f"{layer.seconds / 60:.0f}",
            f"{layer.wind_speed_m_s:.1f}",
            f"{layer.wind_speed_m_s / knot_m_s:.0f}",
            f"{layer.wind_from_deg:03.0f}°",
            f"{layer.coldest_k - zero_celsius_k:.0f}",
        )
    if any(layer.extrapolated for layer in answer.layers):
        table.caption = "* wind extrapolated"
    return Padding(table, (1, 0, 0, 0))


def _height_rows(answer: Briefing) -> list[tuple[str, str]]:
    wanted = answer.plan.mission.wanted_height_msl_m
    low, middle, high = answer.top_msl_m.values
    rows = [
        (f"Reaches {say_height(wanted)}", say_chance(answer.reaches_wanted)),
        ("Top", f"{say_height(middle)}; 90 % within {say_height_range(low, high)}"),
        ("Top after", _minutes(answer.burst_time_s) + f"; nominal {_at(answer, answer.burst_time_s.values[1])}"),
    ]
    rows += [(f"Above {say_height(height)}", _minutes(times)) for height, times in answer.above_s.items()]
    return rows


def _landing_rows(answer: Briefing) -> list[tuple[str, str]]:
    area = answer.area
    rows = []
    if answer.near is not None and area.mode_deg is not None:
        rows.append(("Most likely", f"{say_near(answer.near)}; {say_position(*area.mode_deg)}"))
    for part in area.parts:
        size = part.why_not if part.area_km2 is None else say_area_km2(part.area_km2)
        if part.area_sd_km2 is not None:
            size += f", sampling error {part.area_sd_km2:,.0f} km²"
        rows.append((f"{part.probability:.0%} area".replace("%", " %"), size))
    if answer.arrival_s is not None:
        low, middle, high = (_at(answer, seconds) for seconds in answer.arrival_s.values)
        rows.append(("Touchdown", f"{middle}; 90 % from {low} to {high}"))
    if answer.touchdown_m_s is not None:
        _, middle_speed, high_speed = answer.touchdown_m_s.values
        rows.append(("Sink at touchdown", f"{say_speed(middle_speed)}; 1 in 20 above {say_speed(high_speed)}"))
    if answer.drift_m is not None:
        near, middle_m, far = answer.drift_m.values
        spread = f"90 % within {say_distance(near)} to {say_distance(far)}"
        rows.append(("Distance from site", f"{say_distance(middle_m)}; {spread}"))
    rows.append(("Flights", f"{area.flights:,} flown, {area.landed:,} landed, {area.unknown:,} unknown"))
    return rows


def _unknown_rows(answer: Briefing) -> list[tuple[str, str]]:
    return [(unknown.name, say_distance(unknown.landing_spread_m)) for unknown in answer.unknowns]


def _minutes(times: Quantiles) -> str:
    low, middle, high = (value / 60.0 for value in times.values)
    return f"{middle:.0f} min (90 % within {low:.0f} to {high:.0f} min)"


def _at(answer: Briefing, seconds: float) -> str:
    return _clock(answer, after(answer.release, seconds))


def _clock(answer: Briefing, moment: datetime, *, date: bool = False) -> str:
    return say_time(moment, answer.plan.mission.time_zone, date=date)
