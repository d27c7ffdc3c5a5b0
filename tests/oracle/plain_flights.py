"""The plain numpy version of the compiled kernel: the same equations, a second time, over all flights at once.

The state of a flight is (level, latitude, longitude, time): a fractional level of the field stands for height. One
step goes to the next level, with the rise or fall taken at both ends and the drift by Heun's rule on the ellipsoid.
Events inside a step (burst, cut, ground) are placed linearly in height. A balloon that rises slower than 0.5 m/s
goes over to steps in time until it bursts, is cut, or has flown for as long as the plan allows.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from oracle.places import degrees_per_m, drifted, inside_polygon, without_gaps
from pappus.atmosphere import dynamic_viscosity_pa_s
from pappus.earth import gravity_m_s2
from pappus.flight_train import (
    CutDown,
    climb_rate_m_s,
    fall_rate_m_s,
    gas_excess_k,
    height_share,
    inflated_diameter_m,
    molar_mass_kg_mol,
    sphere_volume_m3,
)
from pappus.trajectory import AscentEnd, Conditions, Draws, Flights, Outcome
from pappus.units import dry_air_gas_constant_j_kg_k
from pappus.wind import Air, Sampler

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Rows = NDArray[np.intp]

SLOW_M_S = 0.5
SLOW_STEP_S = 30.0
GROUND_POINTS = 24
"""Points along a falling step at which the ground is looked up."""


def fly_plainly(conditions: Conditions, draws: Draws) -> Flights:
    """Fly every row of ``draws``. Deterministic: all chance is in the draws."""
    return _Ensemble(conditions, draws).run()


@dataclass(frozen=True)
class _Step:
    """Where a step leads, and how far the middle of the way lies off the straight line, over a quarter."""

    latitude: Array
    longitude: Array
    time: Array
    height: Array
    bend_time: Array
    bend_latitude: Array
    bend_longitude: Array

    def of(self, rows: Rows) -> _Step:
        return _Step(*(getattr(self, field.name)[rows] for field in fields(self)))


class _Ensemble:
    """Mutable state of N flights in the air; ``rows`` select the flights that a step concerns."""

    def __init__(self, conditions: Conditions, draws: Draws) -> None:
        self.conditions, self.draws = conditions, draws
        self.sampler = Sampler(conditions.field)
        release, n = conditions.release, draws.flights
        self.latitude = np.full(n, release.latitude_deg)
        self.longitude = np.full(n, release.longitude_deg)
        self.released = release.time_s + draws.release_delay_s
        self.time = self.released.copy()
        self.level = self._level_at(release.height_msl_m)
        self.height = np.full(n, release.height_msl_m)
        self.outcome = np.full(n, Outcome.STILL_ALOFT, dtype=np.int8)
        self.ascent_end = np.full(n, AscentEnd.NONE, dtype=np.int8)
        self.touchdown = np.full(n, np.nan)
        self.gone = np.zeros(n, dtype=bool)
        self.highest_ground_msl_m = conditions.ground.highest_msl_m
        self.last_s = release.time_s + conditions.longest_flight_s
        self.track: list[tuple[Array, Array, Array, Array]] = []
        train = conditions.train
        self.gas_kg = draws.gas_mol * molar_mass_kg_mol(train.gas)
        self.carried_kg = train.envelope.mass_kg + train.train_mass_kg + self.gas_kg
        self._record(np.arange(n))

    def run(self) -> Flights:
        slow = self._rise()
        self._rise_slowly(slow)
        top = self.latitude.copy(), self.longitude.copy(), self.height.copy(), self.time.copy()
        self._fall()
        time, latitude, longitude, height = without_gaps(self.track)
        return Flights(
            self.outcome, self.ascent_end, *top, self.latitude, self.longitude, self.height, self.time,
            self.touchdown, time, latitude, longitude, height, self.conditions.release.time_s,
        )  # fmt: skip

    # --- the three parts of a flight

    def _rise(self) -> Mask:
        """Up, level by level; returns the flights that became slow."""
        slow = np.zeros(self.draws.flights, dtype=bool)
        top_level = self.conditions.field.levels - 1
        rows = np.arange(self.draws.flights)
        air = self._here(rows, leg=0)
        rate, diameter = self._climb(rows, air, self.level[rows], self.time[rows])
        while rows.size:
            slow[rows] = rate < SLOW_M_S
            self._lose(rows[self.level[rows] >= top_level])
            keep = ~slow[rows] & ~self.gone[rows]
            rows, air, rate, diameter = rows[keep], _take(air, keep), rate[keep], diameter[keep]
            if not rows.size:
                break
            target = np.floor(self.level[rows] + 1e-9) + 1.0
            step, air, next_rate, next_diameter = self._step_up(rows, target, air, rate)
            # a flight that almost stops inside this step: its time to the next level is not to be trusted
            stalls = next_rate < SLOW_M_S
            slow[rows[stalls]] = True
            share, end = self._ascent_events(rows, step, diameter, next_diameter)
            share = np.where(stalls, 0.0, share)
            end = np.where(stalls, AscentEnd.NONE, end)
            self._move(rows, share, target, step)
            self.ascent_end[rows] = end
            keep = (end == AscentEnd.NONE) & ~stalls & self._goes_on(rows)
            rows, air, rate, diameter = rows[keep], _take(air, keep), next_rate[keep], next_diameter[keep]
        return np.asarray(slow & ~self.gone & (self.ascent_end == AscentEnd.NONE))

    def _rise_slowly(self, slow: Mask) -> None:
        """Steps in time for balloons near their floating height; ends at burst, cut, or the longest flight."""
        top_level = self.conditions.field.levels - 1
        rows = np.flatnonzero(slow)
        while rows.size:
            air = self._here(rows, leg=0)
            rate, diameter = self._climb(rows, air, self.level[rows], self.time[rows])
            above = self._air(rows, np.minimum(np.floor(self.level[rows]) + 1.0, top_level), 0)
            below = self._air(rows, np.floor(np.minimum(self.level[rows], top_level - 1.0)), 0)
            climbed = rate * SLOW_STEP_S
            level = np.minimum(
                self.level[rows] + climbed / np.maximum(above.height_msl_m - below.height_msl_m, 1.0), float(top_level)
            )
            latitude, longitude = drifted(
                self.latitude[rows], self.longitude[rows], self.height[rows], air.wind_u_m_s, air.wind_v_m_s,
                np.full(rows.size, SLOW_STEP_S),
            )  # fmt: skip
            next_air = self._air_at(rows, level, latitude, longitude, self.time[rows] + SLOW_STEP_S, 0)
            _, next_diameter = self._climb(rows, next_air, level, self.time[rows] + SLOW_STEP_S)
            straight = np.zeros((3, rows.size))
            step = _Step(latitude, longitude, self.time[rows] + SLOW_STEP_S, next_air.height_msl_m, *straight)
            share, end = self._ascent_events(rows, step, diameter, next_diameter)
            self._move(rows, share, level, step)
            self.ascent_end[rows] = end
            self._lose(rows[(level >= top_level) & (end == AscentEnd.NONE)])
            keep = (end == AscentEnd.NONE) & self._goes_on(rows) & ~self.gone[rows]
            rows = rows[keep]

    def _fall(self) -> None:
        """Down, level by level, to the ground."""
        rows = np.flatnonzero(~self.gone & (self.ascent_end != AscentEnd.NONE))
        while rows.size:
            air = self._here(rows, leg=1)
            rate = self._sink(rows, air, self.level[rows])
            target = np.maximum(np.ceil(self.level[rows] - 1e-9) - 1.0, 0.0)
            step, next_rate = self._step_down(rows, target, air, rate)
            share = self._share_to_ground(rows, step)
            lands = (share <= 1.0) | (target <= 0.0)
            share = np.minimum(share, 1.0)
            touchdown = 1.0 / (1.0 / rate + share * (1.0 / next_rate - 1.0 / rate))
            self._move(rows, share, target, step)
            covered = self._goes_on(rows)
            down = rows[lands & covered]
            self.outcome[down] = Outcome.LANDED
            self.touchdown[down] = touchdown[lands & covered]
            rows = rows[~lands & covered]

    def _share_to_ground(self, rows: Rows, step: _Step) -> Array:
        """Share of a falling step at which the flight meets the ground; 2 where it does not.

        A step may be 750 m high and two kilometres long: ground is looked up at points along it.
        """
        share = np.full(rows.size, 2.0)
        near = np.flatnonzero(step.height <= self.highest_ground_msl_m)
        if not near.size:
            return share
        along = np.linspace(0.0, 1.0, GROUND_POINTS + 1)
        latitude, longitude, _, height = self._on_the_way(rows[near], step.of(near), along[:, None])
        clearance = (height - self.conditions.ground.height_msl_m(latitude, longitude)).T
        meets = clearance[:, 1:] <= 0.0
        first = np.argmax(meets, axis=1)
        above = np.maximum(clearance[np.arange(near.size), first], 0.0)
        below = np.minimum(clearance[np.arange(near.size), first + 1], 0.0)
        inside = (first + above / np.maximum(above - below, 1e-9)) / GROUND_POINTS
        share[near] = np.where(meets.any(axis=1), inside, 2.0)
        return share

    # --- one step

    def _step_up(self, rows: Rows, target: Array, air: Air, rate: Array) -> tuple[_Step, Air, Array, Array]:
        """Heun step to the level above; air, rate and diameter there come back to start the next step."""
        next_air, time = self._ahead(rows, target, air, rate, 0)
        next_rate, next_diameter = self._climb(rows, next_air, target, time)
        step = self._step(rows, air, next_air, rate, np.maximum(next_rate, SLOW_M_S))
        return step, next_air, next_rate, next_diameter

    def _step_down(self, rows: Rows, target: Array, air: Air, rate: Array) -> tuple[_Step, Array]:
        next_air, _ = self._ahead(rows, target, air, -rate, 1)
        next_rate = self._sink(rows, next_air, target)
        return self._step(rows, air, next_air, -rate, -next_rate), next_rate

    def _ahead(self, rows: Rows, target: Array, air: Air, rate: Array, leg: int) -> tuple[Air, Array]:
        """Air and time on the next level, as the rates and winds on this one would have it."""
        latitude, longitude, time = self.latitude[rows], self.longitude[rows], self.time[rows]
        height = self.height[rows]
        seconds = (self._air_at(rows, target, latitude, longitude, time, leg).height_msl_m - height) / rate
        there = drifted(latitude, longitude, height, air.wind_u_m_s, air.wind_v_m_s, seconds)
        return self._air_at(rows, target, *there, time + seconds, leg), time + seconds

    def _step(self, rows: Rows, air: Air, next_air: Air, rate: Array, next_rate: Array) -> _Step:
        """Winds go linearly in height and one over the rate exponentially: where that leads, and halfway."""
        latitude, longitude, height = self.latitude[rows], self.longitude[rows], self.height[rows]
        climbed, slow, next_slow = next_air.height_msl_m - height, 1.0 / rate, 1.0 / next_rate
        bend = (next_slow - slow) / (next_slow + slow)
        seconds, lag = 0.5 * climbed * (slow + next_slow) * (1.0 - bend**2 / 3.0), climbed * (next_slow - slow) / 12.0
        u, v = next_air.wind_u_m_s - air.wind_u_m_s, next_air.wind_v_m_s - air.wind_v_m_s
        east_m = 0.5 * (air.wind_u_m_s + next_air.wind_u_m_s) * seconds + u * lag
        north_m = 0.5 * (air.wind_v_m_s + next_air.wind_v_m_s) * seconds + v * lag
        ones, middle = np.ones_like(seconds), height + 0.5 * climbed
        next_latitude, next_longitude = drifted(latitude, longitude, middle, east_m, north_m, ones)
        north, east = degrees_per_m(0.5 * (latitude + next_latitude), middle)
        return _Step(
            next_latitude, next_longitude, self.time[rows] + seconds, next_air.height_msl_m,
            bend, 0.5 * v * seconds * north, 0.5 * u * seconds * east,
        )  # fmt: skip

    def _on_the_way(self, rows: Rows, step: _Step, share: Array) -> tuple[Array, Array, Array, Array]:
        """Latitude, longitude, time and height after a share of the height of a step."""
        part = share - share * (1.0 - share) * step.bend_time
        bow = part * (1.0 - part)
        latitude, longitude = self.latitude[rows], self.longitude[rows]
        return (
            latitude + part * (step.latitude - latitude) - bow * step.bend_latitude,
            longitude + part * (step.longitude - longitude) - bow * step.bend_longitude,
            self.time[rows] + part * (step.time - self.time[rows]),
            self.height[rows] + share * (step.height - self.height[rows]),
        )

    def _ascent_events(
        self, rows: Rows, step: _Step, diameter: Array, next_diameter: Array
    ) -> tuple[Array, NDArray[np.int8]]:
        """Share of the step's height after which the ascent ends (1 when it does not) and by what."""
        draws = self.draws
        grows = np.maximum(np.log(next_diameter / diameter), 1e-12)
        burst = np.where(
            next_diameter >= draws.burst_diameter_m[rows], np.log(draws.burst_diameter_m[rows] / diameter) / grows, 2.0
        )
        early = _share_to(self.height[rows], step.height - self.height[rows], draws.early_burst_msl_m[rows])
        burst = np.minimum(burst, early)
        cut = np.full(rows.size, 2.0)
        for device in self.conditions.train.cut_downs:
            cut = np.minimum(cut, self._cut_share(device, rows, step))
        share = np.clip(np.minimum(np.minimum(burst, cut), 1.0), 0.0, 1.0)
        ended = np.where(burst <= cut, AscentEnd.BURST, AscentEnd.CUT_DOWN)
        return share, np.where(np.minimum(burst, cut) <= 1.0, ended, AscentEnd.NONE).astype(np.int8)

    def _cut_share(self, device: CutDown, rows: Rows, step: _Step) -> Array:
        if device.trigger == "time" and device.after_release_s is not None:
            due = self.released[rows] + device.after_release_s
            share = _share_to(self.time[rows], step.time - self.time[rows], due)
            # share - share (1 - share) bend = share of the time
            bend, late = step.bend_time, np.minimum(share, 1.0)
            height = 2.0 * late / (1.0 - bend + np.sqrt((1.0 - bend) ** 2 + 4.0 * bend * late))
            return np.where(share <= 1.0, height, 2.0)
        if device.trigger == "height" and device.height_msl_m is not None:
            return _share_to(
                self.height[rows], step.height - self.height[rows], np.full(rows.size, device.height_msl_m)
            )
        if device.trigger == "area" and device.keep_inside_deg is not None:
            return np.where(inside_polygon(device.keep_inside_deg, step.latitude, step.longitude), 2.0, 1.0)
        return np.full(rows.size, 2.0)  # a command is the crew's decision, not the prediction's

    def _move(self, rows: Rows, share: Array, level: Array, step: _Step) -> None:
        moved = self._on_the_way(rows, step, share)
        for state, value in zip((self.latitude, self.longitude, self.time, self.height), moved, strict=True):
            state[rows] = value
        self.level[rows] += share * (level - self.level[rows])
        self._record(rows)

    def _record(self, rows: Rows) -> None:
        """Add a column to the track with the flights that moved."""
        columns = tuple(np.full(self.draws.flights, np.nan) for _ in range(4))
        for column, state in zip(columns, (self.time, self.latitude, self.longitude, self.height), strict=True):
            column[rows] = state[rows]
        self.track.append((columns[0], columns[1], columns[2], columns[3]))

    def _goes_on(self, rows: Rows) -> Mask:
        """Which flights the winds still hold and the plan still follows; the others end here, still in the air."""
        covered = self.sampler.inside(self.latitude[rows], self.longitude[rows], self.time[rows])
        self._lose(rows[~covered])
        late = self.time[rows] >= self.last_s
        self.gone[rows[late]] = True
        return np.asarray(covered & ~late)

    def _lose(self, rows: Rows) -> None:
        """These flights go where the winds are not held: nothing is said of them from here on."""
        self.gone[rows] = True
        self.outcome[rows] = Outcome.LEFT_COVERAGE

    # --- physics at the flights

    def _climb(self, rows: Rows, air: Air, level: Array, time: Array) -> tuple[Array, Array]:
        """Rise [m/s] and diameter [m]."""
        draws, envelope = self.draws, self.conditions.train.envelope
        excess = gas_excess_k(air.pressure_pa, air.height_msl_m, self.conditions.sun.elevation_at_deg(time))
        excess = excess + draws.gas_excess_offset_k[rows] * height_share(air.pressure_pa)
        gone = np.clip(draws.leak_per_s[rows] * (time - self.released[rows]), 0.0, 0.99)
        diameter = inflated_diameter_m(
            draws.gas_mol[rows] * (1.0 - gone), air.pressure_pa, air.temperature_k + excess, envelope.mass_kg,
            envelope.unstretched_diameter_m,
        )  # fmt: skip
        density = _density(air)
        carried = self.carried_kg[rows] - self.gas_kg[rows] * gone
        lift = (density * sphere_volume_m3(diameter) - carried) * gravity_m_s2(air.height_msl_m)
        viscosity = dynamic_viscosity_pa_s(air.temperature_k)
        rate = climb_rate_m_s(lift, diameter, density, viscosity, draws.drag_factor[rows])
        return rate * envelope.climb_bend.rate_factor(density) * _stray(draws.climb_ln, rows, level), diameter

    def _sink(self, rows: Rows, air: Air, level: Array) -> Array:
        remnant = np.where(self.ascent_end[rows] == AscentEnd.BURST, self.draws.remnant_kg[rows], 0.0)
        rate = fall_rate_m_s(
            self.conditions.train.train_mass_kg + remnant, self.draws.drag_area_m2[rows], _density(air),
            gravity_m_s2(air.height_msl_m), self.draws.fall_exponent[rows],
        )  # fmt: skip
        return np.asarray(rate * _stray(self.draws.fall_ln, rows, level))

    # --- the air at the flights

    def _here(self, rows: Rows, leg: int) -> Air:
        return self._air(rows, self.level[rows], leg)

    def _air(self, rows: Rows, level: Array, leg: int) -> Air:
        return self._air_at(rows, level, self.latitude[rows], self.longitude[rows], self.time[rows], leg)

    def _air_at(self, rows: Rows, level: Array, latitude: Array, longitude: Array, time: Array, leg: int) -> Air:
        air = self.sampler.at(self.draws.member[rows], level, latitude, longitude, time)
        error = self.draws.wind_error_m_s
        if error is None:
            return air
        lower = np.clip(level.astype(np.intp), 0, error.shape[2] - 2)
        share = (level - lower)[:, None]
        added = (1.0 - share) * error[rows, leg, lower] + share * error[rows, leg, lower + 1]
        return Air(
            air.wind_u_m_s + added[:, 0], air.wind_v_m_s + added[:, 1], air.temperature_k, air.height_msl_m,
            air.pressure_pa,
        )  # fmt: skip

    def _level_at(self, height_msl_m: float) -> Array:
        """Fractional level of a height at the release point, for each flight's member."""
        members = self.conditions.field.members
        release = self.conditions.release
        one = np.ones(members)
        heights = np.stack(
            [
                self.sampler.at(
                    np.arange(members), level * one, release.latitude_deg * one, release.longitude_deg * one,
                    release.time_s * one,
                ).height_msl_m
                for level in range(self.conditions.field.levels)
            ],
            axis=1,
        )  # fmt: skip
        levels = np.array([np.interp(height_msl_m, column, np.arange(column.size)) for column in heights])
        return np.asarray(levels[self.draws.member])


def _take(air: Air, keep: Mask) -> Air:
    return Air(
        air.wind_u_m_s[keep], air.wind_v_m_s[keep], air.temperature_k[keep], air.height_msl_m[keep],
        air.pressure_pa[keep],
    )  # fmt: skip


def _stray(own: Array | None, rows: Rows, level: Array) -> Array | float:
    """Rate over its law."""
    if own is None:
        return 1.0
    lower = np.clip(level.astype(np.intp), 0, own.shape[1] - 2)
    low, high = own[rows, lower].astype(float), own[rows, lower + 1].astype(float)
    return np.asarray(np.exp(low + (level - lower) * (high - low)))


def _density(air: Air) -> Array:
    return np.asarray(air.pressure_pa / (dry_air_gas_constant_j_kg_k * air.temperature_k))


def _share_to(start: Array, change: Array, goal: Array) -> Array:
    """Share of a step after which a growing quantity meets its goal; 2 when it does not (or the goal is NaN)."""
    share = (goal - start) / np.maximum(change, 1e-9)
    return np.asarray(np.where((share <= 1.0) & (share >= -1e-9), share, np.where(share < 0.0, 0.0, 2.0)))
