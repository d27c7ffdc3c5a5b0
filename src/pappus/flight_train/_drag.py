"""Drag of the rising balloon and of the falling canopy."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

DRAG_AT_REFERENCE = 0.3341
REFERENCE_REYNOLDS = 5.0e5
DRAG_POWER = -0.396
GREATEST_DRAG = 1.2
SEA_LEVEL_DENSITY_KG_M3 = 1.225


def balloon_drag_coefficient(reynolds: ArrayLike) -> Array:
    """Drag coefficient of a rising latex balloon, on its cross-section; Reynolds number on its diameter.

    ``0.3341 (Re/5e5)^-0.396``, never above 1.2: fitted to the nine rows of the handbook table that the burst-diameter
    prior comes from (WMO-No. 8, from memory), residuals -18 to +11 %, Re 4e3 to 1e6. No sharp drag crisis: real
    balloons deform and wobble. One scale factor per balloon (sd 12 %, own prior) carries what the law does not know.
    """
    ratio = np.maximum(np.asarray(reynolds, dtype=float), 1.0) / REFERENCE_REYNOLDS
    return np.asarray(np.minimum(DRAG_AT_REFERENCE * ratio**DRAG_POWER, GREATEST_DRAG))


def climb_rate_m_s(
    net_lift_n: ArrayLike,
    diameter_m: ArrayLike,
    density_kg_m3: ArrayLike,
    viscosity_pa_s: ArrayLike,
    drag_factor: ArrayLike = 1.0,
) -> Array:
    """Steady rise [m/s] where drag balances the net lift; zero where there is no net lift. Inputs broadcast.

    With a power law in Re the balance has a closed form, ``v^(2+b) = 2 F / (rho A f c (rho D / (mu Re0))^b)``; where
    that asks for more than the greatest drag coefficient, that coefficient holds.
    """
    lift = np.maximum(np.asarray(net_lift_n, dtype=float), 0.0)
    diameter, density = np.asarray(diameter_m, dtype=float), np.asarray(density_kg_m3, dtype=float)
    per_metre = density * diameter / np.asarray(viscosity_pa_s, dtype=float) / REFERENCE_REYNOLDS
    twice_lift_over_area = 2.0 * lift / (density * np.pi / 4.0 * diameter**2 * np.asarray(drag_factor, dtype=float))
    by_power_law = (twice_lift_over_area / (DRAG_AT_REFERENCE * per_metre**DRAG_POWER)) ** (1.0 / (2.0 + DRAG_POWER))
    by_greatest = np.sqrt(twice_lift_over_area / GREATEST_DRAG)
    capped = DRAG_AT_REFERENCE * np.maximum(per_metre * by_power_law, 1e-12) ** DRAG_POWER > GREATEST_DRAG
    return np.asarray(np.where(capped, by_greatest, by_power_law))


def fall_rate_m_s(
    mass_kg: ArrayLike,
    drag_area_m2: ArrayLike,
    density_kg_m3: ArrayLike,
    gravity_m_s2: ArrayLike,
    fall_exponent: ArrayLike = 0.5,
) -> Array:
    """Steady fall [m/s] under a canopy of drag area Cd S: ``sqrt(2 m g / (rho0 Cd S)) (rho0 / rho)^n``.

    n = 0.5 is the textbook balance ``sqrt(2 m g / (rho Cd S))``. Five recorded descents of small sondes fit n of 0.18
    to 0.64 (own fits): canopies are slower aloft than the textbook says, against their speed near the ground.
    """
    at_sea_level = np.sqrt(
        2.0
        * np.asarray(mass_kg, dtype=float)
        * np.asarray(gravity_m_s2, dtype=float)
        / (SEA_LEVEL_DENSITY_KG_M3 * np.asarray(drag_area_m2, dtype=float))
    )
    ratio = SEA_LEVEL_DENSITY_KG_M3 / np.asarray(density_kg_m3, dtype=float)
    return np.asarray(at_sea_level * ratio ** np.asarray(fall_exponent, dtype=float))


def added_mass_kg(diameter_m: ArrayLike, density_kg_m3: ArrayLike) -> Array:
    """Mass of air [kg] that a sphere drags along when it accelerates: half of what it displaces (potential flow)."""
    return np.asarray(0.5 * np.asarray(density_kg_m3, dtype=float) * np.pi / 6.0 * np.asarray(diameter_m) ** 3)
