"""What lies ahead of a flight that is watched: the landing area as things are now, warnings, the next report due."""

from __future__ import annotations

import json
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from pappus.atmosphere import Profile
from pappus.errors import NoSolution, PappusError
from pappus.export import landing_geojson
from pappus.inflight import (
    Ahead,
    FlightPicture,
    InFlightModel,
    LiesAround,
    Past,
    PlannedFlight,
    Prediction,
    Warned,
    ahead_of,
    descent_report_due,
    gap_alarm_asked,
    looked,
    planned_of,
    repredict,
    track_of,
    warn,
)
from pappus.landing import Share
from pappus.plan import Site
from pappus.preflight import Around
from pappus.recovery import (
    Car,
    Chase,
    ChaseRoads,
    Pointing,
    Station,
    cars_of,
    chase_roads,
    landings_of,
    look_angles,
    meeting_point,
)
from pappus.sources import read_terrain
from pappus.tracking import Estimate, Phase
from pappus.trajectory import Flights
from pappus.web._desk import Desk
from pappus.web._problems import Refused
from pappus.web._release_work import surrounded
from pappus.web._watch_answers import ChanceAnswer, PlannedAnswer, PredictionAnswer

LATE_S = 900.0
"""A release that comes later or earlier than this gets winds of its own time."""
DRAWN, POINTS = 60, 24
"""Flights of a prediction that are drawn, and points of each."""
_OWN_WINDS_STEP = 4
_ALOFT = (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT)


@dataclass(frozen=True, eq=False)
class Predicted:
    """A prediction with the model that it was made with."""

    model: InFlightModel
    prediction: Prediction
    answer: PredictionAnswer
    took_s: float


@dataclass(frozen=True, eq=False)
class Chased:
    """What the cars are told, and when that was worked out."""

    made_utc: datetime
    chase: Chase
    touchdown_utc: tuple[datetime, datetime, datetime] | None
    pointing: tuple[Pointing, ...]


class Lookout:
    """Looks ahead of one flight from one site; used by one thread."""

    def __init__(self, desk: Desk, site: Site) -> None:
        self._desk, self._site = desk, site
        self._model: tuple[Any, InFlightModel] | None = None
        self._planned: tuple[InFlightModel, PlannedFlight, bool] | None = None
        self._roads: tuple[Any, ChaseRoads | None] | None = None
        self._history: tuple[Past, ...] = ()
        self._before: Ahead | None = None
        self._ahead = Ahead.not_known("there is no field pack that can be used")
        self._bound: dict[str, tuple[float, float]] = {}
        self.warned = Warned()
        self.report_due: datetime | None = None
        self.report_why_not = "no winds yet, so that no burst is predicted"

    def model(self, estimate: Estimate) -> InFlightModel:
        """In the newest winds that hold the release, else in those that the flight measured itself.

        Raises NoSolution, saying what was tried.
        """
        plan = self._desk.plan()
        release = plan.window.release
        if estimate.release_utc is not None and abs((estimate.release_utc - release).total_seconds()) > LATE_S:
            release = estimate.release_utc
        epoch = release.replace(minute=0, second=0, microsecond=0)
        track = track_of(estimate, epoch, (self._site.latitude_deg, self._site.longitude_deg))
        layers = len(estimate.wind) // _OWN_WINDS_STEP
        given = (self._desk.plan_digest(), self._desk.pack_stamp(), f"{release:%Y%m%dT%H%M}")
        if self._model is not None and self._model[0] in ((*given, -1), (*given, layers)):
            return self._model[1]
        tried = []
        try:
            winds = sorted(self._desk.winds(), key=lambda one: one.field.issued, reverse=True)
        except PappusError as error:
            winds, tried = [], [str(error)]
        for one in winds:
            if not one.field.coverage.first_valid <= release <= one.field.coverage.last_valid:
                tried.append(f"{one.field.name} does not hold the time of the release")
                continue
            try:
                made = InFlightModel.prepare(
                    plan, one.field, self._desk.prior(), self._site, release,
                    model_ground_msl_m=one.ground_msl_m, terrain=self._terrain(),
                )  # fmt: skip
            except PappusError as error:
                tried.append(f"{one.field.name}: {error}")
                continue
            self._model = ((*given, -1), made)
            return made
        if not winds and not tried:
            tried.append("the desk has no winds: there is no field pack, or none in it")
        if track is None or estimate.phase not in _ALOFT:
            raise NoSolution("; ".join(tried))
        try:
            made = InFlightModel.from_own_winds(
                plan, self._desk.prior(), self._site, track, epoch, terrain=self._terrain()
            )
        except PappusError as error:
            raise NoSolution("; ".join([*tried, str(error)])) from error
        self._model = ((*given, layers), made)
        return made

    def predict(self, estimate: Estimate, now: datetime) -> Predicted:
        """The landing area now. Raises NoSolution where no winds can be had."""
        began = time.monotonic()
        model = self.model(estimate)
        prediction = repredict(model, estimate, now)
        around = self.around()
        if around is not None:
            lies = _lies(around, model)
            self._ahead = ahead_of(prediction.flights, lies, prediction.epoch, self._before)
            if estimate.phase not in _ALOFT or self._before is None:
                self._before = self._ahead
        answer = prediction_answer(model, prediction, self._ahead)
        return Predicted(model, prediction, answer, time.monotonic() - began)

    def warn(self, estimate: Estimate, predicted: Predicted | None, now: datetime) -> Warned:
        """The warnings of this moment; call it every few seconds, for some come only when something lasts."""
        if self._model is None:
            return self.warned
        model = self._model[1]
        around = self.around()
        profile = None if around is None or around.law is None else around.law.profile
        if self._planned is None or self._planned[0] is not model:
            self._planned = (model, planned_of(model), gap_alarm_asked(profile, model))
        prediction = None if predicted is None else predicted.prediction
        self.report_due = descent_report_due(profile, model, prediction)
        self.report_why_not = "the plan names no rules that were read" if profile is None else "the rules ask for none"
        self._history = looked(self._history, estimate, now)
        picture = FlightPicture(
            now, self._planned[1], estimate, prediction, self._ahead, self._history, self.report_due,
            self._planned[2],
        )  # fmt: skip
        self.warned = warn(picture, self.warned)
        return self.warned

    def chase(self, estimate: Estimate, predicted: Predicted, now: datetime) -> Chased:
        """Where each car should wait. Cars that were not heard yet stand where the plan has them."""
        plan, seen = self._desk.plan(), cars_of(estimate.vehicles, now)
        known = {car.name for car in seen}
        parked = tuple(
            Car(one.name, one.latitude_deg, one.longitude_deg)
            for one in plan.vehicles
            if one.name not in known and one.latitude_deg is not None and one.longitude_deg is not None
        )
        cars = [replace(car, bound_for_deg=self._bound.get(car.name)) for car in (*seen, *parked)]
        prediction = predicted.prediction
        pointing: tuple[Pointing, ...] = ()
        place = estimate.position
        if place is not None and place.height_msl_m is not None:
            # the height of a car is not known: that of the site tilts the ray little
            stations = [Station(car.name, car.latitude_deg, car.longitude_deg, self._site.height_msl_m) for car in cars]
            pointing = look_angles(stations, place.latitude_deg, place.longitude_deg, place.height_msl_m)
        if not cars:
            raise NoSolution("no vehicle has been heard, and the plan gives none a place")
        landings = landings_of(prediction.flights, prediction.epoch, now)
        chase = meeting_point(cars, landings, self._chase_roads(), area=prediction.area)
        for one in chase.meetings:
            if one.latitude_deg is not None and one.longitude_deg is not None:
                self._bound[one.car.name] = (one.latitude_deg, one.longitude_deg)
        return Chased(now, chase, prediction.arrival_utc, pointing)

    def around(self) -> Around | None:
        """Map, zones and rules of the pack; None without one that can be used."""
        try:
            return surrounded(self._desk, lambda _: None).around
        except (PappusError, Refused):
            return None

    def _terrain(self) -> Sequence[Any]:
        pack = self._desk.pack()
        if pack is None:
            return ()
        return self._desk.keep("watch terrain", self._desk.pack_stamp(), lambda: read_terrain(pack.paths("terrain")))

    def _chase_roads(self) -> ChaseRoads | None:
        stamp = self._desk.pack_stamp()
        if self._roads is None or self._roads[0] != stamp:
            around = self.around()
            roads = None if around is None else around.surroundings.roads
            made = None if around is None or roads is None else chase_roads(roads, around.surroundings.features)
            self._roads = (stamp, made)
        return self._roads[1]


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
        _chance("burst still to come", prediction.burst_ahead),
        _chance("still floats at the longest flight", prediction.floats),
        _chance("does not land in the data", prediction.unknown),
        _chance("fouled canopy", prediction.fouled),
    ]
    for name, found in (("enters", ahead.airspace), ("lands in", ahead.border), ("leaves", ahead.permit_area),
                        ("lands on", ahead.hazard)):  # fmt: skip
        for one in found:
            if one.share is not None and one.share.p > 0.0:
                chances.append(_chance(f"{name} {one.subject or 'the permit area'}", one.share))
    text = landing_geojson(
        area=area, nominal=model.nominal, flights=prediction.flights, off_nominal=prediction.off_nominal,
        site_name=model.site.name, site_latitude_deg=model.site.latitude_deg,
        site_longitude_deg=model.site.longitude_deg, release=model.release, name=model.plan.mission.name,
        note=model.plan.mission.about or "", geoid=None,
    )  # fmt: skip
    collection = json.loads(text)
    areas = [one for one in collection["features"] if one["properties"]["kind"] == "landing area"]
    collection["features"] = [*areas, *_ways(prediction.flights)]
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


def _lies(around: Around, model: InFlightModel) -> LiesAround:
    """What the flight may run into: airspace that a permission covers is left out."""
    volumes = around.volumes
    if volumes is not None:
        volumes = tuple(
            one
            for one in volumes
            if not any(held.covers_rule(one.name.strip(), model.release) for held in around.permissions)
        )
    column = model.air
    return LiesAround(
        volumes=volumes,
        air=Profile(model.known.name, column.height_msl_m, column.pressure_pa, column.temperature_k),
        ground_msl_m_at=model.conditions.ground.height_msl_m,
        surroundings=around.surroundings,
        zones_given=around.zones_given,
    )


def _chance(name: str, share: Share) -> ChanceAnswer:
    return ChanceAnswer(name=name, p=share.p, low=share.low, high=share.high)
