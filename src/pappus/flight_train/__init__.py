"""Envelope, gas, canopy and boxes: what flies, how much gas it takes and how fast it climbs and falls."""

from pappus.flight_train._drag import added_mass_kg, balloon_drag_coefficient, climb_rate_m_s, fall_rate_m_s
from pappus.flight_train._envelope import (
    inflated_diameter_m,
    overpressure_pa,
    prior_burst_diameter_m,
    sphere_diameter_m,
    sphere_volume_m3,
)
from pappus.flight_train._fill import (
    EARLY_BURST_FLOOR_MSL_M,
    Fill,
    SiteAir,
    burst_height_msl_m,
    climb_profile_m_s,
    fill_of,
    mean_climb_m_s,
    solve_fill,
)
from pappus.flight_train._gas import (
    compressibility,
    cylinder_amount_mol,
    free_volume_m3,
    gas_density_kg_m3,
    gas_lapse_k_per_m,
    lift_kg_m3,
    molar_mass_kg_mol,
)
from pappus.flight_train._gas_temperature import EXCESS_SD_K, gas_excess_k, height_share
from pappus.flight_train._handbook import HANDBOOK_ROWS, HandbookRow
from pappus.flight_train._train import Canopy, CutDown, Cylinder, Envelope, FillWish, FlightTrain, Gas, Line, Package

__all__ = [
    "EARLY_BURST_FLOOR_MSL_M",
    "EXCESS_SD_K",
    "HANDBOOK_ROWS",
    "Canopy",
    "CutDown",
    "Cylinder",
    "Envelope",
    "Fill",
    "FillWish",
    "FlightTrain",
    "Gas",
    "HandbookRow",
    "Line",
    "Package",
    "SiteAir",
    "added_mass_kg",
    "balloon_drag_coefficient",
    "burst_height_msl_m",
    "climb_profile_m_s",
    "climb_rate_m_s",
    "compressibility",
    "cylinder_amount_mol",
    "fall_rate_m_s",
    "fill_of",
    "free_volume_m3",
    "gas_density_kg_m3",
    "gas_excess_k",
    "gas_lapse_k_per_m",
    "height_share",
    "inflated_diameter_m",
    "lift_kg_m3",
    "mean_climb_m_s",
    "molar_mass_kg_mol",
    "overpressure_pa",
    "prior_burst_diameter_m",
    "solve_fill",
    "sphere_diameter_m",
    "sphere_volume_m3",
]
