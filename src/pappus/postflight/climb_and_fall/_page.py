"""Climb and fall against their first kilometres, as tables and sentences."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from pappus.export import Grid, Section, Sentences
from pappus.postflight._inside import InsideCount
from pappus.postflight.climb_and_fall._ascent import AscentCheck, AscentChecks, Predicted
from pappus.postflight.climb_and_fall._descent import DescentCheck, DescentMoment
from pappus.postflight.climb_and_fall._descents import DescentChecks

ASCENT_SCOPE = (
    "From the first 3 km of each ascent its rate above is predicted; balloon, gas and load are unknown. Pressure and "
    "temperature are those that the flight measured, so this tests the climb law and not a forecast."
)
DESCENT_SCOPE = (
    "From the descent so far and the winds of the ascent the end of the record is predicted; canopy and load are "
    "unknown. The wind was measured by the same sonde, so this tests the fall law and the age of the winds."
)
CLUSTERS = (
    "Flights of one campaign share weather and balloons: the exact intervals in brackets are too narrow. Those by "
    "campaigns draw whole campaigns again; few campaigns make them too narrow too."
)
FLOOR_TIMES = 2.0
"""An error above this many times that of the winds alone is named."""


def ascent_sections(checks: AscentChecks) -> tuple[Section, ...]:
    """What it tests, the counts for the bare drag law and bent, the flights, what was left out."""
    sections: list[Section] = [Sentences("Climb from its first 3 km", (ASCENT_SCOPE, *_ascent_lines(checks)))]
    for title, rows, counts in (
        ("Climb by the bare drag law", checks.law, checks.counts),
        ("Climb by the law bent as other campaigns flew", checks.bent, checks.counts_bent),
    ):
        if rows:
            sections.append(_ascent_counts(title, rows, counts))
    if checks.bent:
        sections.append(_ascent_flights(checks.bent))
    if checks.left_out:
        sections.append(Sentences("Climbs not judged", checks.left_out))
    return tuple(sections)


def descent_sections(checks: DescentChecks) -> tuple[Section, ...]:
    """What it tests, every moment of every descent, the counts, what was left out."""
    sections: list[Section] = [Sentences("Fall from what was seen of it", (DESCENT_SCOPE, *_descent_lines(checks)))]
    for title, rows in (
        ("Fall by the prior as given", checks.prior),
        ("Fall by a prior from the other campaigns", checks.others),
    ):
        if rows:
            sections.append(_descent_moments(title, rows))
    if checks.prior:
        sections.append(_descent_counts(checks))
    if checks.left_out:
        sections.append(Sentences("Falls not judged", checks.left_out))
    return tuple(sections)


def _ascent_lines(checks: AscentChecks) -> tuple[str, ...]:
    if not checks.law:
        return ("No ascent can be judged.",)
    lines = [f"{len(checks.law)} ascents. {CLUSTERS}"]
    for title, counts in (("law as it stands", checks.counts), ("bent law", checks.counts_bent)):
        off = [count.name for count in counts if not count.keeps_90]
        if off:
            lines.append(f"The 90 % band of the {title} does not hold 90 %: {', '.join(off)}.")
    return tuple(lines)


def _ascent_counts(title: str, rows: Sequence[AscentCheck], counts: Sequence[InsideCount]) -> Grid:
    table = []
    for count in counts:
        numbers = [n for row in rows for n in (*row.times, *row.rates) if n.name == count.name]
        better = sum(number.crps < number.prior_crps for number in numbers)
        table.append(
            (
                count.name,
                str(count.flights),
                _share(count.inside_50),
                _share(count.inside_90),
                _interval(count.by_campaign),
                f"{better} of {count.flights}",
                f"{_mean([n.error for n in numbers]):+.{_digits(count.name)}f}",
                f"{_mean([abs(n.error) for n in numbers]):.{_digits(count.name)}f}",
                f"{_mean([abs(n.prior_error) for n in numbers]):.{_digits(count.name)}f}",
            )
        )
    columns = (
        "what",
        "flights",
        "in 50 %",
        "in 90 %",
        "by campaigns",
        "better than prior",
        "mean off",
        "mean size",
        "of the prior",
    )
    note = "Times in s from the end of the first 3 km, rates in m/s; off is the median predicted less the recorded."
    return Grid(title, columns, tuple(table), note)


def _ascent_flights(rows: Sequence[AscentCheck]) -> Grid:
    table = []
    for row in rows:
        times = {number.name: number for number in row.times}
        cells = tuple(_time_cell(times.get(f"to {km} km")) for km in (10, 20, 30))
        numbers = (*row.times, *row.rates)
        inside = f"{sum(number.inside_90 for number in numbers)} of {len(numbers)}"
        table.append((_title(row.flight, row.release), f"{row.first_rate_m_s:.2f}", *cells, inside))
    columns = ("flight", "first 3 km m/s", "to 10 km", "to 20 km", "to 30 km", "in 90 %")
    note = "Recorded min, and the 5 to 95 % points predicted by the bent law."
    return Grid("Climb by flight", columns, tuple(table), note)


def _time_cell(number: Predicted | None) -> str:
    if number is None:
        return "-"
    low, high = number.predicted[0] / 60.0, number.predicted[4] / 60.0
    return f"{number.recorded / 60.0:.0f} ({low:.0f} to {high:.0f})"


def _descent_lines(checks: DescentChecks) -> tuple[str, ...]:
    if not checks.prior:
        return ("No descent can be judged.",)
    moments = [(check, moment) for check in checks.prior for moment in check.moments]
    far = [
        f"{_title(check.flight, check.release)} {moment.moment}"
        for check, moment in moments
        if moment.error_m > FLOOR_TIMES * moment.wind_only_error_m
    ]
    outside = [
        f"{_title(check.flight, check.release)} {moment.moment}" for check, moment in moments if not moment.inside_90
    ]
    plain = sum(moment.error_m < moment.plain_error_m for _, moment in moments)
    lines = [
        f"{len(checks.prior)} descents, {len(moments)} moments; the moments of one flight are not independent.",
        f"Nearer than a constant drag area fitted to the same speeds at {plain} of {len(moments)} moments.",
    ]
    if outside:
        lines.append(f"Outside the 90 % area: {'; '.join(outside)}.")
    if far:
        lines.append(
            f"More than {FLOOR_TIMES:.0f} times as far off as the winds alone make it, at {len(far)} of "
            f"{len(moments)} moments: {'; '.join(far)}."
        )
    return tuple(lines)


def _descent_moments(title: str, rows: Sequence[DescentCheck]) -> Grid:
    table = tuple(
        (_title(check.flight, check.release), moment.moment, *_moment_cells(moment))
        for check in rows
        for moment in check.moments
    )
    columns = (
        "descent", "moment", "left s", "predicted s", "off m", "constant area m", "winds alone m", "90 % km2", "inside",
    )  # fmt: skip
    note = (
        "Off: the middle of the area from the recorded end. Constant area: drag area fitted to the same speeds. "
        "Winds alone: the recorded fall in the winds of the ascent."
    )
    return Grid(title, columns, table, note)


def _moment_cells(moment: DescentMoment) -> tuple[str, ...]:
    inside = "50 %" if moment.inside_50 else "90 %" if moment.inside_90 else "no"
    return (
        f"{moment.left_s:.0f}",
        f"{moment.predicted_left_s[0]:.0f} to {moment.predicted_left_s[4]:.0f}",
        f"{moment.error_m:.0f}",
        f"{moment.plain_error_m:.0f}",
        f"{moment.wind_only_error_m:.0f}",
        "-" if moment.area_90_km2 is None else f"{moment.area_90_km2:.1f}",
        inside,
    )


def _descent_counts(checks: DescentChecks) -> Grid:
    table = tuple(
        (
            f"{count.name}, {of}",
            str(count.flights),
            _share(count.inside_50),
            _share(count.inside_90),
            _interval(count.by_campaign),
        )
        for of, counts in (("prior as given", checks.counts), ("other campaigns", checks.counts_others))
        for count in counts
    )
    return Grid("Ends inside the areas", ("moment", "descents", "in 50 %", "in 90 %", "by campaigns"), table, CLUSTERS)


def _share(inside: tuple[float, float, float, str]) -> str:
    return f"{inside[0]:.0%} ({inside[1]:.0%} to {inside[2]:.0%})"


def _interval(interval: tuple[float, float]) -> str:
    return f"{interval[0]:.0%} to {interval[1]:.0%}"


def _title(flight: str, time: datetime) -> str:
    return f"{flight} {time:%Y-%m-%d %H:%MZ}"


def _digits(name: str) -> int:
    """Times to the second, rates to 0.01 m/s."""
    return 0 if name.startswith("to ") else 2


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)
