"""From what a reader found in forecast files to a wind field that can be trusted, or a refusal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pappus.earth import geometric_height_msl_m
from pappus.errors import BadFile
from pappus.sources._files import bad_file
from pappus.sources.soundings import box_around_disc
from pappus.units import dry_air_gas_constant_j_kg_k, standard_gravity_m_s2, standard_pressure_pa
from pappus.weather import SurfaceWeather
from pappus.wind import Coverage, SourceFile, WindField

Array = NDArray[np.float64]

FEWEST_LEVELS = 5
LARGEST_CUBE_BYTES = 8_000_000_000
# Wider than anything in the air below 85 km, narrower than what slips of units give (common practice, no source).
TEMPERATURE_K = (130.0, 350.0)
FASTEST_WIND_M_S = 350.0
GEOPOTENTIAL_M = (-1_500.0, 90_000.0)
PRESSURE_PA = (0.1, 120_000.0)
# Humid air is up to 2 % lighter than dry air of its temperature; feet, decametres or degrees Celsius give far more.
THICKNESS_MISMATCH = 0.05
# Height over ln(1013 hPa / p): 6 to 8.7 km from polar night to tropical day above 700 hPa (own bounds, wider).
SCALE_HEIGHT_M = (5_000.0, 10_000.0)


@dataclass(frozen=True, eq=False)
class Forecast:
    """One model run: the winds, the ground as the model has it, and the weather near it."""

    field: WindField
    ground_height_msl_m: Array | None
    """Geometric height of the model's ground, shape (latitude, longitude); None when the file does not say.

    Levels under it hold values that the centre extrapolated; they stay in the field.
    """
    surface: SurfaceWeather | None
    """None when the file holds no field near the ground."""


@dataclass(eq=False)
class RawForecast:
    """One run as read; cubes are [member, time, level, latitude, longitude] with the lowest level first."""

    name: str
    """Names the run in messages: ``"forecast of NCEP Washington, run 2011-01-10 12:00 UTC"``."""
    issued: datetime
    time_s: Array
    """After ``issued``."""
    latitude_deg: Array
    longitude_deg: Array
    pressure_pa: Array
    """Broadcasts to the cube."""
    geopotential_m: Array
    temperature_k: Array
    wind_u_m_s: Array
    wind_v_m_s: Array
    ground_geopotential_m: Array | None = None
    surface: Mapping[str, Array] = field(default_factory=dict)
    """By CF standard name, [member, time, latitude, longitude]; NaN where the file has nothing."""
    units: Mapping[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    centre_deg: tuple[float, float] | None = None
    """Station of a column; None for a box."""
    radius_m: float | None = None
    surface_time_s: Array | None = None
    """Times of ``surface`` where they are not those of the cube."""
    files: frozenset[int] = frozenset()
    """Which of the files that were read it comes from."""


def refuse_large(name: str, members: int, times: int, levels: int, points: int) -> None:
    """BadFile for a forecast that would not fit in memory, before any of it is taken."""
    size = members * times * levels * points * 5 * 8
    if size > LARGEST_CUBE_BYTES:
        reason = f"decoded it takes {size / 1e9:.0f} GB, more than {LARGEST_CUBE_BYTES / 1e9:.0f} GB"
        raise bad_file(name, reason, "Name the area of the flight, or take fewer steps or members.")


def build_forecast(raw: RawForecast, sources: tuple[SourceFile, ...]) -> Forecast:
    """Check a run, turn its heights into geometric ones and say what it covers."""
    shape = raw.wind_u_m_s.shape
    if shape[2] < FEWEST_LEVELS:
        raise bad_file(raw.name, f"it has {shape[2]} usable levels", f"At least {FEWEST_LEVELS} are needed.")
    pressure = np.broadcast_to(raw.pressure_pa, shape)
    _check(raw)
    latitude = raw.latitude_deg[:, None]
    height = geometric_height_msl_m(raw.geopotential_m, latitude)
    ground = raw.ground_geopotential_m
    if ground is not None and not _within(ground, GEOPOTENTIAL_M):
        raw.notes.append("the model's ground is not used: its height is missing or absurd")
        ground = None
    times = [raw.issued + timedelta(seconds=float(second)) for second in raw.time_s[[0, -1]]]
    if len(raw.time_s) == 1:
        raw.notes.append("one valid time only")
    box = (raw.latitude_deg[0], raw.latitude_deg[-1], raw.longitude_deg[0], raw.longitude_deg[-1])
    if raw.centre_deg is not None and raw.radius_m is not None:
        box = box_around_disc(*raw.centre_deg, raw.radius_m)
    south, north, west, east = (float(side) for side in box)
    winds = WindField(
        name=raw.name,
        kind="forecast",
        issued=raw.issued,
        epoch=raw.issued,
        time_s=raw.time_s,
        latitude_deg=raw.latitude_deg,
        longitude_deg=raw.longitude_deg,
        pressure_pa=pressure,
        height_msl_m=height,
        temperature_k=raw.temperature_k,
        wind_u_m_s=raw.wind_u_m_s,
        wind_v_m_s=raw.wind_v_m_s,
        coverage=Coverage(
            first_valid=times[0],
            last_valid=times[1],
            south_deg=south,
            north_deg=north,
            west_deg=west,
            east_deg=east,
            bottom_msl_m=float(height[:, :, 0].max()),
            top_msl_m=float(height[:, :, -1].min()),
            centre_deg=raw.centre_deg,
            radius_m=raw.radius_m,
        ),
        sources=sources,
        notes=tuple(raw.notes),
    )
    surface = None
    if raw.surface:
        surface = SurfaceWeather(
            raw.issued,
            raw.time_s if raw.surface_time_s is None else raw.surface_time_s,
            raw.latitude_deg,
            raw.longitude_deg,
            dict(raw.surface),
            dict(raw.units),
        )
    return Forecast(winds, None if ground is None else geometric_height_msl_m(ground, latitude), surface)


def _check(raw: RawForecast) -> None:
    for values, limits, what, unit in (
        (raw.wind_u_m_s, (-FASTEST_WIND_M_S, FASTEST_WIND_M_S), "eastward wind", "m/s"),
        (raw.wind_v_m_s, (-FASTEST_WIND_M_S, FASTEST_WIND_M_S), "northward wind", "m/s"),
        (raw.temperature_k, TEMPERATURE_K, "temperature", "K"),
        (raw.geopotential_m, GEOPOTENTIAL_M, "geopotential height", "m"),
        (raw.pressure_pa, PRESSURE_PA, "pressure", "Pa"),
    ):
        if not _within(values, limits):
            raise _outside(raw.name, values, limits, what, unit)
    if not bool((np.diff(raw.geopotential_m, axis=2) > 0.0).all()):
        raise bad_file(raw.name, "heights do not rise from level to level", "Get the file again.")
    log_p = np.log(raw.pressure_pa)
    if not bool((np.diff(log_p, axis=2) < 0.0).all()):
        raise bad_file(raw.name, "pressures do not fall from level to level", "Get the file again.")
    # thickness knows ratios of pressure only; the height itself tells hectopascals from pascals
    top_m = float(raw.geopotential_m[:, :, -1].mean())
    depth = float(np.log(standard_pressure_pa) - log_p[:, :, -1].mean())
    if depth > 0.3 and not SCALE_HEIGHT_M[0] < top_m / depth < SCALE_HEIGHT_M[1]:
        reason = f"the highest level lies at {top_m:.0f} m, which its pressure cannot have"
        raise bad_file(raw.name, reason, "Pressures or heights are in other units: get the file again.")
    mean_k = (raw.temperature_k[:, :, 1:] + raw.temperature_k[:, :, :-1]).mean(axis=(0, 1, 3, 4)) / 2.0
    step = -np.diff(log_p, axis=2).mean(axis=(0, 1, 3, 4))
    balanced = dry_air_gas_constant_j_kg_k / standard_gravity_m_s2 * mean_k * step
    told = np.diff(raw.geopotential_m, axis=2).mean(axis=(0, 1, 3, 4))
    # thin layers say little: their pressures and heights are rounded
    mismatch = np.where(step > 0.05, np.abs(told / balanced - 1.0), 0.0)
    # the top of models is a sponge of few levels, where a mean temperature does not make a layer
    worst = int(np.argmax(mismatch))
    if mismatch[worst] > THICKNESS_MISMATCH + 0.1 * step[worst] ** 2:
        reason = (
            f"the layer above level {worst + 1} is {told[worst]:.0f} m thick, but its temperature makes it "
            f"{balanced[worst]:.0f} m: heights or temperatures are wrong or in other units"
        )
        raise bad_file(raw.name, reason, "Heights must be metres or m2/s2, temperatures kelvin.")


def _within(values: Array, limits: tuple[float, float]) -> bool:
    """False for a missing value too, since NaN lies in no range."""
    return bool(np.min(values) >= limits[0] and np.max(values) <= limits[1])


def _outside(name: str, values: Array, limits: tuple[float, float], what: str, unit: str) -> BadFile:
    missing = int(np.isnan(values).sum())
    if missing:
        return bad_file(
            name,
            f"the {what} is missing at {missing} of {values.size} points",
            "Name an area that lies inside the forecast, or get a file without gaps.",
        )
    worst = float(values.min() if values.min() < limits[0] else values.max())
    reason = f"the {what} is outside {limits[0]:g} to {limits[1]:g} {unit}"
    return bad_file(name, reason, "The unit may be wrong: get the file again.", value=f"{worst:g} {unit}")
