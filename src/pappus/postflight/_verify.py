"""Recorded against computed: what the flights, soundings and forecasts in some folders say of the models."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from pappus.errors import BadInput, NoSolution
from pappus.postflight._recorded import Recorded
from pappus.postflight.climb_and_fall import AscentChecks, DescentChecks, ascent_checks, descent_checks
from pappus.postflight.drift import DriftCheck, drift_check
from pappus.postflight.forecasts import ForecastCheck, RunShift, check_forecasts, run_shifts
from pappus.postflight.held_winds import Persistence, StationHour, persistence, station_hour
from pappus.sources import Prior, Sounding
from pappus.wind import WindField

Step = Callable[[str], None]


@dataclass(frozen=True, eq=False)
class Verification:
    """Each check with its own table; nothing is tuned inside, and nothing is dropped without a line."""

    prior: Prior
    drift: tuple[DriftCheck, ...]
    ascents: AscentChecks
    descents: DescentChecks
    persistence: Persistence
    station_hour: StationHour | None
    forecasts: tuple[ForecastCheck, ...]
    run_shifts: tuple[tuple[str, tuple[RunShift, ...]], ...]
    """For each station."""
    left_out: tuple[str, ...]


def verify(recorded: Recorded, prior: Prior, *, seed: int = 1, step: Step = lambda _: None) -> Verification:
    """Judge what was read; ``seed`` fixes all draws."""
    soundings, left = recorded.soundings, list(recorded.left_out)

    step("winds against positions")
    drift = _drift(soundings, left)
    step("ascents")
    ascents = ascent_checks(soundings, prior.flight, seed, step)
    step("descents")
    descents = descent_checks(soundings, prior.flight.fall, prior.wind, seed, step)
    step("earlier winds against later balloons")
    held = persistence(soundings, prior.wind)
    step("stations of one hour")
    stations = _station_hour(soundings, prior, left)
    step("forecasts against radiosondes")
    forecasts = tuple(check_forecasts(pairs, prior.wind, seed=seed) for pairs in recorded.pairs)
    step("landings from run to run")
    shifts = _run_shifts(recorded.runs, left)
    return Verification(prior, drift, ascents, descents, held, stations, forecasts, shifts, tuple(left))


def _drift(soundings: Sequence[Sounding], left: list[str]) -> tuple[DriftCheck, ...]:
    rows: list[DriftCheck] = []
    reasons: dict[str, list[str]] = defaultdict(list)
    for sounding in soundings:
        checked = drift_check(sounding)
        if isinstance(checked, DriftCheck):
            rows.append(checked)
        else:
            reasons[checked].append(f"{sounding.station} {sounding.release:%Y-%m-%d %H:%MZ}")
    left += [f"winds against positions: {reason}: {_some(names)}" for reason, names in reasons.items()]
    return tuple(rows)


def _station_hour(soundings: Sequence[Sounding], prior: Prior, left: list[str]) -> StationHour | None:
    try:
        return station_hour(soundings, prior.wind)
    except NoSolution as error:
        left.append(f"stations of one hour: {error}")
        return None


def _run_shifts(runs: Sequence[WindField], left: list[str]) -> tuple[tuple[str, tuple[RunShift, ...]], ...]:
    """Runs for one place after one another."""
    places: dict[tuple[float, float], list[WindField]] = defaultdict(list)
    for field in runs:
        places[float(field.latitude_deg[0]), float(field.longitude_deg[0])].append(field)
    found = []
    for (latitude, longitude), fields in places.items():
        try:
            found.append((f"{latitude:.2f} {longitude:.2f}", run_shifts(fields)))
        except BadInput as error:
            left.append(f"runs at {latitude:.2f} {longitude:.2f}: {error.findings[0].reason}")
    return tuple(found)


def _some(names: Sequence[str], most: int = 6) -> str:
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more
