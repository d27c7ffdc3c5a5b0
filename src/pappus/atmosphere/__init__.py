"""Air: the standard atmosphere, measured columns and the properties of air."""

from pappus.atmosphere._air import (
    AirState,
    air_density_kg_m3,
    dynamic_viscosity_pa_s,
    kinematic_viscosity_m2_s,
    mean_free_path_m,
    thermal_conductivity_w_m_k,
)
from pappus.atmosphere._profile import Profile, hydrostatic_height_msl_m
from pappus.atmosphere._standard import standard_air, standard_air_at_geopotential, standard_height_msl_m

__all__ = [
    "AirState",
    "Profile",
    "air_density_kg_m3",
    "dynamic_viscosity_pa_s",
    "hydrostatic_height_msl_m",
    "kinematic_viscosity_m2_s",
    "mean_free_path_m",
    "standard_air",
    "standard_air_at_geopotential",
    "standard_height_msl_m",
    "thermal_conductivity_w_m_k",
]
