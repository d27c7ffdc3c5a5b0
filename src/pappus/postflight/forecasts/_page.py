"""Checks of forecasts as sections of a page."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from pappus.export import Grid, Section, Sentences
from pappus.postflight.forecasts._check import WindError
from pappus.postflight.forecasts._ensemble import EnsembleCheck, RankHistogram, SpreadOverError
from pappus.postflight.forecasts._run_shift import DRAG_AREA_M2, MASS_KG, RISE_M_S, TOP_MSL_M, RunShift
from pappus.postflight.forecasts._verify import ForecastCheck
from pappus.postflight.forecasts._vertical import VerticalCorrelation

_APART_KM = (0.0, 0.8, 1.5, 2.5, 4.0, 6.0, 10.0, 40.0)


def forecast_sections(check: ForecastCheck) -> tuple[Section, ...]:
    """Errors, vertical correlation, ensembles, and what could not be judged."""
    sections: list[Section] = []
    bracket: list[WindError] = []
    for error in check.errors:
        bracket.append(error)
        if np.isnan(error.pressure_pa):  # all levels together close a bracket of lead times
            sections.append(_error_grid(bracket))
            bracket = []
    sections.append(_interval_lines(check))
    if not isinstance(check.vertical, str):
        sections += [_vertical_grid(check.vertical), _vertical_lines(check.vertical)]
    for ensemble in check.ensembles:
        sections += [_spread_grid(ensemble), _rank_grid(ensemble)]
    if check.left_out:
        sections.append(Sentences("Not judged", check.left_out))
    return tuple(sections)


def run_shift_section(shifts: Sequence[RunShift]) -> Grid:
    """The shift of the landing from run to run."""
    rows = tuple(
        (
            _hours(shift.lead_s),
            str(shift.launches),
            f"{shift.mean_m / 1000.0:.1f}",
            " ".join(f"{mean / 1000.0:.1f}" for mean in shift.by_pair_m),
            f"{shift.greatest_m / 1000.0:.1f}",
        )
        for shift in shifts
    )
    note = (
        f"Same launches flown on consecutive runs, by lead time of the older: up at {RISE_M_S:g} m/s to "
        f"{TOP_MSL_M / 1000.0:g} km, down with {MASS_KG:g} kg on {DRAG_AREA_M2:g} m2 of drag area. Launches of one "
        "bracket share their weather: the means of the pairs of runs show how much they differ."
    )
    return Grid("Landing from run to run", ("lead h", "launches", "mean km", "by pair of runs", "greatest"), rows, note)


def _hours(lead_s: tuple[float, float]) -> str:
    low, high = (f"{lead / 3600.0:g}" for lead in lead_s)
    return low if low == high else f"{low} to {high}"


def _level(pressure_pa: float) -> str:
    return "all" if np.isnan(pressure_pa) else f"{pressure_pa / 100.0:g}"


def _range(interval: tuple[float, float], digits: int = 2) -> str:
    low, high = interval
    return "unknown" if np.isnan(low) else f"{low:.{digits}f} to {high:.{digits}f}"


def _bias(value: float, interval: tuple[float, float]) -> str:
    return f"{value:+.1f}" + ("*" if interval[0] > 0.0 or interval[1] < 0.0 else "")


def _error_grid(errors: Sequence[WindError]) -> Grid:
    rows = tuple(
        (
            _level(error.pressure_pa),
            str(error.soundings),
            f"{error.sd_m_s:.2f}",
            _range(error.sd_95_m_s),
            f"{error.expected_sd_m_s:.2f}",
            f"{_bias(error.bias_u_m_s, error.bias_u_95_m_s)} {_bias(error.bias_v_m_s, error.bias_v_95_m_s)}",
            f"{100.0 * error.greatest_share:.0f} %",
            error.verdict,
        )
        for error in errors
    )
    lead = (min(error.lead_s[0] for error in errors), max(error.lead_s[1] for error in errors))
    columns = ("hPa", "soundings", "error", "95 %", "expected", "bias u v", "one sounding", "against the prior")
    return Grid(f"Wind error in m/s per component, lead {_hours(lead)} h", columns, rows)


def _interval_lines(check: ForecastCheck) -> Sentences:
    lines = [
        "Error: root mean square about zero of u and v of the control forecasts.",
        "Expected: the prior, and in quadrature what is no error of the forecast: the sonde's own and the rounding of "
        "both reports (step squared over 12).",
        "Intervals: all soundings of a station within a day are drawn again together. * a bias whose interval lacks 0. "
        "One sounding: the most that one gives of the sum of squares.",
        "Lead 0 is no forecast skill: the analysis has seen the soundings.",
    ]
    correlation, couples = check.same_hour
    if couples:
        measured = f"their errors in the same hour correlate by {correlation:.2f} ({couples} pairs)"
        lines.append(f"Stations are taken to err apart: {measured}.")
    return Sentences("How to read the errors", tuple(lines))


def _vertical_grid(vertical: VerticalCorrelation) -> Grid:
    rows = []
    for low, high in itertools.pairwise(_APART_KM):
        inside = (vertical.apart_m >= 1000.0 * low) & (vertical.apart_m < 1000.0 * high)
        inside &= np.isfinite(vertical.correlation)
        if inside.any():
            weight = vertical.profiles[inside]
            apart = float(np.average(vertical.apart_m[inside], weights=weight)) / 1000.0
            correlation = float(np.average(vertical.correlation[inside], weights=weight))
            rows.append((f"{apart:.1f}", f"{correlation:+.2f}", str(int(inside.sum()))))
    return Grid("Errors of two levels", ("km apart", "correlation", "pairs of levels"), tuple(rows))


def _vertical_lines(vertical: VerticalCorrelation) -> Sentences:
    length, depth = (
        _range((interval[0] / 1000.0, interval[1] / 1000.0), 1)
        for interval in (vertical.length_95_m, vertical.large_depth_95_m)
    )
    return Sentences(
        "",
        (
            f"One length: {vertical.length_m / 1000.0:.1f} km ({length}), exponential; {vertical.soundings} soundings.",
            f"Two parts: {vertical.large_share:.2f} of the variance ({_range(vertical.large_share_95)}) is smooth over "
            f"{vertical.large_depth_m / 1000.0:.1f} km ({depth}), the rest waves of "
            f"{vertical.wave_depth_m / 1000.0:g} km.",
        ),
    )


def _spread_grid(check: EnsembleCheck) -> Grid:
    rows = tuple(_spread_row(level) for level in check.levels)
    columns = ("hPa", "soundings", "error m/s", "members", "95 %", "raised", "95 %")
    note = (
        "Spread over error of the member mean; 1 is right, less is too narrow. Raised: with the draw that lifts the "
        "members to the prior. Sonde and rounding are in both."
    )
    return Grid(f"{check.model}: {check.members} members, lead {_hours(check.lead_s)} h", columns, rows, note)


def _spread_row(level: SpreadOverError) -> tuple[str, ...]:
    return (
        _level(level.pressure_pa),
        str(level.soundings),
        f"{level.error_m_s:.2f}",
        f"{level.member_ratio:.2f}",
        _range(level.member_ratio_95),
        f"{level.raised_ratio:.2f}",
        _range(level.raised_ratio_95),
    )


def _rank_grid(check: EnsembleCheck) -> Grid:
    named = (("members", check.member_ranks), ("raised", check.raised_ranks))
    columns = ("ranks", "counts from below to above all members", "chi2", "95 % limit", "of blocks")
    rows = tuple((name, *_rank_row(ranks)) for name, ranks in named)
    note = "The limit is for ranks that do not depend on one another; that of blocks lets stations and days depend."
    return Grid(f"{check.model}: rank of the sonde's wind", columns, rows, note)


def _rank_row(ranks: RankHistogram) -> tuple[str, ...]:
    counts = " ".join(str(count) for count in ranks.counts.tolist())
    return counts, f"{ranks.chi2:.1f}", f"{ranks.limit_95:.1f}", f"{ranks.dependent_limit_95:.1f}"
