"""The page Flight as values: the flights as they are drawn, the times of the clock strip, and the wind they meet."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.landing import Quantiles
from pappus.preflight import Briefing, say_near, three_lines
from pappus.trajectory import Flights, flight_knots
from pappus.web.before._decision_answers import DecisionAnswer, decision_answer
from pappus.web.before._release_work import JudgedRelease
from pappus.web.before._window_answers import SpreadAnswer, landing
from pappus.web.desk import Answer, JobAnswer
from pappus.wind import Sampler

MOST_DRAWN = 1000
POINTS = 30
"""Of each thin line, besides its top; the firm line keeps all."""

Array = NDArray[np.float64]


class WayAnswer(Answer):
    """One flight as drawn: seconds after release, degrees and heights above mean sea level."""

    seconds: list[float]
    longitude_deg: list[float]
    latitude_deg: list[float]
    height_msl_m: list[float]
    top: int
    """Index of the point where the ascent ends."""
    unusual: bool
    """Balloon or canopy do not do what they should."""
    landed: bool


class MomentAnswer(Answer):
    """One mark of the clock strip."""

    name: str
    time_utc: datetime
    from_utc: datetime | None
    to_utc: datetime | None


class WindsAnswer(Answer):
    """The wind over the release, level by level; a row for each member of the forecast."""

    name: str
    height_msl_m: list[float]
    speed_m_s: list[list[float]]
    from_deg: list[list[float]]
    mean_speed_m_s: list[float]
    sd_m_s: list[float]
    """Of each component."""
    known_top_msl_m: float


class FlownAnswer(Answer):
    """A release as the page draws it."""

    made_utc: datetime
    site: str
    release_utc: datetime
    fill: str
    balloon: str
    words: list[str]
    near: str | None
    decision: DecisionAnswer
    wanted_msl_m: float
    ground_msl_m: float
    flights: int
    drawn: int
    moments: list[MomentAnswer]
    ways: list[WayAnswer]
    nominal: WayAnswer
    landing: dict[str, Any]
    """GeoJSON: areas, nominal flight, ends of flights, site and top."""
    top_msl_m: SpreadAnswer
    drift_m: SpreadAnswer | None
    winds: WindsAnswer


class FlightAnswer(Answer):
    """How far it is, and the flight once it is there."""

    job: JobAnswer
    flight: FlownAnswer | None


def flown_answer(release: JudgedRelease) -> FlownAnswer:
    """Everything that is drawn of it."""
    briefing, choice = release.judged.briefing, release.choice
    flights, site = briefing.flights, briefing.site
    tracked = flights.tracked
    rows = np.unique(np.linspace(0, len(tracked) - 1, min(MOST_DRAWN, len(tracked))).astype(np.int64))
    return FlownAnswer(
        made_utc=release.made_utc,
        site=choice.site,
        release_utc=choice.release,
        fill=choice.fill,
        balloon=choice.balloon,
        words=list(three_lines(briefing)),
        near=None if briefing.near is None else say_near(briefing.near),
        decision=decision_answer(release.judged.decision),
        wanted_msl_m=briefing.plan.mission.wanted_height_msl_m,
        ground_msl_m=float(briefing.ground.height_msl_m(site.latitude_deg, site.longitude_deg)),
        flights=len(flights.outcome),
        drawn=len(rows),
        moments=_moments(briefing),
        ways=[_way(flights, int(row), POINTS, unusual=bool(briefing.off_nominal[tracked[row]])) for row in rows],
        nominal=_way(briefing.nominal, 0, None, unusual=False),
        landing=landing(briefing),
        top_msl_m=_spread(briefing.top_msl_m),
        drift_m=None if briefing.drift_m is None else _spread(briefing.drift_m),
        winds=_winds(briefing),
    )


def _way(flights: Flights, row: int, points: int | None, *, unusual: bool) -> WayAnswer:
    height = flights.track_height_msl_m[row]
    known = np.flatnonzero(~np.isnan(height))
    top = int(known[np.argmax(height[known])])
    if points is not None and len(known) > points:
        known = np.union1d(known[np.linspace(0, len(known) - 1, points).astype(np.int64)], [top])
    longitude = np.unwrap(flights.track_longitude_deg[row, known], period=360.0)
    return WayAnswer(
        seconds=np.round(flights.track_time_s[row, known] - flights.release_time_s, 0).tolist(),
        longitude_deg=np.round(longitude, 5).tolist(),
        latitude_deg=np.round(flights.track_latitude_deg[row, known], 5).tolist(),
        height_msl_m=np.round(height[known], 0).tolist(),
        top=int(np.searchsorted(known, top)),
        unusual=unusual,
        landed=bool(flights.landed[flights.tracked[row]]),
    )


def _moments(briefing: Briefing) -> list[MomentAnswer]:
    release = briefing.release
    found = [MomentAnswer(name="release", time_utc=release, from_utc=None, to_utc=None)]
    found.append(_moment("burst", release, briefing.burst_time_s))
    if briefing.arrival_s is not None:
        found.append(_moment("touchdown", release, briefing.arrival_s))
    return found


def _moment(name: str, release: datetime, after_s: Quantiles) -> MomentAnswer:
    spread = _spread(after_s)
    low, middle, high = (release + timedelta(seconds=one) for one in (spread.low, spread.middle, spread.high))
    return MomentAnswer(name=name, time_utc=middle, from_utc=low, to_utc=high)


def _spread(values: Quantiles) -> SpreadAnswer:
    return SpreadAnswer(low=values.values[0], middle=values.values[len(values.values) // 2], high=values.values[-1])


def _winds(briefing: Briefing) -> WindsAnswer:
    """Each member of the newest run over the place and at the time of the release, up to the highest flight."""
    field, nominal = briefing.field, briefing.nominal
    levels, members = np.meshgrid(np.arange(field.levels, dtype=float), np.arange(field.members), indexing="ij")
    place = (nominal.track_latitude_deg, nominal.track_longitude_deg, nominal.track_time_s)
    air = Sampler(field).at(members.ravel(), levels.ravel(), *(np.full(levels.size, one[0, 0]) for one in place))
    east, north, height = (
        np.asarray(one).reshape(levels.shape).T for one in (air.wind_u_m_s, air.wind_v_m_s, air.height_msl_m)
    )
    heights: Array = height.mean(axis=0)
    shown = heights <= 1.05 * briefing.top_msl_m.values[-1]
    sd = flight_knots(field, nominal, briefing.prior.wind).total_sd_m_s[0]
    return WindsAnswer(
        name=field.name,
        height_msl_m=np.round(heights[shown], 0).tolist(),
        speed_m_s=np.round(np.hypot(east, north)[:, shown], 2).tolist(),
        from_deg=np.round(np.degrees(np.arctan2(-east, -north))[:, shown] % 360.0, 1).tolist(),
        mean_speed_m_s=np.round(np.hypot(east.mean(axis=0), north.mean(axis=0))[shown], 2).tolist(),
        sd_m_s=np.round(np.asarray(sd)[shown], 2).tolist(),
        known_top_msl_m=field.coverage.top_msl_m,
    )
