"""A prior from recorded flights: every number that the records can size, with what it rests on."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pappus.flight_train import SEA_LEVEL_DENSITY_KG_M3, ClimbBend, FlightPrior
from pappus.postflight._recorded import Recorded
from pappus.postflight._verify import Verification
from pappus.postflight.climb_and_fall import (
    ClimbCurve,
    FallPriorFit,
    climb_curves,
    fit_climb_shape,
    fit_drag_factor,
    fit_fall_prior,
)
from pappus.postflight.forecasts import VerticalCorrelation, fit_forecast_error
from pappus.postflight.held_winds import fit_large_depth_m
from pappus.sources import Prior
from pappus.wind import WindPrior


@dataclass(frozen=True, eq=False)
class Learned:
    """A prior for a file, and a line for each thing that could not be learned or was left as it was."""

    prior: Prior
    not_learned: tuple[str, ...]


def learn(recorded: Recorded, result: Verification, name: str, *, seed: int = 1) -> Learned:
    """Fit what can be fitted; all else stays as in the prior that the records were judged with.

    Wind errors of forecasts come from forecasts beside radiosondes, those of held winds from earlier ascents, their
    depth from stations of one hour, the fall from descents, the bend of the climb from ascents. The split into a large
    and a wave part stays, as does the drag factor: the lines say why.
    """
    old, evidence = result.prior, dict(result.prior.evidence)
    not_learned: list[str] = []
    wind = _forecast_error(recorded, old.wind, evidence, not_learned, seed)
    factor = result.persistence.age_factor
    if factor is None:
        not_learned.append("wind.age_factor: no two days with an ascent 4 to 14 h after another at the same place")
    else:
        wind = replace(wind, age_factor=round(factor.factor, 2))
        evidence["wind.age_factor"] = factor.evidence
    depth = None if result.station_hour is None else fit_large_depth_m(result.station_hour, wind)
    if depth is None or result.station_hour is None:
        not_learned.append("wind.large_depth_m: no hour with many stations, or none whose differences reach far enough")
    else:
        wind = replace(wind, large_depth_m=round(depth, -2))
        evidence["wind.large_depth_m"] = result.station_hour.evidence
    flight = _fall(recorded, old.flight, evidence, not_learned)
    curves, _ = climb_curves(recorded.soundings, old.flight, seed)
    flight = _climb(curves, flight, evidence, not_learned)
    scale = fit_drag_factor(curves)
    said = scale if isinstance(scale, str) else scale.evidence
    not_learned.append(f"flight.drag_factor: stays at {old.flight.drag_factor:g}: {said}")
    return Learned(Prior(name, wind, flight, evidence), tuple(not_learned))


def _forecast_error(
    recorded: Recorded, old: WindPrior, evidence: dict[str, str], not_learned: list[str], seed: int
) -> WindPrior:
    """The table of sizes from the file with the most pairs."""
    if not recorded.pairs:
        not_learned.append("wind.sd_m_s: no forecasts beside radiosondes")
        return old
    pairs = max(recorded.pairs, key=len)
    fit = fit_forecast_error(pairs, old, seed=seed)
    if isinstance(fit, str):
        not_learned.append(f"wind.sd_m_s: {fit}")
        return old
    measured = [entry for entry in fit.entries if entry.scaled_from is None]
    evidence["wind.sd_m_s"] = (
        f"{len(pairs):,} forecasts beside radiosondes ({pairs.source.name}), {len(measured)} of {len(fit.entries)} "
        "entries measured and drawn towards the prior before, the others scaled as their nearest measured entry"
    )
    if isinstance(fit.vertical, VerticalCorrelation):
        not_learned.append(
            f"wind.large_share: stays at {old.large_share:g}: the same file gives {fit.prior.large_share:.2f}, from a "
            "few winter days of limited-area models, whose errors are small in scale; a global model's are not"
        )
    return replace(old, sd_m_s=fit.prior.sd_m_s.round(2))


def _climb(curves: list[ClimbCurve], old: FlightPrior, evidence: dict[str, str], not_learned: list[str]) -> FlightPrior:
    """The bend of the climb, moved from the density at each release to that of the file."""
    shape = fit_climb_shape(curves)
    if isinstance(shape, str):
        not_learned.append(f"climb: {shape}")
        return old
    at_release = np.mean([np.log(SEA_LEVEL_DENSITY_KG_M3 / curve.leg.density_kg_m3[0]) for curve in curves])
    evidence["climb.ln_rate"] = shape.evidence
    bend = ClimbBend(
        tuple((shape.log_density_ratio + at_release).round(2).tolist()), tuple(shape.ln_rate.round(3).tolist())
    )
    evidence["climb.scatter_depth_m"] = shape.evidence
    return replace(old, climb=bend, climb_scatter=shape.scatter)


def _fall(recorded: Recorded, old: FlightPrior, evidence: dict[str, str], not_learned: list[str]) -> FlightPrior:
    fit = fit_fall_prior([sounding for sounding in recorded.soundings if sounding.is_descent])
    if not isinstance(fit, FallPriorFit):
        not_learned.append(f"fall: {fit}")
        return old
    evidence["fall.exponent"] = evidence["fall.within_ln_sd"] = fit.evidence
    fall = fit.prior
    return replace(
        old,
        fall=replace(
            fall,
            exponent=round(fall.exponent, 3),
            exponent_sd=round(fall.exponent_sd, 3),
            within_ln_sd=round(fall.within_ln_sd, 3),
            within_depth_m=round(fall.within_depth_m, -2),
        ),
    )
