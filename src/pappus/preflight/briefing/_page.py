"""The briefing as a page: three lines first, then the numbers behind them in the order in which a flight happens."""

from __future__ import annotations

from datetime import datetime

from pappus.export import Grid, Page, Rows, Section, Sentences
from pappus.landing import Quantiles
from pappus.preflight.briefing._briefing import Briefing
from pappus.preflight.briefing._words import after, say_chance, say_near, three_lines
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
from pappus.wind import WindField

FOOT = "A planning aid: it replaces no permission and no judgement. Local rules decide."


def briefing_page(answer: Briefing) -> Page:
    """Everything a briefing says, for a terminal, a browser and the text file in the folder."""
    sections: list[Section] = [
        Rows("", _head(answer)),
        _climb(answer),
        Rows("Height and time", _height(answer)),
        Rows("Landing", _landing(answer)),
        Rows("What spreads the landing, each alone",
             tuple((unknown.name, say_distance(unknown.landing_spread_m)) for unknown in answer.unknowns)),
        *_runs(answer),
        Sentences("What this does not know", answer.cannot_tell),
    ]  # fmt: skip
    if answer.winds_not_used:
        sections.append(Sentences("Winds not used", answer.winds_not_used))
    return Page(three_lines(answer), answer.plan.mission.about or "", tuple(sections), FOOT)


def _head(answer: Briefing) -> tuple[tuple[str, str], ...]:
    mission, site = answer.plan.mission, answer.site
    position = say_position(site.latitude_deg, site.longitude_deg)
    return (
        ("Mission", mission.name if mission.client is None else f"{mission.name}, for {mission.client}"),
        ("Site", f"{site.name}, {site.place}: {position}, {say_height(site.height_msl_m)}"),
        ("Release", _clock(answer, answer.release, date=True)),
        *(("Winds", _winds(answer, field)) for field in answer.known),
        *((("Near the ground", weather),) if (weather := _surface(answer)) else ()),
    )


def say_winds(field: WindField) -> str:
    """A sounding or run, and the file it came from."""
    files = ", ".join(source.name for source in field.sources[:2])
    return f"{field.name} ({files}{' ...' if len(field.sources) > 2 else ''})"


def _winds(answer: Briefing, field: WindField) -> str:
    seconds = (answer.release - field.issued).total_seconds()
    age = f"{say_duration(abs(seconds))} {'old' if seconds >= 0 else 'before its time'} at release"
    members = f"; {field.members} members" if field.members > 1 else ""
    return f"{say_winds(field)}{members}; {age}; known to {say_height(field.coverage.top_msl_m)}"


def _surface(answer: Briefing) -> str:
    """Weather near the ground at release, what the forecast holds of it."""
    at = answer.surface
    if at is None:
        return ""
    said = []
    if at.wind_m_s is not None and at.wind_most_m_s is not None and at.wind_from_deg is not None:
        most = f" (to {say_speed(at.wind_most_m_s)})" if at.wind_most_m_s > at.wind_m_s + 0.05 else ""
        said.append(f"wind {say_speed(at.wind_m_s)}{most} from {at.wind_from_deg:03.0f}°")
    if at.gust_m_s is not None and at.gust_most_m_s is not None:
        most = f" (to {say_speed(at.gust_most_m_s)})" if at.gust_most_m_s > at.gust_m_s + 0.05 else ""
        said.append(f"gusts {say_speed(at.gust_m_s)}{most}")
    if at.cloud_fraction is not None:
        said.append(f"cloud {100 * at.cloud_fraction:.0f} %")
    if at.visibility_least_m is not None:
        said.append(f"visibility {say_distance(at.visibility_least_m)}")
    if at.temperature_k is not None:
        said.append(f"{at.temperature_k - zero_celsius_k:.0f} °C")
    return "at release: " + ", ".join(said) if said else ""


def _climb(answer: Briefing) -> Grid:
    rows = tuple(
        (
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
        for layer in answer.layers
    )
    columns = ("up to km", "ft", "climb m/s", "ft/min", "min", "wind m/s", "kt", "from", "coldest °C")
    extrapolated = any(layer.extrapolated for layer in answer.layers)
    return Grid("Climb by layer", columns, rows, "* wind extrapolated" if extrapolated else "")


def _height(answer: Briefing) -> tuple[tuple[str, str], ...]:
    low, middle, high = answer.top_msl_m.values
    nominal = float(answer.nominal.top_time_s[0]) - answer.nominal.release_time_s
    return (
        (f"Reaches {say_height(answer.plan.mission.wanted_height_msl_m)}", say_chance(answer.reaches_wanted)),
        ("Top", f"{say_height(middle)}; 90 % within {say_height_range(low, high)}"),
        ("Top after", f"{_minutes(answer.burst_time_s)}; nominal at {_at(answer, nominal)}"),
        *((f"Above {say_height(height)}", _minutes(times)) for height, times in answer.above_s.items()),
    )


def _landing(answer: Briefing) -> tuple[tuple[str, str], ...]:
    area, rows = answer.area, []
    if answer.near is not None and area.mode_deg is not None:
        rows.append(("Most likely", f"{say_near(answer.near)}; {say_position(*area.mode_deg)}"))
    for part in area.parts:
        size = part.why_not if part.area_km2 is None else say_area_km2(part.area_km2)
        if part.area_sd_km2 is not None:
            size += f", sampling error {part.area_sd_km2:,.0f} km²"
        rows.append((f"{100 * part.probability:.0f} % area", size))
    if answer.area_without_extrapolation_km2 is not None and area.parts[1].area_km2 is not None:
        grew = 100.0 * (area.parts[1].area_km2 / answer.area_without_extrapolation_km2 - 1.0)
        top = say_height(min(field.coverage.top_msl_m for field in answer.known))
        narrow = say_area_km2(answer.area_without_extrapolation_km2)
        rows.append(
            ("Extrapolation", f"above {top} the winds are extrapolated: the 90 % area is {grew:+.0f} % of {narrow}")
        )
    if area.nominal is not None:
        part = area.nominal.parts[1]
        size = part.why_not if part.area_km2 is None else say_area_km2(part.area_km2)
        rows.append(("90 %, nothing fails", f"{size}: neither early burst nor fouled canopy, where the chase waits"))
    if answer.arrival_s is not None:
        early, middle, late = (_at(answer, seconds) for seconds in answer.arrival_s.values)
        rows.append(("Touchdown", f"{middle}; 90 % from {early} to {late}"))
    if answer.touchdown_m_s is not None:
        _, usual, fast = answer.touchdown_m_s.values
        rows.append(("Sink at touchdown", f"{say_speed(usual)}; 1 in 20 above {say_speed(fast)}"))
    if answer.drift_m is not None:
        near, half, far = (say_distance(drift) for drift in answer.drift_m.values)
        rows.append(("Distance from site", f"{half}; 90 % within {near} to {far}"))
    rows.append(("Flights", f"{area.flights:,} flown, {area.landed:,} landed, {area.unknown:,} unknown"))
    return tuple(rows)


def _runs(answer: Briefing) -> list[Section]:
    """How the nominal landing moved from run to run; nothing for a single run."""
    if len(answer.runs) < 2:
        return []
    rows = tuple(
        (
            f"{run.issued:%Y-%m-%d %HZ}",
            f"{(answer.release - run.issued).total_seconds() / 3600:.0f}",
            f"{run.members}",
            "does not land" if run.landing_deg is None else say_position(*run.landing_deg),
            "-" if run.from_newest_m is None else say_distance(run.from_newest_m),
        )
        for run in answer.runs
    )
    return [Grid("Nominal landing by run", ("run", "lead h", "members", "lands at", "from newest"), rows)]


def _minutes(times: Quantiles) -> str:
    low, middle, high = (value / 60.0 for value in times.values)
    return f"{middle:.0f} min (90 % within {low:.0f} to {high:.0f} min)"


def _at(answer: Briefing, seconds: float) -> str:
    return _clock(answer, after(answer.release, seconds))


def _clock(answer: Briefing, moment: datetime, *, date: bool = False) -> str:
    return say_time(moment, answer.plan.mission.time_zone, date=date)
