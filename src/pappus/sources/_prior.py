"""The prior file: what is thought of winds, balloons and canopies before a plan or a flight says more."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.errors import BadFile, Finding
from pappus.flight_train import ClimbBend, ClimbScatter, FallPrior, FlightPrior
from pappus.wind import WindPrior

Array = NDArray[np.float64]
_HOUR_S, _KM_M, _HPA_PA, _MIN_S = 3600.0, 1000.0, 100.0, 60.0
_TABLE = ("levels_hpa", "leads_h", "sd_m_s", "held_by_level")
_ROWS = {"wind": _TABLE, "climb": ("ln_thinner", "ln_rate")}
_BOUNDS: dict[str, dict[str, tuple[float, float]]] = {
    "wind": {
        "large_share": (0.0, 1.0), "large_depth_m": (100.0, 50_000.0), "large_time_h": (0.1, 240.0),
        "large_distance_km": (1.0, 5_000.0), "wave_depth_m": (50.0, 20_000.0), "wave_time_h": (0.05, 48.0),
        "wave_distance_km": (1.0, 1_000.0), "advection_m_s": (0.0, 100.0), "age_factor": (0.1, 10.0),
        "instrument_sd_m_s": (0.0, 5.0), "growth_beyond_m_s_per_km": (0.0, 20.0),
    },
    "flight": {
        "drag_factor": (0.3, 3.0), "drag_factor_ln_sd": (0.0, 1.0), "gas_excess_sd_k": (0.0, 40.0),
        "leak_chance": (0.0, 1.0), "leak_per_h": (0.0, 0.9), "release_sd_min": (0.0, 180.0),
    },
    "climb": {
        "scatter_low_ln_sd": (0.0, 1.0), "scatter_high_ln_sd": (0.0, 1.0), "scatter_depth_m": (100.0, 50_000.0),
    },
    "fall": {
        "exponent": (0.0, 1.0), "exponent_sd": (0.0, 0.5), "within_ln_sd": (0.0, 1.0),
        "within_depth_m": (100.0, 50_000.0),
    },
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Prior:
    """A prior file."""

    name: str
    wind: WindPrior
    flight: FlightPrior
    evidence: dict[str, str]
    """What each number rests on, by its place in the file."""


def read_prior(path: Path | None = None) -> Prior:
    """The prior in a file; the one that comes with pappus without a file.

    Raises BadFile with one finding for each number that is missing, unknown or outside its bounds.
    """
    if path is None:
        text, name = resources.files("pappus.sources").joinpath("prior.toml").read_text("utf-8"), "built-in prior"
    else:
        text, name = _text(path), path.name
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadFile(Finding(name, "", f"not a TOML file: {error}", "Start from `pappus verify --fit`.")) from error
    findings: list[Finding] = []
    numbers = {table: _numbers(data, table, name, findings) for table in _BOUNDS}
    grid, bend = _grid(data, name, findings), _bend(data, name, findings)
    evidence = data.get("evidence", {})
    if not isinstance(evidence, dict):
        findings.append(Finding(f"{name}: evidence", str(evidence)[:40], "not a table", "Write [evidence]."))
    if findings or grid is None or bend is None:
        raise BadFile(*findings)
    flight = _flight(numbers["flight"], numbers["climb"], numbers["fall"], bend)
    return Prior(
        str(data.get("name", name)), _wind(numbers["wind"], *grid), flight,
        {str(key): str(value) for key, value in evidence.items()},
    )  # fmt: skip


def _text(path: Path) -> str:
    try:
        return path.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadFile(Finding(str(path), "", f"cannot be read: {error}", "Name a prior file in TOML.")) from error


def _numbers(data: dict[str, Any], table: str, name: str, findings: list[Finding]) -> dict[str, float]:
    given = data.get(table)
    given = given if isinstance(given, dict) else {}
    bounds, found = _BOUNDS[table], {}
    known = {*bounds, *_ROWS.get(table, ())}
    for key in sorted(set(given) - known):
        findings.append(Finding(f"{name}: {table}.{key}", str(given[key])[:40], "unknown", "Take it out."))
    for key, (least, most) in bounds.items():
        value = given.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
            fix = f"Write a number from {least:g} to {most:g}."
            findings.append(Finding(f"{name}: {table}.{key}", str(value)[:40], "missing or out of bounds", fix))
        else:
            found[key] = float(value)
    return found


def _grid(data: dict[str, Any], name: str, findings: list[Finding]) -> tuple[Array, ...] | None:
    """Levels, leads and the table of sizes."""
    wind = data.get("wind")
    try:
        assert isinstance(wind, dict)
        levels, leads, sd, held = (np.array(wind[key], dtype=float) for key in _TABLE)
        fits = sd.shape == (len(levels), len(leads)) and min(sd.shape) >= 2 and held.shape == levels.shape
        fits = fits and bool((np.diff(levels) < 0).all() and (np.diff(leads) > 0).all())
        fits = fits and bool(((sd > 0.0) & (sd < 50.0)).all() and ((held > 0.0) & (held < 10.0)).all())
        fits = fits and bool(levels.min() > 0.0 and leads.min() >= 0.0)
    except (AssertionError, KeyError, TypeError, ValueError):
        fits = False
    if not fits:
        fix = "Give falling levels_hpa, rising leads_h, and for each level a row of sd_m_s and a held_by_level."
        findings.append(Finding(f"{name}: wind.sd_m_s", "", "no table of levels by lead times", fix))
        return None
    return levels * _HPA_PA, leads * _HOUR_S, sd, held


def _bend(data: dict[str, Any], name: str, findings: list[Finding]) -> ClimbBend | None:
    climb = data.get("climb")
    try:
        assert isinstance(climb, dict)
        thinner, rate = (np.array(climb[key], dtype=float) for key in ("ln_thinner", "ln_rate"))
        fits = thinner.ndim == 1 and thinner.shape == rate.shape and bool((np.diff(thinner) > 0.0).all())
        fits = fits and thinner.size > 0 and bool((np.abs(rate) < 1.0).all() and (np.abs(thinner) < 10.0).all())
    except (AssertionError, KeyError, TypeError, ValueError):
        fits = False
    if not fits:
        fix = "Give rising ln_thinner, and for each an ln_rate between -1 and 1."
        findings.append(Finding(f"{name}: climb.ln_rate", "", "no line of rates", fix))
        return None
    return ClimbBend(tuple(thinner.tolist()), tuple(rate.tolist()))


def _wind(numbers: dict[str, float], levels: Array, leads: Array, sd: Array, held: Array) -> WindPrior:
    return WindPrior(
        level_pa=levels,
        lead_s=leads,
        sd_m_s=sd,
        held_by_level=held,
        large_share=numbers["large_share"],
        large_depth_m=numbers["large_depth_m"],
        large_time_s=numbers["large_time_h"] * _HOUR_S,
        large_distance_m=numbers["large_distance_km"] * _KM_M,
        wave_depth_m=numbers["wave_depth_m"],
        wave_time_s=numbers["wave_time_h"] * _HOUR_S,
        wave_distance_m=numbers["wave_distance_km"] * _KM_M,
        advection_m_s=numbers["advection_m_s"],
        age_factor=numbers["age_factor"],
        instrument_sd_m_s=numbers["instrument_sd_m_s"],
        growth_beyond_per_s=numbers["growth_beyond_m_s_per_km"] / _KM_M,
    )


def _flight(numbers: dict[str, float], climb: dict[str, float], fall: dict[str, float], bend: ClimbBend) -> FlightPrior:
    return FlightPrior(
        drag_factor=numbers["drag_factor"],
        drag_factor_ln_sd=numbers["drag_factor_ln_sd"],
        climb=bend,
        climb_scatter=ClimbScatter(climb["scatter_low_ln_sd"], climb["scatter_high_ln_sd"], climb["scatter_depth_m"]),
        gas_excess_sd_k=numbers["gas_excess_sd_k"],
        fall=FallPrior(**fall),
        leak_chance=numbers["leak_chance"],
        leak_per_h=numbers["leak_per_h"],
        release_sd_s=numbers["release_sd_min"] * _MIN_S,
    )
