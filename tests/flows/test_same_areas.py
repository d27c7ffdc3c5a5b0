"""Landing areas of the compiled kernel and of the plain numpy ensemble are the same within sampling error."""

from __future__ import annotations

import numpy as np
import pytest

from ensembles import ensemble
from oracle.plain_flights import fly_plainly
from pappus.landing import LandingArea, landing_area
from pappus.trajectory import Flights, fly

FLIGHTS, SEEDS = 500, 8


def area_of(flights: Flights) -> LandingArea:
    down = flights.landed
    return landing_area(
        flights.end_latitude_deg[down], flights.end_longitude_deg[down], unknown=int((~down).sum()), levels=(0.5, 0.9)
    )


def test_areas_agree_within_sampling_error() -> None:
    """The same draws give nearly the same area both ways; other draws differ by no more than the stated error."""
    shared, draws = ensemble(FLIGHTS, seed=100)
    plain, same = area_of(fly_plainly(shared, draws)), area_of(fly(shared, draws))
    others = [area_of(fly(*ensemble(FLIGHTS, seed=seed))) for seed in range(SEEDS)]
    for part, alike, *apart in zip(plain.parts, same.parts, *(other.parts for other in others), strict=True):
        assert part.area_km2 is not None
        assert part.area_sd_km2 is not None
        assert alike.area_km2 == pytest.approx(part.area_km2, abs=0.1 * part.area_sd_km2)
        found = np.array([other.area_km2 for other in apart], dtype=np.float64)
        print(f"{part.probability:.0%}: numpy {part.area_km2:.0f} km2, kernel {found.mean():.0f} +- {found.std():.0f}")
        error = part.area_sd_km2 * np.sqrt(1.0 + 1.0 / SEEDS)
        assert abs(found.mean() - part.area_km2) < 2.6 * error  # 99 % of a normal
    assert plain.mean_deg is not None
    assert same.mean_deg == pytest.approx(plain.mean_deg, abs=1e-4)
