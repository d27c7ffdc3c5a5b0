"""What lies ahead of a flight that is watched: the landing area as things are now, warnings, the next report due."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from pappus.atmosphere import Profile
from pappus.errors import NoSolution, PappusError
from pappus.inflight import (
    TRACKED,
    Ahead,
    FlightPicture,
    InFlightModel,
    LiesAround,
    Past,
    PlannedFlight,
    Prediction,
    Warned,
    Whereabouts,
    ahead_of,
    cut_now,
    descent_report_due,
    gap_alarm_asked,
    looked,
    planned_of,
    repredict,
    track_of,
    warn,
    whereabouts,
)
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
from pappus.rules import Deadline, RuleProfile, deadlines, position_gap_alarm_utc, train_facts
from pappus.sources import read_terrain
from pappus.tracking import Estimate, Phase
from pappus.web.before import surrounded
from pappus.web.day._flight_drawn import lost_answer, prediction_answer, search_answer, winds_answer
from pappus.web.day._watch_answers import LostAnswer, PredictionAnswer, SearchAnswer, WindsSeenAnswer
from pappus.web.desk import Desk, Refused

LATE_S = 900.0
"""A release that comes later or earlier than this gets winds of its own time."""
GAP = "position-gap"
"""By this name the rules have the report after two hours without a position."""
LOST_S = 120.0
"""Silence after which the balloon is dead-reckoned, not drawn where it was heard last."""
DOWN_FOR_SURE = 0.5
"""Share of the flights of a silent balloon that are down, from which on squares to search are ranked."""
_OWN_WINDS_STEP = 4
_ALOFT = (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT)


@dataclass(frozen=True, eq=False)
class Predicted:
    """A prediction with the model that it was made with."""

    model: InFlightModel
    prediction: Prediction
    answer: PredictionAnswer
    winds: WindsSeenAnswer
    lost: LostAnswer | None
    """None while it is heard."""
    search: SearchAnswer | None
    """Once it is down, or most likely down."""


@dataclass(frozen=True, eq=False)
class Chased:
    """What the cars are told, and when that was worked out."""

    made_utc: datetime
    chase: Chase
    touchdown_utc: tuple[datetime, datetime, datetime] | None
    pointing: tuple[Pointing, ...]


class Lookout:
    """Looks ahead of one flight from one site; used by one thread."""

    def __init__(self, desk: Desk, site: Site, *, flown_in: InFlightModel | None = None, slack_s: float = 0.0) -> None:
        """``flown_in``: a rehearsal brings its own winds; ``slack_s``: by what its packets may come late."""
        self._desk, self._site, self._flown_in, self._slack_s = desk, site, flown_in, slack_s
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
        self.due: tuple[Deadline, ...] = ()

    def model(self, estimate: Estimate) -> InFlightModel:
        """In the newest winds that hold the release, else in those that the flight measured itself.

        Raises NoSolution, saying what was tried.
        """
        if self._flown_in is not None:
            self._model = (None, self._flown_in)
            return self._flown_in
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
        try:
            made, kept = self.forecast_model(release), (*given, -1)
        except NoSolution as tried:
            if track is None or estimate.phase not in _ALOFT:
                raise
            try:
                made = InFlightModel.from_own_winds(
                    plan, self._desk.prior(), self._site, track, epoch, terrain=self._terrain()
                )
            except PappusError as error:
                raise NoSolution(f"{tried}; {error}") from error
            kept = (*given, layers)
        self._model = (kept, made)
        return made

    def forecast_model(self, release: datetime) -> InFlightModel:
        """In the newest winds of the pack that hold a release. Raises NoSolution, saying what was tried."""
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
                return InFlightModel.prepare(
                    self._desk.plan(), one.field, self._desk.prior(), self._site, release,
                    model_ground_msl_m=one.ground_msl_m, terrain=self._terrain(),
                )  # fmt: skip
            except PappusError as error:
                tried.append(f"{one.field.name}: {error}")
        if not tried:
            tried.append("the desk has no winds: there is no field pack, or none in it")
        raise NoSolution("; ".join(tried))

    def predict(self, estimate: Estimate, now: datetime) -> Predicted:
        """The landing area now. Raises NoSolution where no winds can be had."""
        model = self.model(estimate)
        prediction = repredict(model, estimate, now, tracks=TRACKED)
        around = self.around()
        if around is not None:
            self._ahead = ahead_of(prediction.flights, lies_in(around, model), prediction.epoch, self._before)
            if estimate.phase not in _ALOFT or self._before is None:
                self._before = self._ahead
        return self.shown(prediction, self._ahead, estimate, now)

    def shown(self, prediction: Prediction, ahead: Ahead, estimate: Estimate, now: datetime) -> Predicted:
        """A prediction as the pages draw it."""
        model = self.model(estimate)
        where = whereabouts(prediction, estimate, now) if self._silent(estimate, now) else None
        return Predicted(
            model,
            prediction,
            prediction_answer(model, prediction, ahead),
            winds_answer(model, estimate, prediction),
            None if where is None else lost_answer(model, where),
            _to_search(prediction, estimate, where),
        )

    def cut(self, model: InFlightModel, estimate: Estimate, now: datetime) -> PredictionAnswer:
        """Where a cut-down at this moment would bring it down; any thread may ask. Raises BadInput when it falls."""
        prediction, around = cut_now(model, estimate, now), self.around()
        ahead = Ahead.not_known("there is no field pack that can be used")
        if around is not None:
            ahead = ahead_of(prediction.flights, lies_in(around, model), prediction.epoch, None)
        return prediction_answer(model, prediction, ahead)

    def warn(self, estimate: Estimate, predicted: Predicted | None, now: datetime) -> Warned:
        """The warnings of this moment; call it every few seconds, for some come only when something lasts."""
        if self._model is None:
            return self.warned
        model = self._model[1]
        profile = self.profile()
        if self._planned is None or self._planned[0] is not model:
            self._planned = (model, planned_of(model), gap_alarm_asked(profile, model))
        prediction = None if predicted is None else predicted.prediction
        self.report(model, estimate, predicted)
        self._history = looked(self._history, estimate, now)
        picture = FlightPicture(
            now, self._planned[1], estimate, prediction, self._ahead, self._history, self.report_due,
            self._planned[2],
        )  # fmt: skip
        self.warned = warn(picture, self.warned)
        return self.warned

    def report(self, model: InFlightModel, estimate: Estimate, predicted: Predicted | None) -> None:
        """What the rules want told and when, as things are now."""
        profile = self.profile()
        prediction = None if predicted is None else predicted.prediction
        self.report_due = descent_report_due(profile, model, prediction)
        self.report_why_not = "the plan names no rules that were read" if profile is None else "the rules ask for none"
        self.due = () if profile is None else due_on_day(profile, model, estimate, predicted)

    def profile(self) -> RuleProfile | None:
        """The rules that the plan names; None where they could not be read."""
        around = self.around()
        return None if around is None or around.law is None else around.law.profile

    def chase(self, estimate: Estimate, predicted: Predicted, now: datetime) -> Chased:
        """Where each car should wait. Cars that were not heard yet stand where the plan has them, or at the site."""
        plan, seen, site = self._desk.plan(), cars_of(estimate.vehicles, now), self._site
        known = {car.name for car in seen}
        parked = tuple(
            Car(one.name, site.latitude_deg, site.longitude_deg, math.inf)
            if one.latitude_deg is None or one.longitude_deg is None
            else Car(one.name, one.latitude_deg, one.longitude_deg, math.inf)
            for one in plan.vehicles
            if one.name not in known
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
            raise NoSolution("no vehicle has been heard, and the plan names none")
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

    def _silent(self, estimate: Estimate, now: datetime) -> bool:
        """Aloft when it was heard last, and that is long ago."""
        if estimate.position is None or estimate.phase not in _ALOFT:
            return False
        # by the clock that "now" is from: that of the tracker, or of this computer, may be wrong
        return (now - estimate.position.heard_utc).total_seconds() > LOST_S + self._slack_s

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


def lies_in(around: Around, model: InFlightModel) -> LiesAround:
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


def _to_search(prediction: Prediction, estimate: Estimate, where: Whereabouts | None) -> SearchAnswer | None:
    down = estimate.phase is Phase.LANDED or (where is not None and where.down.p >= DOWN_FOR_SURE)
    if not down or estimate.position is None:
        return None
    try:
        return search_answer(prediction, estimate)
    except NoSolution:
        return None


def due_on_day(
    profile: RuleProfile, model: InFlightModel, estimate: Estimate, predicted: Predicted | None
) -> tuple[Deadline, ...]:
    """With the times as flown where they are known, else as predicted."""
    release = estimate.release_utc or model.release
    start = estimate.fall_start
    burst = start.time_utc if start is not None else None if predicted is None else predicted.answer.burst_utc
    arrival = None if predicted is None else predicted.answer.arrival_utc
    landing = estimate.landed_utc or (None if arrival is None else arrival[1])
    burst, landing = (None if one is None or one < release else one for one in (burst, landing))
    if burst is not None and landing is not None and landing < burst:
        landing = None
    found = deadlines(profile, release, burst, landing, train_facts(model.plan.flight_train))
    last = estimate.position
    if estimate.phase is Phase.LANDED:
        return tuple(one for one in found if one.deadline_id != GAP)
    if last is None:
        return found
    # two hours count anew from every position
    gap = position_gap_alarm_utc(last.time_utc)
    return tuple(replace(one, due_utc=gap) if one.deadline_id == GAP else one for one in found)
