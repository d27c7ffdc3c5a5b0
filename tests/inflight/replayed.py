"""The recorded flight of Barbados, re-predicted as it was heard: what tests and the evidence share.

Record: EUREC4A Barbados 2019-02-10, one sonde up and down at 1 Hz with positions (read from ``../shared`` where it
exists). Its balloon and canopy are not recorded: the plan around it is invented, with a canopy of which next to nothing
is known.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from columns import PRIOR
from pappus.atmosphere import standard_air
from pappus.earth import distance_m
from pappus.flight_train import FillWish
from pappus.inflight import InFlightModel, Prediction, repredict, track_of
from pappus.plan import Plan, Site, example_plan_text, load_plan
from pappus.sources import read_sounding
from pappus.tracking import Estimate, Estimator, Fix, LaunchPlace, received
from pappus.wind import Coverage, SourceFile, WindField

FILES = ("sondes/bco_20190210T1909_ascent_309057.bufr", "sondes/bco_20190210T2043_descent_309056.bufr")
FIX_EVERY_S = 5
MOMENTS = ("burst + 1 min", "15 km", "10 km", "5 km")


@dataclass(frozen=True, eq=False)
class Recorded:
    """Rows of one second: time, latitude, longitude, height, wind u, wind v, going down."""

    table: np.ndarray

    @property
    def top_row(self) -> int:
        return int(self.table[:, 3].argmax())

    @property
    def end_deg(self) -> tuple[float, float]:
        return float(self.table[-1, 1]), float(self.table[-1, 2])

    def time_of(self, moment: str) -> float:
        """Seconds since 1970."""
        if moment == "burst + 1 min":
            return float(self.table[self.top_row, 0]) + 60.0
        height = 1000.0 * float(moment.removesuffix(" km"))
        down = self.table[self.top_row :]
        return float(np.interp(-height, -down[:, 3], down[:, 0]))


@dataclass(frozen=True)
class Replayed:
    """One prediction beside where the record ends."""

    moment: str
    winds: str
    error_m: float
    drift_left_m: float
    area_90_km2: float | None
    inside_90: bool
    prediction: Prediction


def barbados(shared_data: Callable[[str], Path]) -> Recorded:
    """Both legs in order of time."""
    rows = []
    for name in FILES:
        (one,) = read_sounding(shared_data(name))
        assert one.time_s is not None
        columns = (
            one.release.timestamp() + one.time_s, one.level_latitude_deg, one.level_longitude_deg, one.height_msl_m,
            one.wind_u_m_s, one.wind_v_m_s, np.full(one.levels, float(one.is_descent)),
        )  # fmt: skip
        rows.append(np.array(columns, dtype=float).T)
    table = np.concatenate(rows)
    _, first = np.unique(table[:, 0], return_index=True)
    return Recorded(table[first])


def plan_for(flight: Recorded) -> tuple[Plan, Site]:
    """The example plan moved there, with a canopy of 7 m/s give or take 40 %, down to where the record ends."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "flight.toml"
        path.write_text(example_plan_text(), encoding="utf-8")
        plan = load_plan(path)
    start = flight.table[0]
    site = replace(plan.sites[0], latitude_deg=float(start[1]), longitude_deg=float(start[2]),
                   height_msl_m=float(start[3]), pressure_pa=None, temperature_k=None)  # fmt: skip
    train = plan.flight_train
    area = 2.0 * train.train_mass_kg * 9.81 / (1.225 * 7.0**2)
    canopy = replace(train.canopy, drag_coefficient=0.8, area_m2=area / 0.8, drag_area_ln_sd=0.8, fouled_chance=0.0)
    limits = replace(plan.limits, landing_ground_height_msl_m=float(flight.table[-1, 3]))
    plan = replace(plan, sites=(site,), flight_train=replace(train, canopy=canopy), limits=limits,
                   fill=FillWish("climb", 5.0))  # fmt: skip
    return plan, site


def estimates(flight: Recorded, moments: tuple[str, ...] = MOMENTS) -> list[Estimate]:
    """What the estimator has at each moment, from a fix each five seconds."""
    start = flight.table[0]
    estimator = Estimator(LaunchPlace(float(start[1]), float(start[2]), float(start[3])))
    wanted = [flight.time_of(moment) for moment in moments]
    made: list[Estimate] = []
    for index, row in enumerate(flight.table[::FIX_EVERY_S]):
        while len(made) < len(wanted) and row[0] > wanted[len(made)]:
            now = estimator.estimate()
            assert now is not None
            made.append(now)
        when = datetime.fromtimestamp(float(row[0]), tz=UTC)
        fix = Fix(tracker="SONDE", time_utc=when, time_quality="full", latitude_deg=float(row[1]),
                  longitude_deg=float(row[2]), height_msl_m=float(row[3]), height_ellipsoid_m=None,
                  fix_quality="three-dimensional", checked=True)  # fmt: skip
        estimator.take(received("hill", index, when, "json", str(index).encode()), (fix,))
    while len(made) < len(wanted):
        now = estimator.estimate()
        assert now is not None
        made.append(now)
    return made


def wrong_forecast(flight: Recorded, turned_deg: float = 25.0, scale: float = 1.25, off_m_s: float = 3.0) -> WindField:
    """The recorded winds of the ascent, turned, strengthened and pushed: a forecast made wrong on purpose."""
    up = flight.table[: flight.top_row + 1]
    height = np.arange(250.0, float(up[-1, 3]), 500.0)
    u, v = (np.interp(height, up[:, 3], up[:, column]) for column in (4, 5))
    turn = np.exp(1j * np.radians(turned_deg))
    wind = scale * (u + 1j * v) * turn + off_m_s
    air = standard_air(height)
    issued = datetime.fromtimestamp(float(up[0, 0]), tz=UTC) - timedelta(hours=6)
    times = np.arange(0.0, 24.0) * 3600.0
    latitude, longitude = up[0, 1] + np.array([-4.0, 4.0]), up[0, 2] + np.array([-4.0, 4.0])

    def cube(values: np.ndarray) -> np.ndarray:
        return np.broadcast_to(values[None, None, :, None, None], (1, len(times), len(height), 2, 2)).copy()

    coverage = Coverage(issued, issued + timedelta(hours=23), float(latitude[0]), float(latitude[1]),
                        float(longitude[0]), float(longitude[1]), float(height[0]), float(height[-1]))  # fmt: skip
    return WindField(
        "wrong on purpose", "forecast", issued, issued, times, latitude, longitude, cube(air.pressure_pa), cube(height),
        cube(air.temperature_k), cube(wind.real), cube(wind.imag), coverage,
        (SourceFile("made", "0" * 64, "recorded winds, turned and strengthened"),),
    )  # fmt: skip


def replayed(flight: Recorded, flights: int = 800) -> list[Replayed]:
    """All moments, on the flight's own ascent and on the wrong forecast, with its winds measured and without."""
    plan, site = plan_for(flight)
    heard = estimates(flight)
    release = datetime.fromtimestamp(float(flight.table[0, 0]), tz=UTC)
    forecast = InFlightModel.prepare(plan, wrong_forecast(flight), PRIOR, site, release)
    rows = []
    for moment, estimate in zip(MOMENTS, heard, strict=True):
        track = track_of(estimate, release, (site.latitude_deg, site.longitude_deg))
        assert track is not None
        own = InFlightModel.from_own_winds(plan, PRIOR, site, track, release)
        now = estimate.heard_utc
        for name, model, with_winds in (
            ("own ascent", own, True),
            ("wrong forecast, corrected", forecast, True),
            ("wrong forecast", forecast, False),
        ):  # fmt: skip
            made = repredict(model, estimate, now, flights=flights, with_winds=with_winds)
            rows.append(_judged(moment, name, made, flight, estimate))
    return rows


def _judged(moment: str, name: str, made: Prediction, flight: Recorded, estimate: Estimate) -> Replayed:
    area = made.area
    middle = float(np.median(area.latitude_deg)), float(np.median(area.longitude_deg))
    rings = [ring for polygon in area.parts[1].polygons for ring in polygon]
    end = flight.end_deg
    only = replace(area, latitude_deg=np.array(end[:1]), longitude_deg=np.array(end[1:]), landed=1, flights=1)
    assert estimate.position is not None
    here = estimate.position.latitude_deg, estimate.position.longitude_deg
    return Replayed(
        moment, name, float(distance_m(*middle, *end)), float(distance_m(*here, *end)), area.parts[1].area_km2,
        bool(rings) and only.probability_inside(rings).p == 1.0, made,
    )  # fmt: skip


def replay_page(rows: list[Replayed]) -> list[str]:
    """A table."""
    lines = [
        "| moment | winds | way left km | landing error km | 90 % area km2 | holds the end | measured against mean m/s "
        "(expected) |",
        "|--|--|--|--|--|--|--|",
    ]
    for row in rows:
        told = row.prediction.winds
        off = "" if told.rms_off_m_s is None else f"{told.rms_off_m_s:.1f} ({told.expected_rms_m_s:.1f})"
        area = "none" if row.area_90_km2 is None else f"{row.area_90_km2:.1f}"
        lines.append(
            f"| {row.moment} | {row.winds} | {row.drift_left_m / 1e3:.1f} | {row.error_m / 1e3:.2f} | {area} | "
            f"{'yes' if row.inside_90 else 'no'} | {off} |"
        )
    return lines
