"""The shapely form of an outline holds the same places as the outline itself."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from pappus.ground import Outline


def ring(*points: tuple[float, float]) -> np.ndarray:
    return np.array(points, dtype=float)


def star(north: float, east: float, seed: int, size: float = 1.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0.0, 2.0 * np.pi, 24))
    away = size * rng.uniform(0.3, 1.0, 24)
    longitude = (east + away * np.cos(turn) + 180.0) % 360.0 - 180.0
    return np.column_stack((north + away * np.sin(turn), longitude))


OUTLINES = {
    "star": Outline(((star(50.0, 10.0, 1),),)),
    "hole": Outline(((star(50.0, 10.0, 1, 2.0), star(50.0, 10.0, 2, 0.2)),)),
    "overlapping": Outline(((star(50.0, 10.0, 3),), (star(50.3, 10.2, 4),))),
    "date line": Outline(((star(-17.0, 179.8, 5),),)),
    "both sides of the date line": Outline(((star(-17.0, 178.5, 6),), (star(-17.0, -178.6, 7),))),
    "pole": Outline(((ring((80.0, 0.0), (78.0, 90.0), (82.0, 180.0), (80.0, -90.0)),),)),
    "kink": Outline(
        ((ring((0.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, 0.0), (0.5, -1e-4), (0.5, 1e-4), (0.2, -1e-4)),),)
    ),
}


@pytest.mark.parametrize("name", OUTLINES)
def test_flat_holds_the_same_places(name: str) -> None:
    outline = OUTLINES[name]
    south, north, west, east = outline.bounds_deg
    rng = np.random.default_rng(0)
    latitude = rng.uniform(max(south - 0.3, -90.0), min(north + 0.3, 90.0), 4000)
    longitude = rng.uniform(west - 0.3, east + 0.3, 4000)
    held = outline.contains(latitude, longitude)
    turned = longitude - 360.0 * np.round((longitude - 0.5 * (west + east)) / 360.0)
    assert np.array_equal(shapely.contains_xy(outline.flat, turned, latitude), held)
    assert 0.05 < held.mean() < 1.0
    assert outline.flat.bounds == pytest.approx((west, south, east, north), abs=1e-6)
