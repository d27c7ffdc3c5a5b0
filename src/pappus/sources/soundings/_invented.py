"""An invented sounding over real geography, for the example: no measurement, and it says so in its first line."""

from __future__ import annotations

import numpy as np

from pappus.atmosphere import standard_air
from pappus.earth import gravity_m_s2
from pappus.units import dry_air_gas_constant_j_kg_k

STATION = (-36.57, -64.27)
STATION_HEIGHT_MSL_M = 191.0
RELEASE_UTC = "2027-02-13T11:05:00Z"
TOP_MSL_M = 36_000.0


def invented_sounding_csv() -> str:
    """CSV of a summer morning on the Pampa: light winds below, a jet at 12 km, easterlies above 22 km.

    Standard air made warmer below and colder at a higher tropopause, hydrostatic; winds are smooth profiles with
    gravity waves that grow with height. Every number is made up.
    """
    height = np.concatenate(
        [np.arange(STATION_HEIGHT_MSL_M, 3_000.0, 200.0), np.arange(3_000.0, TOP_MSL_M + 1.0, 500.0)]
    )
    temperature = standard_air(height).temperature_k + _warmer_k(height)
    pressure = _hydrostatic_pa(height, temperature)
    jet = 27.0 * np.exp(-(((height - 12_000.0) / 4_200.0) ** 2))
    easterly = -9.0 / (1.0 + np.exp(-(height - 23_500.0) / 1_800.0))
    wave = (height / TOP_MSL_M) * 1.8
    u = 2.5 + height / 9_000.0 + jet + easterly + wave * np.sin(height / 420.0)
    v = -3.5 + 6.0 * np.sin(height / 7_500.0) + wave * np.cos(height / 420.0)
    lines = [
        "# INVENTED sounding for the example flight: no balloon flew, every number is made up",
        "# station: invented station near Santa Rosa",
        f"# latitude_deg: {STATION[0]}",
        f"# longitude_deg: {STATION[1]}",
        f"# station_height_msl_m: {STATION_HEIGHT_MSL_M:.0f}",
        f"# release_utc: {RELEASE_UTC}",
        "height_msl_m,pressure_hPa,temperature_C,wind_u_m_s,wind_v_m_s",
    ]
    columns = (height, pressure / 100.0, temperature - 273.15, u, v)
    lines += [f"{z:.0f},{p:.3f},{t:.2f},{a:.2f},{b:.2f}" for z, p, t, a, b in zip(*columns, strict=True)]
    return "\n".join(lines) + "\n"


def _warmer_k(height_msl_m: np.ndarray) -> np.ndarray:
    """Departure from the standard: a warm lower half, a high cold tropopause, a mild stratosphere."""
    low = 9.0 * np.exp(-((height_msl_m / 7_000.0) ** 2))
    tropopause = -11.0 * np.exp(-(((height_msl_m - 16_500.0) / 2_600.0) ** 2))
    return np.asarray(low + tropopause + 2.0)


def _hydrostatic_pa(height_msl_m: np.ndarray, temperature_k: np.ndarray) -> np.ndarray:
    """Pressure from 99.3 kPa at the station upwards, trapezoids of g / (R T) with gravity of the standard earth."""
    slope = gravity_m_s2(height_msl_m) / (dry_air_gas_constant_j_kg_k * temperature_k)
    steps = 0.5 * (slope[1:] + slope[:-1]) * np.diff(height_msl_m)
    return np.asarray(99_300.0 * np.exp(-np.concatenate([[0.0], np.cumsum(steps)])))
