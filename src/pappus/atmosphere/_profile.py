"""A column of air, measured or standard, and the hydrostatic equation that gives it heights."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from pappus.atmosphere._air import Array
from pappus.atmosphere._standard import standard_air
from pappus.earth import geometric_height_msl_m, geopotential_height_m, require_range
from pappus.errors import BadInput, Finding
from pappus.units import dry_air_gas_constant_j_kg_k, standard_gravity_m_s2

_STANDARD_BOTTOM_MSL_M, _STANDARD_STEP_M = -500.0, 100.0


@dataclass(frozen=True, eq=False)
class Profile:
    """Temperature and pressure at nodes of height; never extended beyond them.

    Between nodes temperature and ln(pressure) run linearly in height; at the nodes their values come back exactly.
    Heights are geometric, above mean sea level, ascending; pressures descend; arrays of one length, two or more.
    ``temperature_k`` may be virtual temperature, then the density is that of the humid air.
    """

    name: str
    height_msl_m: Array
    pressure_pa: Array
    temperature_k: Array

    def __post_init__(self) -> None:
        if not self.height_msl_m.shape == self.pressure_pa.shape == self.temperature_k.shape:
            raise ValueError("height, pressure and temperature of a profile must have one shape")
        if self.height_msl_m.ndim != 1 or len(self.height_msl_m) < 2:
            raise BadInput(self._finding("levels", str(self.height_msl_m.size), "a profile needs two levels or more"))
        height, pressure, temperature = self.height_msl_m, self.pressure_pa, self.temperature_k
        warm = (temperature > 0) & np.isfinite(temperature)
        columns = (
            ("height_msl_m", height, np.diff(height) > 0, "heights must rise from level to level"),
            ("pressure_pa", pressure, np.diff(pressure) < 0, "pressures must fall from level to level"),
            ("pressure_pa", pressure, (pressure > 0) & np.isfinite(pressure), "pressures must be above 0 Pa"),
            ("temperature_k", temperature, warm, "temperatures must be above 0 K"),
        )
        bad = [
            self._finding(field, f"{values[np.argmin(good)]:g} at level {np.argmin(good)}", reason)
            for field, values, good, reason in columns
            if not good.all()
        ]
        if bad:
            raise BadInput(*bad)

    @classmethod
    def standard(cls, top_msl_m: float = 60_000.0) -> Profile:
        """The standard atmosphere from -500 m to ``top_msl_m`` (0 to 86 km) in steps of 100 m.

        Between its nodes it keeps the standard pressure to 1e-5 and temperature to 0.2 K (at the corners of layers).
        """
        top = float(require_range("top of the profile", top_msl_m, 0, 86_000, "m"))
        height = np.append(np.arange(_STANDARD_BOTTOM_MSL_M, top, _STANDARD_STEP_M), top)
        air = standard_air(height)
        return cls("US Standard Atmosphere 1976", height, air.pressure_pa, air.temperature_k)

    def temperature_k_at(self, height_msl_m: ArrayLike) -> Array:
        """Temperature at heights between the lowest and the highest node, else ``OutOfRange``."""
        lower, upper, part = self._locate(height_msl_m)
        below = self.temperature_k[lower]
        return np.asarray(below + part * (self.temperature_k[upper] - below))

    def pressure_pa_at(self, height_msl_m: ArrayLike) -> Array:
        """Pressure at heights between the lowest and the highest node, else ``OutOfRange``."""
        lower, upper, part = self._locate(height_msl_m)
        below = self.pressure_pa[lower]
        return np.asarray(below * (self.pressure_pa[upper] / below) ** part)

    def density_at(self, height_msl_m: ArrayLike) -> Array:
        """Density p / (R T), kg/m3, at heights between the lowest and the highest node, else ``OutOfRange``."""
        temperature = dry_air_gas_constant_j_kg_k * self.temperature_k_at(height_msl_m)
        return np.asarray(self.pressure_pa_at(height_msl_m) / temperature)

    def height_msl_m_at_pressure(self, pressure_pa: ArrayLike) -> Array:
        """Height of a pressure between those of the highest and the lowest node, else ``OutOfRange``."""
        thinnest, densest = float(self.pressure_pa[-1]), float(self.pressure_pa[0])
        pressure = require_range(f"pressure in {self.name}", pressure_pa, thinnest, densest, "Pa")
        lower, upper = _neighbours(-self.pressure_pa, -pressure)
        below, span = self.pressure_pa[lower], np.log(self.pressure_pa[lower] / self.pressure_pa[upper])
        part = np.log(below / pressure) / np.where(span > 0, span, 1.0)
        return np.asarray(self.height_msl_m[lower] + part * (self.height_msl_m[upper] - self.height_msl_m[lower]))

    def _locate(self, height_msl_m: ArrayLike) -> tuple[np.ndarray, np.ndarray, Array]:
        bottom, top = float(self.height_msl_m[0]), float(self.height_msl_m[-1])
        height = require_range(f"height above mean sea level in {self.name}", height_msl_m, bottom, top, "m")
        lower, upper = _neighbours(self.height_msl_m, height)
        span = self.height_msl_m[upper] - self.height_msl_m[lower]
        return lower, upper, (height - self.height_msl_m[lower]) / np.where(span > 0, span, 1.0)

    def _finding(self, field: str, value: str, reason: str) -> Finding:
        return Finding(f"{self.name}: {field}", value, reason, "Sort the levels and leave out the bad ones.")


def hydrostatic_height_msl_m(
    pressure_pa: Array, temperature_k: Array, surface_height_msl_m: float, latitude_deg: float | None
) -> Array:
    """Geometric heights of levels from their pressure and (virtual) temperature; the first level is the surface.

    Hypsometric equation with ln(p)-trapezoids: thickness = (R / g0) mean(T) ln(p_below / p_above), exact where T is
    linear in ln(p). ``latitude_deg`` turns geopotential into geometric metres; None takes the standard earth.
    Source: WMO-No. 8 (from memory). Pressures may not rise from level to level; 0.1 Pa to 2 bar, 150 to 400 K.
    """
    pressure = require_range("air pressure", pressure_pa, 0.1, 200_000, "Pa")
    temperature = require_range("air temperature", temperature_k, 150, 400, "K")
    log_step = -np.diff(np.log(pressure))
    require_range("step of ln(pressure) between levels", log_step, 0, np.inf, "")
    metres_per_k = dry_air_gas_constant_j_kg_k / standard_gravity_m_s2
    thickness = metres_per_k * (temperature[:-1] + temperature[1:]) / 2 * log_step
    surface = geopotential_height_m(surface_height_msl_m, latitude_deg)
    return geometric_height_msl_m(surface + np.concatenate(([0.0], np.cumsum(thickness))), latitude_deg)


def _neighbours(ascending: Array, value: Array) -> tuple[np.ndarray, np.ndarray]:
    """Node at or below each value and the next one; the last node is its own neighbour."""
    lower = np.searchsorted(ascending, value, side="right") - 1
    return lower, np.minimum(lower + 1, len(ascending) - 1)
