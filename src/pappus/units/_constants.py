"""Physical constants and conversion factors that more than one room uses.

Sources: [SI] The International System of Units (SI Brochure), 9th ed., BIPM 2019: defining constants and table 8;
[CGPM] 3rd CGPM 1901, resolution 2; [YP] international yard and pound agreement 1959; [US76] U.S. Standard Atmosphere
1976; [ISO] ISO 2533:1975, standard atmosphere; [CIAAW] standard atomic weights, He 4.002602, H 1.008.
"""

from __future__ import annotations

standard_gravity_m_s2 = 9.80665
"""Exact [CGPM]."""
gas_constant_j_mol_k = 8.31446261815324
"""Exact since 2019: Boltzmann constant times Avogadro constant [SI]."""
molar_mass_air_kg_mol = 0.0289644
"""Dry air [US76]."""
molar_mass_helium_kg_mol = 0.004002602
"""[CIAAW]"""
molar_mass_hydrogen_kg_mol = 0.002016
"""The molecule H2, twice 1.008 [CIAAW]."""
dry_air_gas_constant_j_kg_k = 287.05287
"""As printed in [ISO]: its own R of 8314.32 J/(kmol K) over its own air of 28.964420 kg/kmol."""
standard_pressure_pa = 101325.0
"""Exact: one standard atmosphere [US76]."""
zero_celsius_k = 273.15
"""Exact [SI]."""
gram_force_n = standard_gravity_m_s2 / 1000.0
"""Exact: weight of one gram in standard gravity."""
foot_m = 0.3048
"""Exact [YP]."""
mile_m = 1609.344
"""Exact: the international (statute) mile [YP]."""
knot_m_s = 1852.0 / 3600.0
"""Exact: one international nautical mile in an hour [SI]."""
