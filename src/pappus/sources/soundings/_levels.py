"""From reported levels, with all their gaps and slips, to a sounding that can be trusted or is refused.

Every reader fills ``RawSounding``; everything that is left out or worked out is counted and said in the notes.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field, fields
from datetime import datetime
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from pappus.earth import geometric_height_msl_m, geopotential_height_m
from pappus.errors import BadFile, Finding
from pappus.sources._files import FileBytes
from pappus.sources.soundings._hydrostatics import geopotential_above_first_m, log_pressure_above_first
from pappus.sources.soundings._layer_temperature import with_lost
from pappus.sources.soundings._sounding import Sounding
from pappus.sources.soundings._wind_steps import written_steps
from pappus.wind import SourceFile

Array = NDArray[np.float64]
Number = TypeVar("Number", float, Array)

FEWEST_WIND_LEVELS = 10
# Wider than anything measured in the air below 60 km, narrower than what slips of units give (common practice).
PRESSURE_PA = (1.0, 110_000.0)
TEMPERATURE_K = (130.0, 340.0)
GEOPOTENTIAL_M = (-500.0, 65_000.0)
FASTEST_WIND_M_S = 200.0
# Humid air is up to 2 % lighter than dry air of its temperature; feet for metres or such give far more than this.
THICKNESS_MISMATCH = 0.05
WIDE_GAP_M = 2_000.0
GRAVITY_LATITUDE_DEG = 45.0
"""Stands for an unknown place; from pole to equator this moves a height of 30 km by 80 m at most."""


@dataclass
class RawLevels:
    """Levels as reported, in the order of the file; NaN where a value is missing. All arrays have one length."""

    time_s: Array
    pressure_pa: Array
    geopotential_m: Array
    temperature_k: Array
    wind_u_m_s: Array
    wind_v_m_s: Array
    latitude_deg: Array
    longitude_deg: Array

    @classmethod
    def missing(cls, count: int) -> RawLevels:
        """``count`` levels without any value."""
        return cls(*(np.full(count, np.nan) for _ in fields(cls)))

    def take(self, which: NDArray[np.generic]) -> RawLevels:
        """The levels chosen by an index or a mask."""
        return RawLevels(*(getattr(self, column.name)[which] for column in fields(self)))

    def __len__(self) -> int:
        return len(self.time_s)


@dataclass
class RawSounding:
    """What a reader found in a file about one sounding."""

    station: str
    latitude_deg: float
    longitude_deg: float
    station_height_msl_m: float | None
    release: datetime
    is_descent: bool | None
    """None when the format does not say; then the longer leg of the record is taken."""
    levels: RawLevels
    notes: list[str] = field(default_factory=list)
    positions_measured: bool = True
    wind_steps: tuple[float, float] | None = None
    """As ``written_steps`` of the winds in the file; given by readers that change the winds, else found later."""
    place_known: bool = True
    """False when the format names its stations by code only; latitude and longitude are then NaN."""

    @property
    def title(self) -> str:
        """Names the sounding in messages."""
        kind = "descent" if self.is_descent else "release"
        return f"radiosonde {self.station}, {kind} {self.release:%Y-%m-%d %H:%M} UTC"


def wind_components(from_deg: Array, speed_m_s: Array) -> tuple[Array, Array]:
    """Eastward and northward wind; a calm needs no direction, and a direction beyond 0 to 360 is none."""
    direction = np.where((from_deg >= 0.0) & (from_deg <= 360.0), from_deg, np.nan)
    angle = np.radians(np.where(speed_m_s == 0.0, 0.0, direction))
    speed = np.where(speed_m_s >= 0.0, speed_m_s, np.nan)
    return -speed * np.sin(angle), -speed * np.cos(angle)


def geopotential_of(height_msl_m: Array, latitude_deg: float) -> Array:
    """Geopotential metres of geometric heights; one that cannot be becomes infinite, so that it is counted later."""
    result = np.where(np.isnan(height_msl_m), np.nan, np.inf)
    sane = np.abs(height_msl_m) < 100_000.0
    result[sane] = geopotential_height_m(height_msl_m[sane], latitude_deg)
    return result


def build_sounding(raw: RawSounding, file: FileBytes) -> Sounding:
    """Check, order and complete the levels; raises BadFile when what is left cannot be used."""
    if raw.place_known and not (abs(raw.latitude_deg) <= 90.0 and -180.0 <= raw.longitude_deg <= 360.0):
        place = f"{raw.latitude_deg:g} {raw.longitude_deg:g}"
        raise _unusable(raw, "the position of the station is missing or impossible", value=place)
    if not 1930 <= raw.release.year <= 2100:  # the first radiosondes flew in 1929 and 1930
        raise _unusable(raw, "the release time is impossible", value=f"{raw.release:%Y-%m-%d}")
    notes = list(raw.notes)
    if not raw.place_known:
        notes.append("the file does not say where the station is: heights taken with the gravity of 45 degrees")
    levels = _without_empty(_without_absurd(raw.levels, notes), notes)
    if len(levels) == 0:
        raise _unusable(raw, "no level holds any measurement")
    levels.temperature_k = with_lost(levels.temperature_k, levels.geopotential_m, levels.pressure_pa, notes)
    levels = _fill_pressure(raw, levels, notes)
    levels = _fill_height(raw, levels, notes)
    levels, is_descent = _one_leg(raw, levels, notes)
    levels = _in_order(raw, levels, notes)
    _require_thickness(raw, levels)
    levels = _with_temperature(raw, levels, notes)
    levels = _with_wind(raw, levels, notes)
    height_msl_m = geometric_height_msl_m(
        levels.geopotential_m, raw.latitude_deg if raw.place_known else GRAVITY_LATITUDE_DEG
    )
    gap = int(np.argmax(np.diff(height_msl_m)))
    if height_msl_m[gap + 1] - height_msl_m[gap] > WIDE_GAP_M:
        notes.append(f"no wind between {height_msl_m[gap]:.0f} and {height_msl_m[gap + 1]:.0f} m above mean sea level")
    bottom_msl_m, top_msl_m = height_msl_m[0], height_msl_m[-1]
    notes.insert(0, f"{len(levels)} levels with wind, {bottom_msl_m:.0f} to {top_msl_m:.0f} m above mean sea level")
    raw.is_descent = is_descent
    speed_step_m_s, direction_step_deg = raw.wind_steps or written_steps(levels.wind_u_m_s, levels.wind_v_m_s)
    return Sounding(
        station=raw.station,
        latitude_deg=raw.latitude_deg,
        longitude_deg=_east_of_date_line(raw.longitude_deg),
        station_height_msl_m=raw.station_height_msl_m,
        release=raw.release,
        is_descent=is_descent,
        time_s=_or_none(levels.time_s),
        pressure_pa=levels.pressure_pa,
        height_msl_m=height_msl_m,
        temperature_k=levels.temperature_k,
        wind_u_m_s=levels.wind_u_m_s,
        wind_v_m_s=levels.wind_v_m_s,
        level_latitude_deg=_or_none(levels.latitude_deg),
        level_longitude_deg=_or_none(np.asarray(_east_of_date_line(levels.longitude_deg))),
        positions_measured=raw.positions_measured,
        wind_speed_step_m_s=speed_step_m_s,
        wind_direction_step_deg=direction_step_deg,
        source=SourceFile(file.name, file.sha256, raw.title),
        notes=tuple(notes),
    )


def longest_rise(values: Array, *, strict: bool) -> NDArray[np.intp]:
    """Index of the longest run of rising values, not of neighbours: a lone outlier falls out, whichever way it points.

    Patience sorting, Schensted 1961, Canad. J. Math. 13, 179-191.
    """
    place = bisect_left if strict else bisect_right
    tails: list[float] = []
    tail_index: list[int] = []
    before = np.full(len(values), -1, dtype=np.intp)
    for index, value in enumerate(values.tolist()):
        rank = place(tails, value)
        if rank == len(tails):
            tails.append(value)
            tail_index.append(index)
        else:
            tails[rank], tail_index[rank] = value, index
        before[index] = tail_index[rank - 1] if rank else -1
    chain = []
    index = tail_index[-1] if tail_index else -1
    while index >= 0:
        chain.append(index)
        index = int(before[index])
    return np.array(chain[::-1], dtype=np.intp)


def _unusable(raw: RawSounding, reason: str, *, value: str = "") -> BadFile:
    return BadFile(Finding(raw.title, value, reason, "Take another sounding."))


def _or_none(values: Array) -> Array | None:
    return values if np.isfinite(values).any() else None


def _east_of_date_line(longitude_deg: Number) -> Number:
    return (longitude_deg + 180.0) % 360.0 - 180.0


def counted(number: int, what: str, noun: str = "level") -> str:
    """``1 level left out``, ``2 levels left out``."""
    return f"{number} {noun}{'' if number == 1 else 's'} {what}"


def _without_absurd(levels: RawLevels, notes: list[str]) -> RawLevels:
    """Blank values that cannot be; the rest of their level stays."""
    speed = np.hypot(levels.wind_u_m_s, levels.wind_v_m_s)
    checks = (
        ("pressure", levels.pressure_pa, *PRESSURE_PA, ("pressure_pa",)),
        ("height", levels.geopotential_m, *GEOPOTENTIAL_M, ("geopotential_m",)),
        ("temperature", levels.temperature_k, *TEMPERATURE_K, ("temperature_k",)),
        ("wind speed", speed, 0.0, FASTEST_WIND_M_S, ("wind_u_m_s", "wind_v_m_s")),
        ("latitude", levels.latitude_deg, -90.0, 90.0, ("latitude_deg", "longitude_deg")),
        ("longitude", levels.longitude_deg, -360.0, 360.0, ("latitude_deg", "longitude_deg")),
    )
    clean = levels.take(np.ones(len(levels), dtype=bool))
    for what, values, low, high, columns in checks:
        absurd = ~np.isnan(values) & ~((values >= low) & (values <= high))
        if absurd.any():
            notes.append(counted(int(absurd.sum()), f"with an impossible {what}, taken as missing"))
        for column in columns:
            getattr(clean, column)[absurd] = np.nan
    return clean


def _without_empty(levels: RawLevels, notes: list[str]) -> RawLevels:
    """Drop levels that are nowhere, and those that measured nothing (worked out, below ground or above the top)."""
    nowhere = np.isnan(levels.pressure_pa) & np.isnan(levels.geopotential_m)
    measured = np.isfinite(levels.temperature_k) | np.isfinite(levels.wind_u_m_s)
    if nowhere.any():
        notes.append(counted(int(nowhere.sum()), "without pressure and height left out"))
    if (blank := ~nowhere & ~measured).any():
        notes.append(counted(int(blank.sum()), "without temperature and wind left out"))
    return levels.take(~nowhere & measured)


def _fill_pressure(raw: RawSounding, levels: RawLevels, notes: list[str]) -> RawLevels:
    """Work out missing pressures from height and temperature, tied to the levels that report both."""
    gaps = np.isnan(levels.pressure_pa)
    if gaps.any():
        known = np.log(levels.pressure_pa)
        filled = _tied_integral(raw, levels.geopotential_m, known, levels.temperature_k, "pressure")
        levels.pressure_pa[gaps] = np.exp(filled[gaps])
        notes.append(counted(int(gaps.sum()), "without pressure: worked out from height and temperature"))
    return levels


def _fill_height(raw: RawSounding, levels: RawLevels, notes: list[str]) -> RawLevels:
    """Work out missing heights from pressure and temperature, tied to the levels that report both."""
    gaps = np.isnan(levels.geopotential_m)
    if gaps.any():
        known = levels.geopotential_m.copy()
        if gaps.all() and raw.station_height_msl_m is not None:
            known[np.argmax(levels.pressure_pa)] = geopotential_height_m(raw.station_height_msl_m, raw.latitude_deg)
            notes.append("no level has a height: the lowest was put at the height of the station")
        minus_log = -np.log(levels.pressure_pa)
        filled = _tied_integral(raw, minus_log, known, levels.temperature_k, "height")
        levels.geopotential_m[gaps] = filled[gaps]
        notes.append(counted(int(gaps.sum()), "without height: worked out from pressure and temperature of dry air"))
    return levels


def _tied_integral(
    raw: RawSounding, upward: Array, known: Array, temperature_k: Array, what: Literal["pressure", "height"]
) -> Array:
    """Hydrostatic integral over ``upward``, shifted to meet ``known`` where that is; the shift runs linearly between.

    ``upward`` is height, or minus ln(pressure), and may have gaps where ``known`` has none; those stay NaN.
    """
    warm = np.isfinite(temperature_k) & np.isfinite(upward)
    tied = np.isfinite(known) & np.isfinite(upward)
    if not tied.any():
        raise _unusable(raw, f"{what} cannot be worked out: no level has both pressure and height")
    if not warm.any():
        raise _unusable(raw, f"{what} cannot be worked out without any temperature")
    order = np.argsort(upward, kind="stable")[: int(np.isfinite(upward).sum())]
    warm_order = order[warm[order]]
    temperature = np.interp(upward[order], upward[warm_order], temperature_k[warm_order])
    result = np.full(len(upward), np.nan)
    integrate = geopotential_above_first_m if what == "height" else log_pressure_above_first
    result[order] = integrate(upward[order], temperature)
    anchors = order[tied[order]]
    # heights rise upwards and ln(pressure) falls: a tie that goes the other way is a slip and ties nothing
    direction = 1.0 if what == "height" else -1.0
    anchors = anchors[longest_rise(direction * known[anchors], strict=False)]
    return np.asarray(result + np.interp(upward, upward[anchors], (known - result)[anchors]))


def _one_leg(raw: RawSounding, levels: RawLevels, notes: list[str]) -> tuple[RawLevels, bool]:
    """Levels in the order of flight, cut at the top to the leg that is wanted, lowest first."""
    if not np.isfinite(levels.time_s).all():
        # without times nothing tells the way up from the way down: sort by pressure, then by height
        order = np.lexsort((levels.geopotential_m, -levels.pressure_pa))
        return levels.take(order), bool(raw.is_descent)
    levels = levels.take(np.argsort(levels.time_s, kind="stable"))
    top = int(np.argmax(levels.geopotential_m))
    up, down = levels.take(np.arange(top + 1)), levels.take(np.arange(len(levels) - 1, top - 1, -1))
    is_descent = len(down) > len(up) if raw.is_descent is None else raw.is_descent
    leg, other = (down, up) if is_descent else (up, down)
    if len(other) > 1:
        notes.append(counted(len(other) - 1, f"{'before' if is_descent else 'after'} the highest left out"))
    return leg, is_descent


def _in_order(raw: RawSounding, levels: RawLevels, notes: list[str]) -> RawLevels:
    """Keep the most levels whose heights rise and whose pressures do not; refuse when that loses half of them."""
    rising = levels.take(longest_rise(levels.geopotential_m, strict=True))
    rising = rising.take(longest_rise(-rising.pressure_pa, strict=False))
    lost = len(levels) - len(rising)
    if lost > len(levels) / 2:
        raise _unusable(raw, f"{lost} of {len(levels)} levels are out of order in height or pressure")
    if lost:
        notes.append(counted(lost, "out of order in height or pressure, or repeated, left out"))
    return rising


def _require_thickness(raw: RawSounding, levels: RawLevels) -> None:
    """Refuse heights that do not go with pressure and temperature: a slip of units, or levels of two soundings."""
    warm = levels.take(np.isfinite(levels.temperature_k))
    if len(warm) < 2 or np.ptp(warm.geopotential_m) < 1_000.0:
        return
    thickness = float(geopotential_above_first_m(-np.log(warm.pressure_pa), warm.temperature_k)[-1])
    reported = float(np.ptp(warm.geopotential_m))
    if abs(thickness / reported - 1.0) > THICKNESS_MISMATCH:
        reason = f"heights span {reported:.0f} m, but pressure and temperature span {thickness:.0f} m: check the units"
        raise _unusable(raw, reason)


def _with_temperature(raw: RawSounding, levels: RawLevels, notes: list[str]) -> RawLevels:
    """Interpolate temperature inside its range, linearly in ln(pressure); leave out the levels beyond it."""
    known = np.flatnonzero(np.isfinite(levels.temperature_k))
    if len(known) == 0:
        raise _unusable(raw, "no level has a temperature")
    beyond = len(levels) - (known[-1] - known[0] + 1)
    if beyond:
        notes.append(counted(int(beyond), "above or below all temperatures left out"))
    inner = levels.take(np.arange(known[0], known[-1] + 1))
    gaps = np.isnan(inner.temperature_k)
    if gaps.any():
        minus_log = -np.log(inner.pressure_pa)
        inner.temperature_k[gaps] = np.interp(minus_log[gaps], minus_log[~gaps], inner.temperature_k[~gaps])
        notes.append(counted(int(gaps.sum()), "without temperature: interpolated between their neighbours"))
    return inner


def _with_wind(raw: RawSounding, levels: RawLevels, notes: list[str]) -> RawLevels:
    """Leave out the levels without wind; refuse a sounding that has hardly any."""
    windy = np.isfinite(levels.wind_u_m_s) & np.isfinite(levels.wind_v_m_s)
    if windy.sum() < FEWEST_WIND_LEVELS:
        reason = f"only {windy.sum()} levels have wind; at least {FEWEST_WIND_LEVELS} are needed"
        raise _unusable(raw, reason)
    if not windy.all():
        notes.append(counted(int((~windy).sum()), "without wind left out"))
    return levels.take(windy)
