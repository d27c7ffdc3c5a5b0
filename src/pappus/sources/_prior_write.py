"""Write a prior file: the text of the built-in one, with other numbers and what they rest on."""

from __future__ import annotations

import json
import re
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from pappus.sources._prior import Prior

_HOUR_S, _KM_M, _HPA_PA, _MIN_S = 3600.0, 1000.0, 100.0, 60.0


def prior_text(prior: Prior) -> str:
    """The prior as it stands in a file, with the comments of the built-in one; ``read_prior`` reads it back."""
    text = resources.files("pappus.sources").joinpath("prior.toml").read_text("utf-8")
    text = _set(text, "name", json.dumps(prior.name, ensure_ascii=False))
    for key, value in _values(prior).items():
        text = _set(text, key, f"{value:.6g}" if "e" not in f"{value:.6g}" else repr(value))
    wind = prior.wind
    text = _set(text, "levels_hpa", _row(wind.level_pa / _HPA_PA))
    text = _set(text, "held_by_level", _row(wind.held_by_level))
    text = _set(text, "leads_h", _row(wind.lead_s / _HOUR_S))
    text = _set(text, "ln_thinner", _row(np.array(prior.flight.climb.ln_thinner)))
    text = _set(text, "ln_rate", _row(np.array(prior.flight.climb.ln_rate)))
    rows = "".join(f"    {_row(row)},\n" for row in wind.sd_m_s)
    text = re.sub(r"(?ms)^sd_m_s = \[\n.*?^\]", lambda _: f"sd_m_s = [\n{rows}]", text)
    told = "".join(
        f"{json.dumps(key)} = {json.dumps(value, ensure_ascii=False)}\n" for key, value in prior.evidence.items()
    )
    return text[: text.index("[evidence]")] + "[evidence]\n" + told


def _set(text: str, key: str, value: str) -> str:
    new, times = re.subn(rf"(?m)^{key} = .*$", lambda _: f"{key} = {value}", text)
    assert times == 1, key
    return new


def _row(values: NDArray[np.float64]) -> str:
    return "[" + ", ".join(f"{float(value):g}" for value in values) + "]"


def _values(prior: Prior) -> dict[str, float]:
    wind, flight, climb, fall = prior.wind, prior.flight, prior.flight.climb_scatter, prior.flight.fall
    return {
        "large_share": wind.large_share,
        "large_depth_m": wind.large_depth_m,
        "large_time_h": wind.large_time_s / _HOUR_S,
        "large_distance_km": wind.large_distance_m / _KM_M,
        "wave_depth_m": wind.wave_depth_m,
        "wave_time_h": wind.wave_time_s / _HOUR_S,
        "wave_distance_km": wind.wave_distance_m / _KM_M,
        "advection_m_s": wind.advection_m_s,
        "age_factor": wind.age_factor,
        "instrument_sd_m_s": wind.instrument_sd_m_s,
        "growth_beyond_m_s_per_km": wind.growth_beyond_per_s * _KM_M,
        "drag_factor": flight.drag_factor,
        "drag_factor_ln_sd": flight.drag_factor_ln_sd,
        "gas_excess_sd_k": flight.gas_excess_sd_k,
        "leak_chance": flight.leak_chance,
        "leak_per_h": flight.leak_per_h,
        "release_sd_min": flight.release_sd_s / _MIN_S,
        "scatter_low_ln_sd": climb.low_ln_sd,
        "scatter_high_ln_sd": climb.high_ln_sd,
        "scatter_depth_m": climb.depth_m,
        "exponent": fall.exponent,
        "exponent_sd": fall.exponent_sd,
        "within_ln_sd": fall.within_ln_sd,
        "within_depth_m": fall.within_depth_m,
    }
