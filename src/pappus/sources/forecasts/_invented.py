"""An invented ensemble forecast for the example flight: every number in it is made up, no model ever ran.

It is made to behave like air all the same, so that a flight through it looks like a flight. Height on pressure levels
is a mean column plus a sum of modes, each a vertical profile A(z) times a horizontal pattern h(x, y, t). Temperature is
the vertical slope of height (hydrostatic balance, T = g/R dZ/dln(1/p)), wind follows from the horizontal slope: for a
mode of intrinsic frequency w in the plane-wave form exp(-iwt) the linear momentum equations on the rotating earth,
-iw u - f v = -g Zx and -iw v + f u = -g Zy, give

    u = g (-iw Zx + f Zy) / (w^2 - f^2)        v = g (-iw Zy - f Zx) / (w^2 - f^2)

With w = 0 that is geostrophic wind, and the shear is the thermal wind: jet, easterlies aloft, travelling waves and
the random part of each member. With w^2 = f^2 + N^2 k^2 / m^2 it is an inertia-gravity wave (polarisation and
dispersion relation of mid-frequency waves: Fritts and Alexander 2003, Rev. Geophys. 41, 1003, from memory). Coriolis
f is that of each latitude. Left out: Doppler shift of the gravity waves, humidity, mountains other than their height.

Heights ``z`` in this file are log-pressure heights, 7 km times ln(1013.25 hPa / p). Member 0 is the control.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import standard_air_at_geopotential
from pappus.earth import require_range
from pappus.sources.grib import (
    ABOVE_GROUND,
    GROUND,
    ISOBARIC,
    TOP_OF_AIR,
    Ensemble,
    Quantity,
    write_grib,
)
from pappus.sources.soundings import log_pressure_above_first
from pappus.units import dry_air_gas_constant_j_kg_k, standard_gravity_m_s2, standard_pressure_pa

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

FILE_NAME = "invented-forecast-2027-02-13-00Z.grib2"
REMARK = "INVENTED: example forecast of pappus, no model ran, every number is made up"
RUN = datetime(2027, 2, 13, tzinfo=UTC)
STEP_H = (9, 12, 15, 18, 21, 24)
LATITUDE_DEG = np.arange(-41.0, -32.9, 0.5)
LONGITUDE_DEG = np.arange(-70.0, -57.9, 0.5)
LEVEL_HPA = np.array(
    [
        *(1000, 975, 950, 925, 900, 850, 800, 700, 600, 500, 400, 350, 300, 250, 200, 175, 150, 125, 100),
        *(70, 50, 40, 30, 20, 15, 10, 7, 5, 4, 3, 2),
    ],
    dtype=np.float64,
)
MOST_MEMBERS = 100

_CENTRE_DEG = (-37.0, -64.6)
_EARTH_RADIUS_M = 6_371_000.0
_EARTH_RATE_S = 7.292115e-5
_SCALE_HEIGHT_M = 7_000.0
_SEA_LEVEL_PA = 101_400.0
_BUOYANCY_S = 0.021
"""Of the stratosphere."""
_CORIOLIS_S = 2.0 * _EARTH_RATE_S * float(np.sin(np.radians(_CENTRE_DEG[0])))
_METRES_PER_WIND = abs(_CORIOLIS_S) / standard_gravity_m_s2
"""Slope of a pressure level, m per m, for a geostrophic wind of 1 m/s."""
_KELVIN_PER_M = standard_gravity_m_s2 / dry_air_gas_constant_j_kg_k

# Spread of the members at each height: the short-lead wind error that pappus assumes of any forecast.
_SPREAD_HPA = np.array([1000.0, 850.0, 500.0, 250.0, 100.0, 50.0, 10.0, 5.0])
_SPREAD_M_S = np.array([1.8, 1.8, 2.0, 2.8, 2.2, 2.2, 3.2, 4.5])
_RANDOM_SHARE = 0.9
"""Of the standard deviation; the jet, the phases and the gravity waves of the members make the rest."""
_KNOT_M, _KNOT_DEPTH_M = np.arange(0.0, 46_000.0, 3_500.0), 3_000.0


@dataclass(frozen=True)
class Air:
    """Fields of one member, [step, level, latitude, longitude], lowest level first."""

    geopotential_m: Array
    temperature_k: Array
    wind_u_m_s: Array
    wind_v_m_s: Array


class _Mode(NamedTuple):
    """One term of the sum; real parts count."""

    profile: Callable[[Array], Complex | Array]
    """Of z; times the pattern it makes the height of a level."""
    pattern: Callable[[Array, Array, Array], Complex | Array]
    """Of x, y [m from the centre] and time [s after the run]."""
    frequency_s: float = 0.0


def write_invented_forecast(path: str | Path, *, members: int = 12, seed: int = 20270213) -> None:
    """Write the invented forecast as GRIB edition 2: u, v, t, gh on pressure levels and fields near the ground.

    Run 2027-02-13 00 UTC, steps of 9 to 24 h, 41 to 33 S, 70 to 58 W at 0.5 deg, 1000 to 2 hPa. ``members`` from 1 to
    100, ``seed`` from 0. The same members and seed give the same octets. Name the file ``FILE_NAME``.

    Raises OutOfRange for another number of members.
    """
    require_range("number of members", members, 1, MOST_MEMBERS, "")
    ensemble = Ensemble(RUN, members, STEP_H, LATITUDE_DEG, LONGITUDE_DEG, REMARK)
    write_grib(Path(path), ensemble, _fields([invented_air(member, seed) for member in range(members)]))


def invented_air(member: int, seed: int) -> Air:
    """Air of one member at all steps, as made and before any packing."""
    modes = _modes_of_member(member, np.random.default_rng([seed, member]))
    time_s = 3600.0 * np.array(STEP_H, dtype=np.float64)[:, None, None]
    latitude, longitude = np.radians(LATITUDE_DEG)[:, None], np.radians(LONGITUDE_DEG)[None, :]
    centre = np.radians(_CENTRE_DEG)
    stretch = np.cos(centre[0]) / np.cos(latitude)  # x is exact at the latitude of the centre only
    x = _EARTH_RADIUS_M * np.cos(centre[0]) * (longitude - centre[1])
    y = _EARTH_RADIUS_M * (latitude - centre[0])
    time_s, y, x = np.broadcast_arrays(time_s, y, x)
    coriolis = 2.0 * _EARTH_RATE_S * np.sin(latitude)
    z = _SCALE_HEIGHT_M * np.log(standard_pressure_pa / (100.0 * LEVEL_HPA))

    height, temperature = _mean_column()
    profiles, slopes, patterns, winds_u, winds_v = [], [], [], [], []
    for mode in modes:
        profiles.append(mode.profile(z))
        patterns.append(mode.pattern(x, y, time_s))
        # central differences over far less than any length here: as good as derivatives
        slopes.append((mode.profile(z + 1.0) - mode.profile(z - 1.0)) / 2.0 * _SCALE_HEIGHT_M)
        east = stretch * (mode.pattern(x + 50.0, y, time_s) - mode.pattern(x - 50.0, y, time_s)) / 100.0
        north = (mode.pattern(x, y + 50.0, time_s) - mode.pattern(x, y - 50.0, time_s)) / 100.0
        turn, factor = -1j * mode.frequency_s, standard_gravity_m_s2 / (mode.frequency_s**2 - coriolis**2)
        winds_u.append(factor * (turn * east + coriolis * north))
        winds_v.append(factor * (turn * north - coriolis * east))

    def total(vertical: list[Complex | Array], horizontal: list[Complex | Array]) -> Array:
        return np.asarray(np.einsum("ml,mtyx->tlyx", np.array(vertical), np.array(horizontal)).real)

    return Air(
        height[:, None, None] + total(profiles, patterns),
        temperature[:, None, None] + _KELVIN_PER_M * total(slopes, patterns),
        total(profiles, winds_u),
        total(profiles, winds_v),
    )


def ground_geopotential_m() -> Array:
    """Height of the invented model's ground, (latitude, longitude): low pampa in the east, rising to the west.

    Near the height of the example's sites, 225 m at 64.6 W and 312 m at 65.4 W; no sea, no single mountain.
    """
    profile = 40.0 + 185.0 * np.exp((-64.6 - LONGITUDE_DEG) / 2.2)
    return np.broadcast_to(profile, (len(LATITUDE_DEG), len(LONGITUDE_DEG))).copy()


def _mean_column() -> tuple[Array, Array]:
    """Geopotential height and temperature on the levels: a summer column, standard air made warmer below 10 km,
    colder at a high tropopause, a little warmer above."""
    height = np.arange(0.0, 50_001.0, 50.0)
    low = 9.0 * np.exp(-((height / 7_000.0) ** 2))
    tropopause = -11.0 * np.exp(-(((height - 16_500.0) / 2_600.0) ** 2))
    temperature = standard_air_at_geopotential(height).temperature_k + low + tropopause + 2.0
    rise = -log_pressure_above_first(height, temperature)
    wanted = np.log(_SEA_LEVEL_PA / (100.0 * LEVEL_HPA))
    return np.interp(wanted, rise, height), np.interp(wanted, rise, temperature)


def _modes_of_member(member: int, rng: np.random.Generator) -> list[_Mode]:
    """The control has the flow as it is; the others jet and waves a little apart from it, and a random part."""
    scatter = rng.standard_normal(7) * (member > 0)
    jet, first, second = 1.0 + 0.05 * scatter[0], 1.0 + 0.08 * scatter[1], 1.0 + 0.08 * scatter[2]
    modes = [
        _zonal(lambda z: 2.5 + z / 9_000.0 - 9.0 * _step(z, 23_500.0, 1_800.0)),
        _meridional(lambda z: -2.5 + 4.5 * np.sin(z / 7_500.0) * np.exp(-((z / 30_000.0) ** 2))),
        _jet(lambda z: 24.0 * jet * _bump(z, 11_500.0, 4_200.0)),
        _travelling(4_200_000.0, 10.0, 5.5 * first, 2.6 + 0.12 * scatter[3], tilt_m=30_000.0),
        _travelling(1_900_000.0, 15.0, 4.0 * second, 0.4 + 0.2 * scatter[4], tilt_m=40_000.0),
        _gravity_wave(900_000.0, 9_000.0, 70.0, 2.2, 0.5 + 0.8 * scatter[5]),
        _gravity_wave(700_000.0, 8_000.0, 150.0, 1.3, 2.1 + 0.8 * scatter[6]),
    ]
    if member > 0:
        modes += _random_part(rng)
    return modes


def _bump(z: Array, centre_m: float, width_m: float) -> Array:
    return np.asarray(np.exp(-(((z - centre_m) / width_m) ** 2)))


def _step(z: Array, centre_m: float, width_m: float) -> Array:
    return np.asarray(1.0 / (1.0 + np.exp(-(z - centre_m) / width_m)))


def _zonal(wind_m_s: Callable[[Array], Array]) -> _Mode:
    """West wind of one speed over the area: height rises towards the equator."""
    return _Mode(wind_m_s, lambda x, y, t: _METRES_PER_WIND * y)


def _meridional(wind_m_s: Callable[[Array], Array]) -> _Mode:
    """South wind of one speed over the area: south of the equator high pressure lies on its left, in the west."""
    return _Mode(wind_m_s, lambda x, y, t: -_METRES_PER_WIND * x)


def _jet(wind_m_s: Callable[[Array], Array]) -> _Mode:
    """West wind strongest along a latitude 1 deg south of the centre, 8 deg wide to each side."""
    axis_m, width_m = -111_000.0, 890_000.0
    return _Mode(wind_m_s, lambda x, y, t: _METRES_PER_WIND * width_m * np.tanh((y - axis_m) / width_m))


def _travelling(length_m: float, speed_m_s: float, wind_m_s: float, phase: float, *, tilt_m: float) -> _Mode:
    """A wave that goes east, leans west with height and ends in the easterlies; ``wind_m_s`` is its peak."""
    wave = 2.0 * np.pi / length_m
    height = _METRES_PER_WIND * wind_m_s / wave

    def profile(z: Array) -> Complex:
        size = (0.35 + 0.65 * _bump(z, 10_500.0, 6_000.0)) * (1.0 - _step(z, 19_000.0, 2_500.0))
        return np.asarray(size * np.exp(2j * np.pi * (z - 10_500.0) / tilt_m))

    def pattern(x: Array, y: Array, t: Array) -> Complex:
        envelope = np.exp(-(((y + 100_000.0) / 1_600_000.0) ** 2))
        return np.asarray(height * envelope * np.exp(1j * (wave * (x - speed_m_s * t) + phase)))

    return _Mode(profile, pattern)


def _gravity_wave(length_m: float, depth_m: float, towards_deg: float, wind_m_s: float, phase: float) -> _Mode:
    """An inertia-gravity wave that grows upwards; phases sink, so that its energy rises."""
    wave, vertical = 2.0 * np.pi / length_m, 2.0 * np.pi / depth_m
    frequency = float(np.hypot(_CORIOLIS_S, _BUOYANCY_S * wave / vertical))
    height = wind_m_s * (frequency**2 - _CORIOLIS_S**2) / (frequency * wave * standard_gravity_m_s2)
    east, north = wave * np.sin(np.radians(towards_deg)), wave * np.cos(np.radians(towards_deg))

    def profile(z: Array) -> Complex:
        return np.asarray(_step(z, 26_000.0, 4_500.0) * np.exp(-1j * vertical * z))

    def pattern(x: Array, y: Array, t: Array) -> Complex:
        return np.asarray(height * np.exp(1j * (east * x + north * y - frequency * t + phase)))

    return _Mode(profile, pattern, frequency)


def _random_part(rng: np.random.Generator) -> list[_Mode]:
    """Balanced eddies of random place, one set for each of some overlapping layers; they grow with lead."""
    spread = np.interp(-np.log(_level_hpa(_KNOT_M)), -np.log(_SPREAD_HPA), _SPREAD_M_S)
    return [_eddies(index, _RANDOM_SHARE * sd, rng) for index, sd in enumerate(spread)]


def _eddies(knot: int, sd_m_s: float, rng: np.random.Generator, waves: int = 6) -> _Mode:
    """Sum of plane waves whose directions go round evenly, so that u and v both have the standard deviation."""
    wave = 2.0 * np.pi / rng.uniform(900_000.0, 2_600_000.0, waves)
    angle = np.pi * (np.arange(waves) + rng.uniform()) / waves
    phase = rng.uniform(0.0, 2.0 * np.pi, waves)
    # a random amplitude too: with phases alone no place would ever be far off
    amplitude = rng.rayleigh(np.sqrt(0.5), waves) * 2.0 * sd_m_s * _METRES_PER_WIND / (wave * np.sqrt(waves))
    drift_m_s = rng.uniform(3.0, 12.0)

    def profile(z: Array) -> Array:
        layers = np.exp(-0.5 * ((z - _KNOT_M[:, None]) / _KNOT_DEPTH_M) ** 2)
        return np.asarray(layers[knot] / np.sqrt((layers**2).sum(axis=0)))

    def pattern(x: Array, y: Array, t: Array) -> Array:
        growth = 1.0 + 0.2 * (t / 3600.0 - 6.0) / 18.0
        moved = x - drift_m_s * t
        terms = zip(amplitude, wave * np.cos(angle), wave * np.sin(angle), phase, strict=True)
        return np.asarray(growth * sum(a * np.cos(k * moved + m * y + start) for a, k, m, start in terms))

    return _Mode(profile, pattern)


def _level_hpa(z: Array) -> Array:
    return np.asarray(standard_pressure_pa / 100.0 * np.exp(-z / _SCALE_HEIGHT_M))


def _fields(members: list[Air]) -> Iterator[tuple[Quantity, Array]]:
    """Every field of the file, [member, step, latitude, longitude]."""
    for (category, number), cubes in (
        ((3, 5), [air.geopotential_m for air in members]),
        ((0, 0), [air.temperature_k for air in members]),
        ((2, 2), [air.wind_u_m_s for air in members]),
        ((2, 3), [air.wind_v_m_s for air in members]),
    ):
        cube = np.array(cubes)
        for index, level in enumerate(LEVEL_HPA):
            yield Quantity(category, number, ISOBARIC, int(level * 100)), cube[:, :, index]
    yield Quantity(3, 5, GROUND), ground_geopotential_m()[None, None]
    near_ground = [_near_ground(air) for air in members]
    for quantity in near_ground[0]:
        yield quantity, np.array([one[quantity] for one in near_ground])


def _near_ground(air: Air) -> dict[Quantity, Array]:
    """Wind, gust, temperature, cloud, visibility and rain that go with the air above, [step, latitude, longitude].

    Drag slows the wind and turns it towards low pressure, clockwise south of the equator. By day mixing brings it
    down and a north-easterly breeze sets in. Poleward flow at 700 hPa brings cloud, thick cloud brings rain.
    """
    hour = np.array(STEP_H, dtype=np.float64)[:, None, None]
    day = np.maximum(0.0, np.sin(np.pi * (hour - 9.8) / 13.6))  # from sunrise to sunset, UTC
    ground = ground_geopotential_m()
    u, v = (_at_height(air, cube, ground + 400.0) for cube in (air.wind_u_m_s, air.wind_v_m_s))
    share, turn = 0.45 + 0.25 * day, np.radians(20.0)
    u10 = share * (u * np.cos(turn) + v * np.sin(turn)) - 1.5 * day
    v10 = share * (v * np.cos(turn) - u * np.sin(turn)) - 2.5 * day
    gust = np.hypot(u10, v10) * (1.3 + 0.35 * day) + 3.0 * day
    poleward = -air.wind_v_m_s[:, list(LEVEL_HPA).index(700.0)]
    cloud = 1.0 / (1.0 + np.exp(-(poleward - 3.0) / 2.0))
    rate_mm_h = 4.0 * np.maximum(cloud - 0.85, 0.0)
    rain = np.cumsum(np.diff(hour, axis=0, prepend=0.0) * rate_mm_h, axis=0)
    visibility = np.clip(12_000.0 + 30_000.0 * day, 0.0, 40_000.0) / (1.0 + 4.0 * rate_mm_h)
    return {
        Quantity(2, 2, ABOVE_GROUND, 10): u10,
        Quantity(2, 3, ABOVE_GROUND, 10): v10,
        Quantity(2, 22, ABOVE_GROUND, 10): gust,
        Quantity(0, 0, ABOVE_GROUND, 2): _at_height(air, air.temperature_k, ground) - 5.0 + 11.0 * day,
        Quantity(6, 1, GROUND, up_to=TOP_OF_AIR): 100.0 * cloud,
        Quantity(19, 0, GROUND): visibility,
        Quantity(1, 8, GROUND, is_sum=True): rain,
    }


def _at_height(air: Air, cube: Array, height_m: Array) -> Array:
    """Values of a cube at a geopotential height [latitude, longitude], linear between levels and held below them."""
    below = np.clip((air.geopotential_m < height_m).sum(axis=1, keepdims=True) - 1, 0, len(LEVEL_HPA) - 2)
    low, high = (np.take_along_axis(air.geopotential_m, below + one, axis=1) for one in (0, 1))
    share = np.clip((height_m - low) / (high - low), 0.0, 1.0)
    first, second = (np.take_along_axis(cube, below + one, axis=1) for one in (0, 1))
    return np.asarray((first + share * (second - first))[:, 0])
