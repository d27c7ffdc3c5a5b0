"""Thresholds of the laws in their own units, converted exactly (international yard and pound agreement 1959)."""

from __future__ import annotations

from pappus.units import foot_m, mile_m, standard_gravity_m_s2

pound_kg = 0.45359237
"""Exact."""
ounce_kg = pound_kg / 16.0
inch_m = foot_m / 12.0
pound_force_n = pound_kg * standard_gravity_m_s2
nautical_mile_m = 1852.0
"""Exact (SI Brochure, table 8)."""
cubic_foot_m3 = foot_m**3

us_dense_package_kg = 4.0 * pound_kg
us_density_kg_m2 = 3.0 * ounce_kg / inch_m**2
us_package_kg = 6.0 * pound_kg
us_payload_kg = 12.0 * pound_kg
us_separation_n = 50.0 * pound_force_n
us_visibility_m = 5.0 * mile_m
us_suspension_m = 50.0 * foot_m
us_pennant_spacing_m = 50.0 * foot_m
us_light_m = 5.0 * mile_m

icao_light_kg, icao_heavy_kg = 4.0, 6.0
icao_heavy_package_kg, icao_dense_package_kg = 3.0, 2.0
icao_density_kg_m2 = 13.0 * 1e-3 / 1e-4
icao_separation_n = 230.0
icao_visibility_m = 8_000.0
icao_suspension_m = 15.0
icao_pennant_spacing_m = 15.0

sixty_thousand_ft_m = 60_000.0 * foot_m
"""A pressure altitude, 71.716 hPa in the standard atmosphere (ISO 2533). ICAO and SERA print 18 000 m (60 000 ft),
75.048 hPa: the higher one is taken for both, since the limits hold below it."""
congested_below_m = 1_000.0 * foot_m
"""Above the ground: the first 1000 ft of 14 CFR 101.33(d); the 300 m of SERA App. 2, 3.2 lie inside."""
surface_area_below_m = 2_000.0 * foot_m
"""Above the ground, 14 CFR 101.33(a)."""

cloud_most = 0.5
"""Five tenths (US) and four oktas (ICAO)."""
position_every_s = 7_200.0
