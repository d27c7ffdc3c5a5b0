"""The way a careful person would first write it: one flight at a time, scipy's integrator and scipy's interpolator."""

from __future__ import annotations

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import RegularGridInterpolator

from oracle.places import degrees_per_m
from pappus.atmosphere import dynamic_viscosity_pa_s
from pappus.earth import gravity_m_s2
from pappus.flight_train import (
    climb_rate_m_s,
    fall_rate_m_s,
    gas_excess_k,
    height_share,
    inflated_diameter_m,
    molar_mass_kg_mol,
)
from pappus.trajectory import Conditions, Draws
from pappus.units import dry_air_gas_constant_j_kg_k


class PlainWay:
    """Lands one flight after the other; the state is latitude, longitude and height."""

    def __init__(self, conditions: Conditions, draws: Draws, *, tolerance: float = 1e-6, longest_step_s: float = 20.0):
        self.conditions, self.draws = conditions, draws
        self.how = {"rtol": tolerance, "atol": tolerance, "max_step": longest_step_s}
        field = conditions.field
        cube = np.stack(
            [field.wind_u_m_s, field.wind_v_m_s, field.temperature_k, field.height_msl_m, np.log(field.pressure_pa)],
            axis=-1,
        )
        self.levels = np.arange(field.levels, dtype=np.float64)
        axes = (field.time_s, self.levels, field.latitude_deg, field.longitude_deg)
        self.members = [RegularGridInterpolator(axes, one, bounds_error=False, fill_value=None) for one in cube]

    def land(self, row: int) -> tuple[float, float, float]:
        """Latitude, longitude and time of the landing."""
        release = self.conditions.release
        time = release.time_s + float(self.draws.release_delay_s[row])
        state = np.array([release.latitude_deg, release.longitude_deg, release.height_msl_m])
        for leg, event in ((0, self._bursts), (1, self._lands)):

            def ends(t: float, y: np.ndarray, *, row: int = row, event=event) -> float:  # type: ignore[no-untyped-def]  # event
                return event(row, t, y)

            ends.terminal = True  # type: ignore[attr-defined]  # how solve_ivp wants it
            found = solve_ivp(
                lambda t, y, leg=leg: self._slope(row, t, y, leg),
                (time, time + 20_000.0),
                state,
                events=ends,
                **self.how,
            )
            time, state = float(found.t[-1]), found.y[:, -1]
        return float(state[0]), float(state[1]), time

    def _air(self, row: int, time: float, state: np.ndarray, leg: int) -> np.ndarray:
        """u, v, T, height, ln p, stray of the rate, between two levels of the column over the place."""
        latitude, longitude, height = state
        places = np.stack(np.broadcast_arrays(time, self.levels, latitude, longitude), axis=-1)
        column = self.members[int(self.draws.member[row])](places)
        lower = int(np.clip((column[:, 3] <= height).sum() - 1, 0, len(self.levels) - 2))
        share = (height - column[lower, 3]) / (column[lower + 1, 3] - column[lower, 3])
        air = column[lower] + share * (column[lower + 1] - column[lower])
        error = self.draws.wind_error_m_s
        if error is not None:
            air[:2] += error[row, leg, lower] + share * (error[row, leg, lower + 1] - error[row, leg, lower])
        own = self.draws.fall_ln if leg else self.draws.climb_ln
        stray = 0.0 if own is None else own[row, lower] + share * (own[row, lower + 1] - own[row, lower])
        return np.append(air, stray)

    def _gone(self, row: int, time: float) -> float:
        """Share of the gas that has escaped."""
        draws = self.draws
        released = self.conditions.release.time_s + draws.release_delay_s[row]
        return float(np.clip(draws.leak_per_s[row] * (time - released), 0.0, 0.99))

    def _diameter(self, row: int, time: float, air: np.ndarray) -> float:
        pressure, envelope = np.exp(air[4]), self.conditions.train.envelope
        excess = gas_excess_k(pressure, air[3], self.conditions.sun.elevation_at_deg(np.asarray(time)))
        excess = excess + self.draws.gas_excess_offset_k[row] * height_share(pressure)
        return float(
            inflated_diameter_m(
                self.draws.gas_mol[row] * (1.0 - self._gone(row, time)),
                pressure,
                air[2] + excess,
                envelope.mass_kg,
                envelope.unstretched_diameter_m,
            )
        )

    def _slope(self, row: int, time: float, state: np.ndarray, leg: int) -> list[float]:
        air = self._air(row, time, state, leg)
        train, draws = self.conditions.train, self.draws
        density, gravity = np.exp(air[4]) / (dry_air_gas_constant_j_kg_k * air[2]), gravity_m_s2(air[3])
        if leg == 0:
            diameter = self._diameter(row, time, air)
            gas_kg = draws.gas_mol[row] * (1.0 - self._gone(row, time)) * molar_mass_kg_mol(train.gas)
            carried = train.envelope.mass_kg + train.train_mass_kg + gas_kg
            lift = (density * np.pi / 6.0 * diameter**3 - carried) * gravity
            viscosity = dynamic_viscosity_pa_s(air[2])
            rate = float(climb_rate_m_s(lift, diameter, density, viscosity, draws.drag_factor[row]))
            rate *= float(train.envelope.climb_bend.rate_factor(density))
        else:
            mass = train.train_mass_kg + draws.remnant_kg[row]
            rate = -float(fall_rate_m_s(mass, draws.drag_area_m2[row], density, gravity, draws.fall_exponent[row]))
        rate *= float(np.exp(air[5]))
        north, east = degrees_per_m(state[0], state[2])
        return [float(air[1] * north), float(air[0] * east), rate]

    def _bursts(self, row: int, time: float, state: np.ndarray) -> float:
        air = self._air(row, time, state, 0)
        early = self.draws.early_burst_msl_m[row]
        share = self._diameter(row, time, air) / self.draws.burst_diameter_m[row] - 1.0
        return share if np.isnan(early) else max(share, float(air[3] - early) / 1e4)

    def _lands(self, row: int, time: float, state: np.ndarray) -> float:
        return float(state[2] - self.conditions.ground.height_msl_m(state[0], state[1]))
