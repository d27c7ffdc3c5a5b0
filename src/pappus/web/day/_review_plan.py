"""The plan and its winds against a flight that was flown: worked out anew from plan and field pack as they are now."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from pappus.earth import distance_m
from pappus.errors import NoSolution, PappusError
from pappus.inflight import InFlightModel
from pappus.plan import Site
from pappus.postflight import FlownTrack, WindMeasured, WindScore, wind_scores, winds_told
from pappus.store import FlightStore
from pappus.trajectory import flight_knots
from pappus.web.day._flight_drawn import planned_answer
from pappus.web.day._review_answers import estimates_of, track_of
from pappus.web.day._watch_answers import PlannedAnswer
from pappus.web.desk import Answer, Desk


class MeasuredAnswer(Answer):
    """The wind of one layer as flown through, and what the forecast had told of it; None above its top."""

    leg: str
    height_msl_m: float
    wind_u_m_s: float
    wind_v_m_s: float
    sd_m_s: float
    told_u_m_s: float | None
    told_v_m_s: float | None
    told_sd_m_s: float
    """Of either component, by the error model."""


class WindScoreAnswer(Answer):
    """Measured less forecast wind in a band of heights; the last row of all is the whole flight."""

    low_msl_m: float
    high_msl_m: float
    layers: int
    bias_u_m_s: float
    bias_v_m_s: float
    rms_m_s: float
    expected_m_s: float
    """The rms that error model and noise let expect."""


class WindReviewAnswer(Answer):
    """Winds of the flight against those of its forecast."""

    name: str
    measured: list[MeasuredAnswer]
    scores: list[WindScoreAnswer]
    total: WindScoreAnswer | None


class PlanReviewAnswer(Answer):
    """The planned flight as if it had left when this one did, and the winds; ``why_not`` says what is missing."""

    planned: PlannedAnswer | None
    winds: WindReviewAnswer | None
    why_not: str


def plan_review_answer(desk: Desk, path: Path) -> PlanReviewAnswer:
    """Takes some seconds. Raises what the store raises for a damaged record."""
    if not path.is_file():
        return PlanReviewAnswer(planned=None, winds=None, why_not="there is no record yet")
    with FlightStore.open(path, read_only=True) as store:
        estimates = estimates_of(store)
    track = track_of(estimates)
    if track is None:
        return PlanReviewAnswer(planned=None, winds=None, why_not="no position was believed")
    try:
        model = _model(desk, track)
    except PappusError as error:
        return PlanReviewAnswer(planned=None, winds=None, why_not=str(error))
    release = model.release if track.release_s is None else datetime.fromtimestamp(track.release_s, tz=UTC)
    measured = _measured(estimates)
    return PlanReviewAnswer(
        planned=planned_answer(model, release),
        winds=_winds(model, measured, track) if measured else None,
        why_not="" if measured else "the flight measured no winds",
    )


def _model(desk: Desk, track: FlownTrack) -> InFlightModel:
    """In the newest winds that hold the release. Raises NoSolution, saying what was tried."""
    plan = desk.plan()
    release = plan.window.release
    if track.release_s is not None:
        release = datetime.fromtimestamp(track.release_s, tz=UTC)
    site = min(plan.sites, key=lambda one: _apart_m(one, track))
    tried = []
    for one in sorted(desk.winds(), key=lambda one: one.field.issued, reverse=True):
        if not one.field.coverage.first_valid <= release <= one.field.coverage.last_valid:
            tried.append(f"{one.field.name} does not hold the time of the release")
            continue
        try:
            return InFlightModel.prepare(
                plan, one.field, desk.prior(), site, release, model_ground_msl_m=one.ground_msl_m
            )
        except PappusError as error:
            tried.append(f"{one.field.name}: {error}")
    raise NoSolution("; ".join(tried) or "the desk has no winds: there is no field pack, or none in it")


def _apart_m(site: Site, track: FlownTrack) -> float:
    start = float(track.latitude_deg[0]), float(track.longitude_deg[0])
    return float(distance_m(site.latitude_deg, site.longitude_deg, *start))


def _measured(estimates: Sequence[dict[str, Any]]) -> list[WindMeasured]:
    """The newest profile, lowest layer first."""
    newest: list[dict[str, Any]] = next((one["wind"] for one in reversed(estimates) if one.get("wind")), [])
    found = [
        WindMeasured(
            one["leg"], one["low_msl_m"], one["high_msl_m"], one["wind_u_m_s"], one["wind_v_m_s"], one["wind_sd_m_s"],
            datetime.fromisoformat(one["time_utc"]).timestamp(),
        )
        for one in newest
    ]  # fmt: skip
    return sorted(found, key=lambda one: (one.leg != "up", one.middle_msl_m))


def _winds(model: InFlightModel, measured: list[WindMeasured], track: FlownTrack) -> WindReviewAnswer:
    told_u, told_v = winds_told(model.sampler, measured, track, model.epoch.timestamp())
    middle = np.array([one.middle_msl_m for one in measured])
    # beyond its own levels the model holds the last wind, which nobody forecast
    beyond = middle > model.known.coverage.top_msl_m
    told_u, told_v = np.where(beyond, np.nan, told_u), np.where(beyond, np.nan, told_v)
    field = model.conditions.field
    up, down = np.asarray(flight_knots(field, model.nominal, model.prior.wind).total_sd_m_s)
    falls = np.array([one.leg == "down" for one in measured])
    heights = field.level_height_msl_m
    sd = np.where(falls, np.interp(middle, heights, down), np.interp(middle, heights, up))
    scores = [_score_answer(one) for one in wind_scores(measured, told_u, told_v, sd)]
    return WindReviewAnswer(
        name=model.known.name,
        measured=[
            MeasuredAnswer(
                leg=one.leg, height_msl_m=one.middle_msl_m, wind_u_m_s=round(one.wind_u_m_s, 2),
                wind_v_m_s=round(one.wind_v_m_s, 2), sd_m_s=round(one.sd_m_s, 2), told_u_m_s=_rounded(told_u[row]),
                told_v_m_s=_rounded(told_v[row]), told_sd_m_s=round(float(sd[row]), 2),
            )
            for row, one in enumerate(measured)
        ],
        scores=scores[:-1],
        total=scores[-1] if scores else None,
    )  # fmt: skip


def _score_answer(one: WindScore) -> WindScoreAnswer:
    return WindScoreAnswer(
        low_msl_m=one.low_msl_m, high_msl_m=one.high_msl_m, layers=one.layers, bias_u_m_s=round(one.bias_u_m_s, 2),
        bias_v_m_s=round(one.bias_v_m_s, 2), rms_m_s=round(one.rms_m_s, 2), expected_m_s=round(one.expected_m_s, 2),
    )  # fmt: skip


def _rounded(value: float) -> float | None:
    return None if np.isnan(value) else round(float(value), 2)
