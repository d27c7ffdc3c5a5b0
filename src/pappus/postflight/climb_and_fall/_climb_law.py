"""The climb of a balloon of which nothing was recorded: flights drawn from a prior, weighed by their first layers."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import air_density_kg_m3, dynamic_viscosity_pa_s
from pappus.earth import gravity_m_s2
from pappus.flight_train import (
    HANDBOOK_ROWS,
    ClimbScatter,
    FlightPrior,
    climb_rate_m_s,
    gas_excess_k,
    height_share,
    inflated_diameter_m,
    prior_burst_diameter_m,
    sphere_volume_m3,
    square_root,
)
from pappus.units import molar_mass_air_kg_mol, molar_mass_helium_kg_mol, molar_mass_hydrogen_kg_mol

Array = NDArray[np.float64]

BALLOON_KG = (0.35, 0.6, 0.8, 1.0, 1.2, 1.5, 2.0, 3.0)
"""Balloons that lift radiosondes, each as likely as the other (common practice, no source)."""
PAYLOAD_MEDIAN_KG, PAYLOAD_LN_SD = 0.25, 0.5
"""From one small sonde to a research load of 0.7 kg [own prior]."""
FREE_LIFT_LN_SD = 0.25
"""Around the free lift of the handbook rows: with the drag factor it gives the 0.5 to 1 m/s by which operational climbs
differ between flights (from memory)."""
FLIGHTS_PER_BALLOON = 500
SLOWEST_M_S = 0.5
_UNSTRETCHED_SHARE = 1.0 / 5.5
"""Unstretched over burst diameter: middle of the stretch of 5 to 6 in the handbook (from memory)."""


@dataclass(frozen=True, eq=False)
class Layers:
    """Layers of one depth over a release, from the ground up, with the air at their middles; arrays of shape (K,)."""

    edges_msl_m: Array
    """Shape (K + 1,)."""
    pressure_pa: Array
    temperature_k: Array
    sun_elevation_deg: Array
    log_density_ratio: Array
    """ln(density at release over density)."""

    @property
    def middle_msl_m(self) -> Array:
        """Middle heights."""
        return np.asarray(0.5 * (self.edges_msl_m[1:] + self.edges_msl_m[:-1]))


SCATTER_PRIOR = ClimbScatter(0.09, 0.15, 2_000.0)
"""The middle of 0.3 to 0.6 m/s in the troposphere and of 0.5 to 1.0 m/s above (from memory) over 5 m/s, depth own
prior."""


@dataclass(frozen=True, eq=False)
class ClimbShape:
    """Mean of ln(rate over law) by ln(density at release over density), about zero over the first 3 km; held beyond."""

    log_density_ratio: Array
    ln_rate: Array
    scatter: ClimbScatter
    flights: int
    evidence: str

    def factor(self, log_density_ratio: Array) -> Array:
        """By which the rates of the law are multiplied."""
        return np.asarray(np.exp(np.interp(log_density_ratio, self.log_density_ratio, self.ln_rate)))


STRAIGHT = ClimbShape(np.zeros(1), np.zeros(1), SCATTER_PRIOR, 0, "the bare drag law")


@dataclass(frozen=True, eq=False)
class ClimbDraws:
    """Flights drawn: what they carry, shape (N,), and their mean rate in each layer, shape (N, K)."""

    balloon_kg: Array
    free_lift_kg: Array
    drag_factor: Array
    rate_m_s: Array

    def bent(self, shape: ClimbShape, layers: Layers) -> ClimbDraws:
        """The same flights with their rates bent as a shape says."""
        return replace(self, rate_m_s=self.rate_m_s * shape.factor(layers.log_density_ratio))

    def take(self, rows: NDArray[np.intp], rate_m_s: Array) -> ClimbDraws:
        """Chosen flights, with rates of their own."""
        return ClimbDraws(
            self.balloon_kg[rows],
            self.free_lift_kg[rows],
            self.drag_factor[rows],
            rate_m_s,
        )


def draw_laws(layers: Layers, prior: FlightPrior, rng: np.random.Generator) -> ClimbDraws:
    """Flights from the prior, each with the smooth climb of the bare drag law."""
    parts = [_draw_balloon(mass, layers, prior, rng) for mass in BALLOON_KG]
    return ClimbDraws(
        *(np.concatenate([getattr(part, column.name) for part in parts]) for column in fields(ClimbDraws))
    )


def _draw_balloon(mass_kg: float, layers: Layers, prior: FlightPrior, rng: np.random.Generator) -> ClimbDraws:
    """Flights of one balloon mass; closed forms for the lift, the equilibrium of gas, air and film for the diameter."""
    count = FLIGHTS_PER_BALLOON
    payload = PAYLOAD_MEDIAN_KG * np.exp(PAYLOAD_LN_SD * rng.standard_normal(count))
    free_lift = handbook_free_lift_kg(mass_kg) * np.exp(FREE_LIFT_LN_SD * rng.standard_normal(count))
    factor = prior.drag_factor * np.exp(prior.drag_factor_ln_sd * rng.standard_normal(count))
    warmer = prior.gas_excess_sd_k * rng.standard_normal((count, 1)) * height_share(layers.pressure_pa)
    gas_kg_mol = np.where(rng.random(count) < 0.5, molar_mass_helium_kg_mol, molar_mass_hydrogen_kg_mol)

    # gas and air of one temperature and pressure on the ground: n moles displace n moles of air
    gas_mol = (mass_kg + payload + free_lift) / (molar_mass_air_kg_mol - gas_kg_mol)
    carried = (mass_kg + payload + gas_mol * gas_kg_mol)[:, None]
    height, pressure, temperature = layers.middle_msl_m, layers.pressure_pa, layers.temperature_k
    gas_temperature = temperature + gas_excess_k(pressure, height, layers.sun_elevation_deg) + warmer
    unstretched = _UNSTRETCHED_SHARE * prior_burst_diameter_m(mass_kg)
    diameter = inflated_diameter_m(gas_mol[:, None], pressure, gas_temperature, mass_kg, unstretched)
    density, viscosity = air_density_kg_m3(pressure, temperature), dynamic_viscosity_pa_s(temperature)
    net_n = (density * sphere_volume_m3(diameter) - carried) * gravity_m_s2(height)
    rate = climb_rate_m_s(net_n, diameter, density, viscosity, factor[:, None])
    return ClimbDraws(
        np.full(count, mass_kg),
        free_lift,
        factor,
        rate,
    )


def handbook_free_lift_kg(balloon_kg: float) -> float:
    """Free lift [kg] that the handbook rows give a balloon, log-linear between them, 0.2 to 3 kg."""
    rows = [row for row in HANDBOOK_ROWS if row.mass_g >= 200]
    masses, lifts = np.log([row.mass_g / 1e3 for row in rows]), np.log([row.free_lift_g / 1e3 for row in rows])
    return float(np.exp(np.interp(np.log(balloon_kg), masses, lifts)))


def weighed(
    laws: ClimbDraws, layers: Layers, scatter: ClimbScatter, seen_m_s: Array, flights: int, rng: np.random.Generator
) -> ClimbDraws:
    """Flights of the laws that are left once the rates of the first layers were seen; rates of all layers.

    Importance sampling: a law weighs what its deviations from the seen rates, in logarithms, are worth under the
    scatter. Deviations above are drawn given those below, so that a slow start can go on for a while. With nothing seen
    it is the prior. Seen layers keep their seen rates.

    :param seen_m_s: mean rates of the lowest layers, shape (S,), 0 to K.
    """
    seen = len(seen_m_s)
    covariance = scatter.covariance(layers.middle_msl_m)
    low, across = covariance[:seen, :seen], covariance[seen:, :seen]
    off = _off(laws, seen_m_s)
    gain = np.linalg.solve(low, across.T).T
    weight = law_weights(laws, layers, scatter, seen_m_s)
    # systematic resampling: one random number, even steps
    steps = (rng.random() + np.arange(flights)) / flights * weight.sum()
    rows = np.minimum(np.searchsorted(np.cumsum(weight), steps), len(weight) - 1)
    left = covariance[seen:, seen:] - gain @ across.T
    deviation = off[rows] @ gain.T + rng.standard_normal((flights, len(left))) @ square_root(left)
    above = np.maximum(laws.rate_m_s[rows, seen:] * np.exp(deviation), SLOWEST_M_S)
    return laws.take(rows, np.concatenate([np.broadcast_to(seen_m_s, (flights, seen)), above], axis=1))


def law_weights(laws: ClimbDraws, layers: Layers, scatter: ClimbScatter, seen_m_s: Array) -> Array:
    """Likelihood of the seen rates under each law, over that of the best one; all ones with nothing seen."""
    seen, off = len(seen_m_s), _off(laws, seen_m_s)
    low = scatter.covariance(layers.middle_msl_m)[:seen, :seen]
    log_weight = -0.5 * np.sum(off * np.linalg.solve(low, off.T).T, axis=1)
    return np.asarray(np.exp(log_weight - log_weight.max()))


def _off(laws: ClimbDraws, seen_m_s: Array) -> Array:
    """ln(seen over law), shape (N, S)."""
    return np.asarray(np.log(seen_m_s) - np.log(np.maximum(laws.rate_m_s[:, : len(seen_m_s)], SLOWEST_M_S)))


def effective_draws(weights: Array) -> float:
    """How many equally weighed laws the weighed ones are worth (Kish: square of the sum over sum of the squares)."""
    return float(weights.sum() ** 2 / np.sum(weights**2))
