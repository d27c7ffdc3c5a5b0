"""What a re-prediction needs and no packet changes: prepared once, before the flight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pappus.atmosphere import Profile, standard_air
from pappus.errors import NoSolution
from pappus.flight_train import Fill, FlightPrior, SiteAir, solve_fill
from pappus.ground import TerrainGrid
from pappus.inflight.prediction._air import AirColumn, air_along
from pappus.inflight.prediction._climb import ClimbLaws, climb_laws
from pappus.inflight.prediction._fall import Canopy, prior_canopy
from pappus.inflight.prediction._track import Track
from pappus.plan import Plan, Site, conditions_for, under
from pappus.sources import Prior
from pappus.trajectory import Conditions, Draws, Flights, fly, nominal_draw, sample_draws
from pappus.wind import Coverage, Sampler, WindField, member_mean

Array = NDArray[np.float64]

LEAST_LAYERS = 4
"""Of a kilometre in all, before the flight's own winds make a column."""
_PRIOR_ROWS = 4_000


@dataclass(frozen=True, eq=False)
class InFlightModel:
    """One plan at one release in the winds of one source, ready for re-prediction."""

    plan: Plan
    """With the climb of the prior."""
    prior: Prior
    flight_prior: FlightPrior
    """Of the flight, with what the plan says in its place."""
    site: Site
    release: datetime
    fill: Fill
    scale_sd_n: float
    known: WindField
    """As the source holds it."""
    conditions: Conditions
    mean: Conditions
    """With the mean of the members."""
    nominal: Flights
    """The planned flight on the mean."""
    laws: ClimbLaws
    rows: Draws
    """Rows of the prior."""
    canopy: Canopy
    """After a burst."""
    canopy_cut: Canopy
    """After a cut-down: no film hangs on it."""
    own_winds: bool
    """The winds are those of the flight's own ascent."""

    @classmethod
    def prepare(
        cls,
        plan: Plan,
        winds: WindField,
        prior: Prior,
        site: Site,
        release: datetime,
        fill: Fill | None = None,
        *,
        model_ground_msl_m: NDArray[np.float64] | None = None,
        terrain: Sequence[TerrainGrid] = (),
        seed: int = 1,
        own_winds: bool = False,
    ) -> InFlightModel:
        """Lay out winds and laws; a second or so.

        :param winds: one sounding or one model run, as its source holds it.
        :param fill: as filled; None takes what the plan asks for in the air of the winds.
        :param model_ground_msl_m: ground of the forecast model on the latitudes and longitudes of the winds.

        Raises NoSolution when the fill cannot be had.
        """
        plan = under(plan, prior.flight)
        flight_prior = plan.scatter.over(prior.flight)
        conditions = conditions_for(plan, winds, model_ground_msl_m, site, release, terrain)
        mean = conditions.moved(field=member_mean(conditions.field))
        sampler = Sampler(mean.field)
        start = conditions.release
        levels = np.ones(mean.field.levels)
        over = air_along(
            sampler, site.latitude_deg * levels, site.longitude_deg * levels, start.time_s * levels
        )  # fmt: skip
        if fill is None:
            profile = Profile(winds.name, over.height_msl_m, over.pressure_pa, over.temperature_k)
            sun = float(conditions.sun.elevation_at_deg(np.array([start.time_s]))[0])
            air = SiteAir(profile, site.height_msl_m, sun, site.pressure_pa, site.temperature_k)
            fill = solve_fill(plan.fill, plan.flight_train, air)
        nominal = fly(mean, nominal_draw(plan.flight_train, fill, flight_prior))
        top = float(nominal.top_height_msl_m[0])
        rng = np.random.default_rng([seed, 1])
        laws = climb_laws(
            plan.flight_train, fill, flight_prior, plan.fill.scale_sd_n, over, conditions.sun,
            release_msl_m=start.height_msl_m, release_s=start.time_s, nominal_top_msl_m=top, rng=rng,
        )  # fmt: skip
        rows = sample_draws(
            plan.flight_train, fill, flight_prior, flights=_PRIOR_ROWS, members=1, scale_sd_n=plan.fill.scale_sd_n,
            nominal_top_msl_m=top, level_height_msl_m=np.zeros(1), rng=rng,
        )  # fmt: skip
        bare = replace(rows, remnant_kg=np.zeros(rows.flights))
        canopy, cut = (prior_canopy(some, plan.flight_train, flight_prior.fall, over) for some in (rows, bare))
        return cls(
            plan, prior, flight_prior, site, release, fill, plan.fill.scale_sd_n, winds, conditions, mean, nominal,
            laws, rows, canopy, cut, own_winds,
        )  # fmt: skip

    @classmethod
    def from_own_winds(
        cls,
        plan: Plan,
        prior: Prior,
        site: Site,
        track: Track,
        epoch: datetime,
        fill: Fill | None = None,
        *,
        terrain: Sequence[TerrainGrid] = (),
        seed: int = 1,
    ) -> InFlightModel:
        """The same without any forecast: the column that the flight itself measured on its way up, held.

        :param track: as ``track_of`` gives it, with times after ``epoch``.

        Raises NoSolution while less than a kilometre was measured.
        """
        release = epoch + timedelta(seconds=track.now_s if track.released_s is None else track.released_s)
        winds = own_column(plan, site, track, release)
        return cls.prepare(plan, winds, prior, site, release, fill, terrain=terrain, seed=seed, own_winds=True)

    @property
    def epoch(self) -> datetime:
        """Times of the model count from here."""
        return self.conditions.field.epoch

    @cached_property
    def sampler(self) -> Sampler:
        """Reads the mean field."""
        return Sampler(self.mean.field)

    @cached_property
    def air(self) -> AirColumn:
        """Over the site at release."""
        ones = np.ones(self.mean.field.levels)
        start = self.conditions.release
        return air_along(self.sampler, start.latitude_deg * ones, start.longitude_deg * ones, start.time_s * ones)

    def fresh_draws(self, flights: int, rng: np.random.Generator) -> Draws:
        """Rows of the prior as a briefing draws them, on the levels that are flown; without winds."""
        field = self.conditions.field
        draws = sample_draws(
            self.plan.flight_train, self.fill, self.flight_prior, flights=flights, members=field.members,
            scale_sd_n=self.scale_sd_n, nominal_top_msl_m=float(self.nominal.top_height_msl_m[0]),
            level_height_msl_m=field.level_height_msl_m, rng=rng,
        )  # fmt: skip
        return replace(draws, member=rng.permutation(draws.member))


def own_column(plan: Plan, site: Site, track: Track, release: datetime) -> WindField:
    """The winds of the flight's own ascent over the site, in standard air: nothing aboard is asked for pressure."""
    up = [w for w in track.layers if w.leg == "up"]
    if len(up) < LEAST_LAYERS:
        raise NoSolution(
            f"the flight has measured {len(up)} layers of wind so far; {LEAST_LAYERS} are needed without a forecast"
        )
    height = np.array([0.5 * (w.low_msl_m + w.high_msl_m) for w in up])
    air = standard_air(height)

    def cube(values: Array) -> Array:
        return np.asarray(values, dtype=np.float64).reshape(1, 1, -1, 1, 1)

    hold = timedelta(seconds=max(plan.limits.sounding_age_s, plan.limits.longest_flight_s))
    coverage = Coverage(
        release, release + hold, -90.0, 90.0, -180.0, 180.0, float(height[0]), float(height[-1]),
        (site.latitude_deg, site.longitude_deg), plan.limits.sounding_distance_m,
    )  # fmt: skip
    return WindField(
        "own ascent", "sounding", release, release, np.zeros(1), np.array([site.latitude_deg]),
        np.array([site.longitude_deg]), cube(air.pressure_pa), cube(height), cube(air.temperature_k),
        cube(np.array([w.wind_u_m_s for w in up])), cube(np.array([w.wind_v_m_s for w in up])), coverage, (),
        ("pressure and temperature of the standard atmosphere",),
    )  # fmt: skip
