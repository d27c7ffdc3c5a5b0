"""An invented forecast on pressure levels: standard air that leans, a jet, and waves that differ between members."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np

from columns import EPOCH, SITE
from pappus.atmosphere import standard_air
from pappus.ground import FlatGround, TerrainGrid
from pappus.wind import Coverage, SourceFile, WindField

LEVELS = 33
TOP_MSL_M = 42_000.0


def forecast_field(
    *, members: int = 1, points: int = 21, times: int = 9, step_deg: float = 0.5, seed: int = 1
) -> WindField:
    """``points`` x ``points`` around the site, a time each hour, 33 levels from the ground to 42 km."""
    rng = np.random.default_rng(seed)
    half = 0.5 * step_deg * (points - 1)
    latitude = SITE[0] + np.linspace(-half, half, points)
    longitude = SITE[1] + np.linspace(-half, half, points)
    time = np.arange(times) * 3600.0
    mean_height = np.concatenate([np.linspace(0.0, 12_000.0, 17), np.linspace(13_500.0, TOP_MSL_M, LEVELS - 17)])
    member = np.arange(members)
    m, t, z, y, x = np.meshgrid(member, time / 3600.0, mean_height / 1000.0, latitude, longitude, indexing="ij")
    phase, turn = rng.uniform(0.0, 2.0 * np.pi, (2, members))[:, :, None, None, None, None]
    swing = 3.0 * np.sin(z / 4.0 + phase + 0.4 * t + y - SITE[0]) + 2.0 * np.sin(z / 1.7 + turn + (x - SITE[1]))
    u = 7.0 + 28.0 * np.exp(-(((z - 11.0) / 4.0) ** 2)) - 0.35 * np.maximum(z - 20.0, 0.0) + swing + 0.0 * m
    v = 4.0 * np.sin(z / 3.0 + 0.2 * t) + 2.0 * np.cos(z / 5.0 + turn + 0.8 * (x - SITE[1])) + 0.5 * (y - SITE[0])
    lean = 60.0 * np.sin(0.7 * (y - SITE[0]) + 0.1 * t + phase) * np.minimum(z / 10.0, 1.5)
    height = 1000.0 * z + lean
    temperature = standard_air(1000.0 * z).temperature_k + 2.0 * np.cos(z / 6.0 + x - SITE[1] + phase)
    pressure = standard_air(1000.0 * z).pressure_pa
    last = EPOCH + timedelta(seconds=float(time[-1]))
    coverage = Coverage(
        EPOCH, last, float(latitude[0]), float(latitude[-1]), float(longitude[0]), float(longitude[-1]),
        float(height[:, :, 0].max()), float(height[:, :, -1].min()),
    )  # fmt: skip
    source = SourceFile("invented", "0" * 64, "invented forecast on pressure levels")
    cubes: list[Any] = [pressure, height, temperature, u, v]
    return WindField("invented", "forecast", EPOCH, EPOCH, time, latitude, longitude, *cubes, coverage, (source,))


def hills(points: int = 601) -> TerrainGrid:
    """Hills of some hundred metres over part of the forecast's box, flat land beyond."""
    latitude, longitude = SITE[0] + np.linspace(-2.0, 2.0, points), SITE[1] + np.linspace(-2.0, 3.0, points)
    y, x = np.meshgrid(latitude, longitude, indexing="ij")
    height = 400.0 + 150.0 * np.sin(60.0 * x) * np.cos(45.0 * y) + 80.0 * (x - SITE[1])
    return TerrainGrid(latitude, longitude, height, "invented hills", FlatGround(250.0, "flat land"))
