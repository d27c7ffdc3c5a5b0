"""What is worked out of a watched flight, as its page draws it: areas, the plan, winds, where to search."""

from __future__ import annotations

import json
import math
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from pappus.earth import LocalPlane
from pappus.export import landing_geojson
from pappus.inflight import Ahead, InFlightModel, Prediction, SearchArea, Whereabouts, search_area
from pappus.landing import LandingArea, Share
from pappus.tracking import Estimate
from pappus.trajectory import Flights, flight_knots
from pappus.web.day._watch_answers import (
    LostAnswer,
    MeasuredWindAnswer,
    NamedChanceAnswer,
    PlannedAnswer,
    PredictionAnswer,
    SearchAnswer,
    SquareAnswer,
    WindsSeenAnswer,
)

DRAWN, POINTS = 60, 24
"""Flights of a prediction that are drawn, and points of each."""
WANTED_SQUARES, MOST_SQUARES = 100.0, 400
EDGES_M = (25.0, 50.0, 100.0, 250.0, 500.0, 1_000.0, 2_500.0, 5_000.0)
"""Edges of squares to search, from what two people look over at once."""


def prediction_answer(model: InFlightModel, prediction: Prediction, ahead: Ahead) -> PredictionAnswer:
    """The prediction as it is drawn and kept."""
    area, arrival = prediction.area, prediction.arrival_utc
    half = next((part for part in area.parts if part.probability == 0.5), None)
    burst = None
    if prediction.burst_ahead.p > 0.0:
        tops = prediction.flights.top_time_s
        known = tops[np.isfinite(tops)]
        burst = prediction.epoch + timedelta(seconds=float(np.median(known))) if len(known) else None
    chances = [
        _chance("burst ends the climb", prediction.burst_ahead),
        _chance("cut-down ends the climb", prediction.cut_ahead),
        _chance("still floats at the longest flight", prediction.floats),
        _chance("does not land in the data", prediction.unknown),
        _chance("fouled canopy", prediction.fouled),
    ]
    for name, found in (("enters", ahead.airspace), ("lands in", ahead.border), ("leaves", ahead.permit_area),
                        ("lands on", ahead.hazard)):  # fmt: skip
        for one in found:
            if one.share is not None and one.share.p > 0.0:
                chances.append(_chance(f"{name} {one.subject or 'the permit area'}", one.share))
    collection = _collection(model, area, prediction)
    collection["features"] = [*_only_areas(collection), *_ways(prediction.flights)]
    return PredictionAnswer(
        made_utc=prediction.made_utc,
        from_utc=prediction.from_utc,
        landing=collection,
        middle_deg=area.mean_deg,
        area_km2=None if half is None else half.area_km2,
        flights=area.flights,
        arrival_utc=arrival,
        burst_utc=burst,
        chances=chances,
        winds=model.known.name,
        notes=[*prediction.notes, *area.notes],
    )


def planned_answer(model: InFlightModel, release: datetime) -> PlannedAnswer:
    """The planned flight as if it had left at ``release``."""
    nominal = model.nominal
    known = np.flatnonzero(np.isfinite(nominal.track_height_msl_m[0]))
    height = nominal.track_height_msl_m[0, known]
    return PlannedAnswer(
        release_utc=release,
        seconds=np.round(nominal.track_time_s[0, known] - nominal.release_time_s, 0).tolist(),
        longitude_deg=np.round(np.unwrap(nominal.track_longitude_deg[0, known], period=360.0), 5).tolist(),
        latitude_deg=np.round(nominal.track_latitude_deg[0, known], 5).tolist(),
        height_msl_m=np.round(height, 0).tolist(),
        top=int(height.argmax()),
    )


def winds_answer(model: InFlightModel, estimate: Estimate | None, prediction: Prediction | None) -> WindsSeenAnswer:
    """Winds that the flight measured, beside the forecast along the planned ascent with its error.

    The numbers of how far off are the prediction's own: there each layer is held against where and when it was flown.
    """
    measured = [
        MeasuredWindAnswer(
            leg=one.leg, low_msl_m=one.low_msl_m, high_msl_m=one.high_msl_m, wind_u_m_s=round(one.wind_u_m_s, 2),
            wind_v_m_s=round(one.wind_v_m_s, 2), sd_m_s=round(one.wind_sd_m_s, 2),
        )
        for one in (() if estimate is None else estimate.wind)
    ]  # fmt: skip
    told = None if prediction is None else prediction.winds
    found = WindsSeenAnswer(
        name=model.known.name, measured_itself=model.own_winds, height_msl_m=[], wind_u_m_s=[], wind_v_m_s=[],
        sd_m_s=[], measured=measured, rms_off_m_s=None if told is None else told.rms_off_m_s,
        expected_rms_m_s=None if told is None else told.expected_rms_m_s,
    )  # fmt: skip
    if model.own_winds:
        return found
    nominal, field = model.nominal, model.conditions.field
    known = np.flatnonzero(np.isfinite(nominal.track_height_msl_m[0]))
    top = int(nominal.track_height_msl_m[0, known].argmax())
    up = known[: top + 1]
    heights = field.level_height_msl_m
    shown = np.flatnonzero(heights <= nominal.track_height_msl_m[0, up[-1]] + 500.0)
    latitude, longitude, time = (
        np.interp(heights[shown], nominal.track_height_msl_m[0, up], track[0, up])
        for track in (nominal.track_latitude_deg, nominal.track_longitude_deg, nominal.track_time_s)
    )
    air = model.sampler.at(
        np.zeros(len(shown), dtype=np.intp), shown.astype(np.float64), latitude, longitude, time
    )  # fmt: skip
    sd = np.asarray(flight_knots(field, nominal, model.prior.wind).total_sd_m_s)[0]
    return found.model_copy(
        update={
            "height_msl_m": np.round(air.height_msl_m, 0).tolist(),
            "wind_u_m_s": np.round(air.wind_u_m_s, 2).tolist(),
            "wind_v_m_s": np.round(air.wind_v_m_s, 2).tolist(),
            "sd_m_s": np.round(sd[shown], 2).tolist(),
        }
    )


def lost_answer(model: InFlightModel, where: Whereabouts) -> LostAnswer:
    """Where a silent balloon is by now."""
    collection = _collection(model, where.area, where.prediction)
    height = where.height_msl_m
    return LostAnswer(
        made_utc=where.prediction.made_utc,
        heard_utc=where.prediction.from_utc,
        area={"type": "FeatureCollection", "features": _only_areas(collection)},
        height_msl_m=None if height is None else (height.values[0], height.values[1], height.values[2]),
        down=_chance("down by now", where.down),
    )


def search_answer(prediction: Prediction, estimate: Estimate) -> SearchAnswer:
    """Squares to search, as fine as leaves them few enough to read. Raises NoSolution when no flight lands."""
    largest = max((part.area_km2 or 0.0 for part in prediction.area.parts), default=0.0)
    wanted = math.sqrt(1e6 * largest / WANTED_SQUARES)
    for edge in EDGES_M:
        if edge < wanted and edge < EDGES_M[-1]:
            continue
        found = search_area(prediction, estimate, cell_m=edge)
        if len(found.chance) <= MOST_SQUARES:
            break
    return SearchAnswer(
        edge_m=found.edge_m,
        squares=_squares(found),
        heard_utc=found.heard_utc,
        heard_msl_m=found.heard_msl_m,
        heard_deg=found.heard_deg,
        unknown=_chance("does not land in the data", found.unknown),
        notes=list(found.notes),
    )


def areas_of(landing: dict[str, Any]) -> dict[str, Any]:
    """The areas alone, without flights."""
    return {"type": "FeatureCollection", "features": _only_areas(landing)}


def _squares(found: SearchArea) -> list[SquareAnswer]:
    squares = []
    for row in range(min(len(found.chance), MOST_SQUARES)):
        latitude, longitude = float(found.latitude_deg[row]), float(found.longitude_deg[row])
        half = 0.5 * found.edge_m
        corners = LocalPlane(latitude, longitude).to_latitude_longitude_deg(
            np.array([-half, half, half, -half]), np.array([-half, -half, half, half])
        )
        squares.append(
            SquareAnswer(
                latitude_deg=round(latitude, 5),
                longitude_deg=round(longitude, 5),
                chance=float(found.chance[row]),
                up_to_here=float(found.up_to_here[row]),
                corners=np.round(np.column_stack((corners[1], corners[0])), 5).tolist(),
            )
        )
    return squares


def _collection(model: InFlightModel, area: LandingArea, prediction: Prediction) -> dict[str, Any]:
    text = landing_geojson(
        area=area, nominal=model.nominal, flights=prediction.flights, off_nominal=prediction.off_nominal,
        site_name=model.site.name, site_latitude_deg=model.site.latitude_deg,
        site_longitude_deg=model.site.longitude_deg, release=model.release, name=model.plan.mission.name,
        note=model.plan.mission.about or "", geoid=None,
    )  # fmt: skip
    found: dict[str, Any] = json.loads(text)
    return found


def _only_areas(collection: dict[str, Any]) -> list[dict[str, Any]]:
    return [one for one in collection["features"] if one["properties"]["kind"] == "landing area"]


def _ways(flights: Flights) -> list[dict[str, Any]]:
    """A few of the predicted flights as lines, up and down apart."""
    found = []
    for row in range(min(DRAWN, len(flights.track_time_s))):
        height = flights.track_height_msl_m[row]
        known = np.flatnonzero(np.isfinite(height))
        if len(known) < 2:
            continue
        top = int(known[np.argmax(height[known])])
        longitude = np.unwrap(flights.track_longitude_deg[row, known], period=360.0)
        for leg, part in (("up", known <= top), ("down", known >= top)):
            where = np.flatnonzero(part)
            where = where[np.unique(np.linspace(0, len(where) - 1, min(POINTS, len(where))).astype(np.int64))]
            if len(where) < 2:
                continue
            pairs = np.column_stack((longitude[where], flights.track_latitude_deg[row, known[where]]))
            found.append(
                {
                    "type": "Feature",
                    "properties": {"kind": "predicted flight", "leg": leg},
                    "geometry": {"type": "LineString", "coordinates": np.round(pairs, 5).tolist()},
                }
            )
    return found


def _chance(name: str, share: Share) -> NamedChanceAnswer:
    return NamedChanceAnswer(name=name, p=share.p, low=share.low, high=share.high)
