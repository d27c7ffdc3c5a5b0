"""The fill: from any one given quantity all the others, and what they mean for climb and burst."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import Profile, air_density_kg_m3, dynamic_viscosity_pa_s
from pappus.earth import gravity_m_s2
from pappus.errors import NoSolution
from pappus.flight_train._drag import climb_rate_m_s
from pappus.flight_train._envelope import inflated_diameter_m, overpressure_pa, sphere_diameter_m, sphere_volume_m3
from pappus.flight_train._gas import molar_mass_kg_mol
from pappus.flight_train._gas_temperature import EXCESS_SD_K, gas_excess_k
from pappus.flight_train._train import FillWish, FlightTrain
from pappus.units import gas_constant_j_mol_k

Array = NDArray[np.float64]

CLIMB_LAYER_M = 5000.0
"""A climb speed in a plan is the mean over this much height above the site."""
EARLY_BURST_FLOOR_MSL_M = 8000.0
"""An early burst comes anywhere between here and the nominal height."""
_STEP_M = 100.0


@dataclass(frozen=True)
class SiteAir:
    """The column over the launch site and how the sun stands on it."""

    profile: Profile
    site_height_msl_m: float
    sun_elevation_deg: float
    read_pressure_pa: float | None = None
    """Read at the site; None takes the profile's."""
    read_temperature_k: float | None = None

    @property
    def pressure_pa(self) -> float:
        """Pressure in which the balloon is filled."""
        read = self.read_pressure_pa
        return float(self.profile.pressure_pa_at(self.site_height_msl_m)) if read is None else read

    @property
    def temperature_k(self) -> float:
        """Temperature of the air in which the balloon is filled."""
        read = self.read_temperature_k
        return float(self.profile.temperature_k_at(self.site_height_msl_m)) if read is None else read

    def gas_excess_at_k(self, height_msl_m: Array) -> Array:
        """Gas less air temperature [K]; zero on the ground, where the gas has taken the temperature of the air."""
        pressure = self.profile.pressure_pa_at(height_msl_m)
        excess = gas_excess_k(pressure, height_msl_m, self.sun_elevation_deg)
        return np.asarray(np.where(np.asarray(height_msl_m) <= self.site_height_msl_m, 0.0, excess))


@dataclass(frozen=True)
class Fill:
    """How much gas is in the balloon at the site. Lifts are forces; they hold at site pressure and temperature."""

    gas_mol: float
    gas_mass_kg: float
    volume_m3: float
    diameter_m: float
    gross_lift_n: float
    """Weight of the displaced air less the gas."""
    scale_lift_n: float
    """Gross lift less the balloon: what a scale reads at the neck before the train is tied on."""
    free_lift_n: float
    """Scale lift less the train: what drives the climb."""
    site_pressure_pa: float
    site_temperature_k: float


def fill_of(gas_mol: float, train: FlightTrain, air: SiteAir) -> Fill:
    """The fill that a given amount of gas makes at the site."""
    pressure, temperature = air.pressure_pa, air.temperature_k
    density = float(air_density_kg_m3(pressure, temperature))
    gravity = float(gravity_m_s2(air.site_height_msl_m))
    envelope = train.envelope
    diameter = float(
        inflated_diameter_m(gas_mol, pressure, temperature, envelope.mass_kg, envelope.unstretched_diameter_m)
    )
    volume = float(sphere_volume_m3(diameter))
    gas_mass = gas_mol * molar_mass_kg_mol(train.gas)
    gross = (density * volume - gas_mass) * gravity
    scale = gross - envelope.mass_kg * gravity
    return Fill(
        gas_mol=gas_mol, gas_mass_kg=gas_mass, volume_m3=volume, diameter_m=diameter, gross_lift_n=gross,
        scale_lift_n=scale, free_lift_n=scale - train.train_mass_kg * gravity,
        site_pressure_pa=pressure, site_temperature_k=temperature,
    )  # fmt: skip


def climb_profile_m_s(gas_mol: float, train: FlightTrain, air: SiteAir, height_msl_m: Array) -> Array:
    """Steady climb [m/s] of the nominal balloon at each height [m above mean sea level]."""
    return _climb_with(train, air, height_msl_m)(gas_mol)


def _climb_with(train: FlightTrain, air: SiteAir, height_msl_m: Array) -> Callable[[float], Array]:
    """``climb_profile_m_s`` of an amount of gas; what hangs on air and height alone is looked up once."""
    pressure = air.profile.pressure_pa_at(height_msl_m)
    temperature = air.profile.temperature_k_at(height_msl_m)
    density, viscosity = air.profile.density_at(height_msl_m), dynamic_viscosity_pa_s(temperature)
    gas_temperature, gravity = temperature + air.gas_excess_at_k(height_msl_m), gravity_m_s2(height_msl_m)
    envelope = train.envelope
    empty_kg, bend = envelope.mass_kg + train.train_mass_kg, envelope.climb_bend.rate_factor(density)
    gas_kg_mol = molar_mass_kg_mol(train.gas)

    def climb(gas_mol: float) -> Array:
        diameter = inflated_diameter_m(
            gas_mol, pressure, gas_temperature, envelope.mass_kg, envelope.unstretched_diameter_m
        )
        net_lift = (density * sphere_volume_m3(diameter) - (empty_kg + gas_mol * gas_kg_mol)) * gravity
        return np.asarray(climb_rate_m_s(net_lift, diameter, density, viscosity, envelope.drag_factor) * bend)

    return climb


def mean_climb_m_s(gas_mol: float, train: FlightTrain, air: SiteAir) -> float:
    """Mean climb [m/s] over the first 5 km above the site: height over time; zero when the balloon does not rise."""
    return _mean_climb_with(train, air)(gas_mol)


def _mean_climb_with(train: FlightTrain, air: SiteAir) -> Callable[[float], float]:
    heights = air.site_height_msl_m + (np.arange(0.0, CLIMB_LAYER_M, _STEP_M) + _STEP_M / 2.0)
    climb = _climb_with(train, air, heights)

    def mean_climb(gas_mol: float) -> float:
        rates = climb(gas_mol)
        return 0.0 if bool((rates <= 0.0).any()) else float(CLIMB_LAYER_M / np.sum(_STEP_M / rates))

    return mean_climb


def burst_height_msl_m(gas_mol: float, burst_diameter_m: Array | float, train: FlightTrain, air: SiteAir) -> Array:
    """Height [m above mean sea level] at which the envelope reaches each burst diameter; NaN above the column's top.

    Burst where ``(p + dp) V_b = n R T_gas``: p / T_gas falls with height, so it is looked up, not iterated.
    """
    heights = np.arange(air.site_height_msl_m, air.profile.height_msl_m[-1], _STEP_M)
    gas_temperature = air.profile.temperature_k_at(heights) + air.gas_excess_at_k(heights)
    pressure = air.profile.pressure_pa_at(heights)
    envelope = train.envelope
    out = []
    for diameter in np.atleast_1d(np.asarray(burst_diameter_m, dtype=float)):
        film = overpressure_pa(diameter, envelope.mass_kg, envelope.unstretched_diameter_m)
        wanted = np.log(gas_mol * gas_constant_j_mol_k / sphere_volume_m3(diameter))
        content = np.log((pressure + film) / gas_temperature)
        out.append(np.interp(-wanted, -content, heights, left=air.site_height_msl_m, right=np.nan))
    return np.asarray(out)


def burst_diameter_total_ln_sd(train: FlightTrain, fill: Fill, scale_sd_n: float) -> float:
    """Spread of ln(burst diameter) with that of the fill and the gas temperature added as diameter, in quadrature."""
    fill_sd = scale_sd_n / max(fill.gross_lift_n, scale_sd_n) / 3.0
    temperature_sd = EXCESS_SD_K / 230.0 / 3.0
    return float(np.sqrt(train.envelope.burst_ln_sd**2 + fill_sd**2 + temperature_sd**2))


def solve_fill(wish: FillWish, train: FlightTrain, air: SiteAir) -> Fill:
    """The fill that the crew asked for.

    Raises NoSolution when no fill gives it: a train that cannot be lifted, a height out of reach at that chance, a
    balloon that would burst on the ground.
    """
    solvers: dict[str, Callable[[], float]] = {
        "volume": lambda: _mol_for_volume(wish.value, train, air),
        "scale_lift": lambda: _mol_for(
            lambda mol: fill_of(mol, train, air).scale_lift_n, wish.value, "lift on the scale", train, air
        ),
        "free_lift": lambda: _mol_for(
            lambda mol: fill_of(mol, train, air).free_lift_n, wish.value, "free lift", train, air
        ),
        "climb": lambda: _mol_for(_mean_climb_with(train, air), wish.value, "climb speed", train, air),
        "height": lambda: _mol_for_height(wish, train, air),
    }
    fill = fill_of(solvers[wish.by](), train, air)
    if fill.diameter_m >= train.envelope.burst_diameter_m:
        raise NoSolution(
            f"balloon.burst_diameter: the balloon would be {fill.diameter_m:.2f} m wide at release, and bursts at "
            f"{train.envelope.burst_diameter_m:.2f} m. Give a larger balloon or less gas, for example a burst "
            "diameter of 8 m for a 1 kg balloon"
        )
    if fill.free_lift_n <= 0.0:
        raise NoSolution(
            f"fill: the balloon pulls {fill.scale_lift_n:.2f} N at the neck and the train weighs "
            f"{fill.scale_lift_n - fill.free_lift_n:.2f} N: it does not leave the ground. "
            "Fill more gas or hang less on it"
        )
    return fill


def _mol_for_volume(volume_m3: float, train: FlightTrain, air: SiteAir) -> float:
    diameter = sphere_diameter_m(volume_m3)
    film = float(overpressure_pa(diameter, train.envelope.mass_kg, train.envelope.unstretched_diameter_m))
    return (air.pressure_pa + film) * volume_m3 / (gas_constant_j_mol_k * air.temperature_k)


def _mol_for(of: Callable[[float], float], wanted: float, name: str, train: FlightTrain, air: SiteAir) -> float:
    """The amount of gas for it: every lift and the climb grow with it until the balloon would burst at the site.

    False position with the Illinois rule (Dowell & Jarratt 1971, BIT 11, 168, from memory), halved now and then where
    the climb is flat at zero: a dozen fills to the last digits.
    """
    low, high = 1e-3, _mol_for_volume(float(sphere_volume_m3(train.envelope.burst_diameter_m)), train, air)
    over = of(high) - wanted
    if over < 0.0:
        raise NoSolution(f"fill: a {name} of {wanted:.4g} needs more gas than this balloon holds on the ground")
    under = of(low) - wanted
    last_side = 0.0
    for step in range(60):
        middle = 0.5 * (low + high) if step % 4 == 0 else low - under * (high - low) / (over - under)
        off = of(middle) - wanted
        if abs(off) <= 1e-12 * max(abs(wanted), 1.0):
            return middle
        if off < 0.0:
            low, under, over = middle, off, (0.5 * over if last_side < 0 else over)
        else:
            high, over, under = middle, off, (0.5 * under if last_side > 0 else under)
        last_side = off
    return 0.5 * (low + high)


def _mol_for_height(wish: FillWish, train: FlightTrain, air: SiteAir) -> float:
    """The most gas with which the wanted height is still reached with the wanted chance."""
    envelope, height = train.envelope, wish.value
    chance = wish.chance if wish.chance is not None else 0.5
    if chance >= 1.0 - envelope.early_burst_chance:
        raise NoSolution(
            f"fill.chance = {chance:.0%}: {envelope.early_burst_chance:.0%} of such balloons burst early, so no fill "
            f"reaches a height with more than {1.0 - envelope.early_burst_chance:.0%}. Ask for less, for example 80 %"
        )
    if height > air.profile.height_msl_m[-1]:
        raise NoSolution(f"fill.height: the air is known to {air.profile.height_msl_m[-1]:.0f} m only")
    quantile = NormalDist().inv_cdf(1.0 - chance / (1.0 - envelope.early_burst_chance))
    gas_temperature = float(air.profile.temperature_k_at(height) + air.gas_excess_at_k(np.asarray(height)))
    pressure = float(air.profile.pressure_pa_at(height))

    def mol_with(ln_sd: float) -> float:
        diameter = envelope.burst_diameter_m * np.exp(quantile * ln_sd)
        film = float(overpressure_pa(diameter, envelope.mass_kg, envelope.unstretched_diameter_m))
        return float((pressure + film) * sphere_volume_m3(diameter) / (gas_constant_j_mol_k * gas_temperature))

    first = fill_of(mol_with(envelope.burst_ln_sd), train, air)
    mol = mol_with(burst_diameter_total_ln_sd(train, first, wish.scale_sd_n))
    heights = np.arange(air.site_height_msl_m, height, 500.0)
    slowest = float(climb_profile_m_s(mol, train, air, heights).min())
    if slowest < 0.5:
        raise NoSolution(
            f"fill.height = {height:.0f} m: with so little gas the climb falls to {slowest:.1f} m/s on the way. "
            "Ask for less height or a smaller chance, hang less on the balloon, or take a larger one"
        )
    return mol
