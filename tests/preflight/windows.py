"""A small launch window over the invented forecast: what its tests share."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from columns import EPOCH, PRIOR
from oracle.forecasts import forecast_field
from pappus.decision import GoLimits
from pappus.flight_train import FillWish
from pappus.plan import Plan, Site, example_plan_text, load_plan
from pappus.preflight import Around, LaunchOptions, LaunchWindow, Winds, fly_window
from pappus.weather import SurfaceWeather

NOW = EPOCH + timedelta(hours=1)
FLIGHTS = 120
CLIMBS = (("slow", 4.5), ("fast", 5.5))


@cache
def example_plan() -> Plan:
    """The built-in example: sites A and B, an early burst or a fouled canopy now and then."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "flight.toml"
        path.write_text(example_plan_text(), encoding="utf-8")
        return load_plan(path)


@cache
def forecast(members: int = 1, seed: int = 1) -> Winds:
    """Twelve hours of it, with weather near the ground that freshens by 1 m/s an hour."""
    field = forecast_field(members=members, points=9, times=13, step_deg=1.0, seed=seed)
    hours = (field.time_s / 3600.0)[None, :, None, None]
    grid = np.ones((members, 13, 9, 9)) * np.linspace(1.0, 1.2, members)[:, None, None, None]
    fields = {
        "eastward_wind": (1.0 + hours) * grid,
        "northward_wind": 0.0 * grid,
        "wind_speed_of_gust": (2.0 + hours) * grid,
        "cloud_area_fraction": 0.05 * hours + 0.0 * grid,
        "visibility_in_air": 20_000.0 + 0.0 * grid,
        "precipitation_flux": 0.0 * grid,
    }
    units = dict(zip(fields, ("m s-1", "m s-1", "m s-1", "1", "m", "kg m-2 s-1"), strict=True))
    surface = SurfaceWeather(EPOCH, field.time_s, field.latitude_deg, field.longitude_deg, fields, units)
    return Winds(field, surface=surface)


def at_hours(*hours: float) -> tuple[datetime, ...]:
    """Launch times after the first of the forecast."""
    return tuple(EPOCH + timedelta(hours=hour) for hour in hours)


def choices(
    *hours: float, sites: tuple[Site, ...] | None = None, fills: tuple[tuple[str, FillWish], ...] | None = None
) -> LaunchOptions:
    """Launch times after the first of the forecast, with the sites, two fills and the balloon of the example."""
    plan = example_plan()
    climbs = tuple((name, FillWish("climb", climb)) for name, climb in CLIMBS)
    return LaunchOptions(
        at_hours(*hours), plan.sites if sites is None else sites, climbs if fills is None else fills,
        (("own", plan.flight_train.envelope),),
    )  # fmt: skip


def flown(options: LaunchOptions, **changes: Any) -> LaunchWindow:
    """The window over them, unless told otherwise with one member and without a map."""
    how: dict[str, Any] = {"now": NOW, "flights": FLIGHTS, "around": Around()} | changes
    winds, limits = how.pop("winds", [forecast()]), how.pop("limits", GoLimits())
    plan = how.pop("plan", example_plan())
    return fly_window(plan, winds, PRIOR, options, limits, **how)


def seeded(seed: int) -> Plan:
    """The example with other random numbers."""
    plan = example_plan()
    return replace(plan, ensemble=replace(plan.ensemble, seed=seed))
