"""Flights by fourth-order Runge-Kutta in tiny steps of time, in double precision: the reference for the accuracy.

Nothing of the level-by-level scheme is used: height is a variable like the others, the level follows from it at every
call. For flights that rise, burst and land; no cut-downs, no floaters, no edges.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Landing:
    """Touchdown of every flight, and how high it was."""

    latitude_deg: Array
    longitude_deg: Array
    time_s: Array
    top_msl_m: Array


def land_by_tiny_steps(conditions: Conditions, draws: Draws, *, step_s: float = 2.0) -> Landing:
    """Fly all rows; every flight must burst and land within the winds."""
    steps = _Steps(conditions, draws)
    release, n = conditions.release, draws.flights
    state = np.tile([[release.latitude_deg], [release.longitude_deg], [release.height_msl_m], [release.time_s]], n)
    state[3] += draws.release_delay_s
    state = steps.until(state, step_s, leg=0)
    top = state[2].copy()
    state = steps.until(state, step_s, leg=1)
    return Landing(state[0], state[1], state[3], top)


class _Steps:
    def __init__(self, conditions: Conditions, draws: Draws) -> None:
        self.conditions, self.draws = conditions, draws
        field = conditions.field
        quantities = field.wind_u_m_s, field.wind_v_m_s, field.temperature_k, field.height_msl_m, field.pressure_pa
        cube = np.stack([*quantities[:4], np.log(quantities[4])])
        self.cube = np.ascontiguousarray(cube.transpose(1, 2, 4, 5, 0, 3))  # member, time, y, x, quantity, level
        self.gas_kg = draws.gas_mol * molar_mass_kg_mol(conditions.train.gas)
        self.carried_kg = conditions.train.envelope.mass_kg + conditions.train.train_mass_kg + self.gas_kg
        self.released = conditions.release.time_s + draws.release_delay_s

    def until(self, state: Array, step_s: float, *, leg: int) -> Array:
        """Step until the burst (leg 0) or the ground (leg 1), which is placed linearly in the last tiny step."""
        going = np.ones(state.shape[1], dtype=bool)
        while going.any():
            a, _ = self._slope(state, leg)
            b, _ = self._slope(state + 0.5 * step_s * a, leg)
            c, _ = self._slope(state + 0.5 * step_s * b, leg)
            d, _ = self._slope(state + step_s * c, leg)
            after = state + step_s / 6.0 * (a + 2.0 * b + 2.0 * c + d)
            before_event, after_event = self._event(state, leg), self._event(after, leg)
            ends = going & (after_event <= 0.0)
            share = np.where(ends, before_event / np.maximum(before_event - after_event, 1e-12), 1.0)
            state = np.where(going, state + share * (after - state), state)
            going &= ~ends
        return state

    def _event(self, state: Array, leg: int) -> Array:
        """Falls to zero at the end of the leg."""
        if leg == 1:
            return state[2] - self.conditions.ground.height_msl_m(state[0], state[1])
        _, diameter = self._slope(state, leg)
        early = np.where(np.isnan(self.draws.early_burst_msl_m), np.inf, self.draws.early_burst_msl_m) - state[2]
        return np.minimum(np.log(self.draws.burst_diameter_m / diameter) * 20_000.0, early)

    def _slope(self, state: Array, leg: int) -> tuple[Array, Array]:
        """Change of latitude, longitude, height and time per second, and the diameter."""
        latitude, _, height, time = state
        u, v, temperature, log_pressure, rate_ln = self._air(state, leg)
        pressure, draws, train = np.exp(log_pressure), self.draws, self.conditions.train
        density, gravity = pressure / (dry_air_gas_constant_j_kg_k * temperature), gravity_m_s2(height)
        diameter = np.ones_like(height)
        if leg == 0:
            excess = gas_excess_k(pressure, height, self.conditions.sun.elevation_at_deg(time))
            excess = excess + draws.gas_excess_offset_k * height_share(pressure)
            envelope = train.envelope
            gone = np.clip(draws.leak_per_s * (time - self.released), 0.0, 0.99)
            diameter = inflated_diameter_m(
                draws.gas_mol * (1.0 - gone),
                pressure,
                temperature + excess,
                envelope.mass_kg,
                envelope.unstretched_diameter_m,
            )
            lift = (density * np.pi / 6.0 * diameter**3 - self.carried_kg + self.gas_kg * gone) * gravity
            rate = climb_rate_m_s(lift, diameter, density, dynamic_viscosity_pa_s(temperature), draws.drag_factor)
            rate = np.exp(rate_ln) * rate * envelope.climb_bend.rate_factor(density)
        else:
            mass = train.train_mass_kg + draws.remnant_kg
            rate = -np.exp(rate_ln) * fall_rate_m_s(mass, draws.drag_area_m2, density, gravity, draws.fall_exponent)
        north, east = degrees_per_m(latitude, height)
        return np.stack([v * north, u * east, rate, np.ones_like(rate)]), diameter

    def _air(self, state: Array, leg: int) -> tuple[Array, Array, Array, Array, Array]:
        """u, v, T, ln p and the stray of the rate by the height of the levels over each place, wind error included."""
        latitude, longitude, height, time = state
        field, member = self.conditions.field, self.draws.member
        lower, share = zip(
            *(
                _cell(axis, value)
                for axis, value in (
                    (field.time_s, time), (field.latitude_deg, latitude), (field.longitude_deg, longitude),
                )
            ),
            strict=True,
        )  # fmt: skip
        columns: Array = np.zeros((height.size, 5, field.levels))
        for corner in range(8):
            side = [(corner >> axis) & 1 for axis in range(3)]
            t, y, x = (
                np.minimum(at + s, points - 1) for at, s, points in zip(lower, side, self._points(), strict=True)
            )
            weight = np.prod([r if s else 1.0 - r for r, s in zip(share, side, strict=True)], axis=0)
            columns += weight[:, None, None] * self.cube[member, t, y, x]
        heights = columns[:, 3]
        level = np.clip((heights <= height[:, None]).sum(axis=1) - 1, 0, field.levels - 2)
        rows = np.arange(height.size)
        part = (height - heights[rows, level]) / (heights[rows, level + 1] - heights[rows, level])
        low, high = columns[rows, :, level], columns[rows, :, level + 1]
        u, v, temperature, _, log_pressure = (low + part[:, None] * (high - low)).T
        error = self.draws.wind_error_m_s
        if error is not None:
            added = error[rows, leg, level] + part[:, None] * (error[rows, leg, level + 1] - error[rows, leg, level])
            u, v = u + added[:, 0], v + added[:, 1]
        own = self.draws.fall_ln if leg else self.draws.climb_ln
        rate_ln = np.zeros_like(u)
        if own is not None:
            rate_ln = own[rows, level] + part * (own[rows, level + 1] - own[rows, level])
        return u, v, temperature, log_pressure, rate_ln

    def _points(self) -> tuple[int, int, int]:
        field = self.conditions.field
        return len(field.time_s), len(field.latitude_deg), len(field.longitude_deg)


def _cell(axis: Array, value: Array) -> tuple[NDArray[np.intp], Array]:
    if len(axis) == 1:
        return np.zeros(len(value), dtype=np.intp), np.zeros(len(value))
    lower = np.clip(np.searchsorted(axis, value, side="right") - 1, 0, len(axis) - 2)
    return lower, (value - axis[lower]) / (axis[lower + 1] - axis[lower])
