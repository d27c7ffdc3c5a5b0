"""Energy at touchdown: a hard number beside the look of a soft box."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pappus.earth import require_range
from pappus.hazard._descents import Array

CASUALTY_ENERGY_J = 14.914
"""11 ft lbf: may hurt an unsheltered person. RCC 321 (from memory); 14 CFR 107.120, category 2."""
NASA_ENERGY_J = 15.0
"""NASA-STD-8719.14 (from memory)."""
CATEGORY_3_ENERGY_J = 33.895
"""25 ft lbf. 14 CFR 107.130, category 3 (text seen)."""
ENERGY_THRESHOLDS_J = (CASUALTY_ENERGY_J, NASA_ENERGY_J, CATEGORY_3_ENERGY_J)
"""They were written for drones and spent stages; no rule for free balloons names an energy."""


def kinetic_energy_j(mass_kg: ArrayLike, speed_m_s: ArrayLike) -> Array:
    """m v^2 / 2. Raises OutOfRange for a mass below 0 kg or above 1000 kg."""
    mass = require_range("mass", mass_kg, 0.0, 1000.0, "kg")
    return np.asarray(0.5 * mass * np.square(np.asarray(speed_m_s, dtype=np.float64)))


def allowed_speed_m_s(mass_kg: ArrayLike, energy_j: ArrayLike) -> Array:
    """Speed at which a mass has an energy, sqrt(2 E / m). Raises OutOfRange for a mass outside 1 g to 1000 kg."""
    mass = require_range("mass", mass_kg, 1e-3, 1000.0, "kg")
    return np.asarray(np.sqrt(2.0 * np.asarray(energy_j, dtype=np.float64) / mass))
