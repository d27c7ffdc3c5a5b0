"""The page Watch as values: the state of the flight, what lies ahead of it, who hears it, and what was decided."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from pappus.inflight import Warning_, Watched
from pappus.tracking import Estimate
from pappus.web.day._rehearsal_answers import RehearsalAnswer
from pappus.web.desk import Answer


class PlaceAnswer(Answer):
    """The newest position that was believed."""

    tracker: str
    time_utc: datetime
    heard_utc: datetime
    latitude_deg: float
    longitude_deg: float
    height_msl_m: float | None
    sure: bool
    """A checksum was right and at least three fixes agree."""


class RatesAnswer(Answer):
    """Height and rates at the newest fix with a height."""

    time_utc: datetime
    height_msl_m: float
    height_sd_m: float
    climb_m_s: float
    climb_sd_m_s: float
    speed_m_s: float | None
    course_deg: float | None


class BoxAnswer(Answer):
    """What the tracker tells of itself."""

    told_utc: datetime
    battery_v: float | None
    temperature_k: dict[str, float]


class StationAnswer(Answer):
    """One receiver: how it does and when it heard last."""

    name: str
    role: str
    phase: str
    """Its connection; "not set up here" for one that only the record knows."""
    heard_utc: datetime | None
    packets: int
    hears: list[str]
    signal_db: float | None
    wrong: str
    retry_in_s: float | None


class VehicleAnswer(Answer):
    """A car of the crew as last seen."""

    name: str
    time_utc: datetime
    latitude_deg: float
    longitude_deg: float


class WarningAnswer(Answer):
    """One thing that the crew should know now; ``known`` False: it cannot be told, which is no all-clear."""

    kind: str
    subject: str
    since_utc: datetime
    words: str
    what_to_do: str
    why: str
    known: bool
    taken_by: str | None
    taken_utc: datetime | None


class ReplayAnswer(Answer):
    """After a start the record is fed again; so far it is."""

    done: int
    packets: int


class StateAnswer(Answer):
    """The flight at one moment; ages are for the page to take, every part carries its time."""

    now_utc: datetime
    heard_utc: datetime | None
    packets: int
    phase: str
    phase_since_utc: datetime | None
    place: PlaceAnswer | None
    rates: RatesAnswer | None
    highest_msl_m: float | None
    box: BoxAnswer | None
    release_utc: datetime | None
    burst_utc: datetime | None
    burst_msl_m: float | None
    landed_utc: datetime | None
    vehicles: list[VehicleAnswer]
    stations: list[StationAnswer]
    warnings: list[WarningAnswer]
    report_due_utc: datetime | None
    report_why_not: str
    replay: ReplayAnswer | None
    safe: bool
    """The disk has all that was heard."""
    troubles: list[str]
    notes: list[str]
    speed: float
    """How fast the clock of this flight goes; 1 on a real day, more in a rehearsal."""


class NamedChanceAnswer(Answer):
    """A share of all flights with its 95 % interval."""

    name: str
    p: float
    low: float
    high: float


class PredictionAnswer(Answer):
    """Where it comes down as things were at ``made_utc``."""

    made_utc: datetime
    from_utc: datetime
    landing: dict[str, Any]
    """GeoJSON: areas and a few of the flights."""
    middle_deg: tuple[float, float] | None
    """Latitude and longitude: mean of the landings, for numbers only, never drawn as a place."""
    area_km2: float | None
    """Of the 50 % area."""
    flights: int
    arrival_utc: tuple[datetime, datetime, datetime] | None
    """5, 50 and 95 % points."""
    burst_utc: datetime | None
    """Median of the flights that still climb."""
    chances: list[NamedChanceAnswer]
    winds: str
    notes: list[str]


class EarlierAnswer(Answer):
    """An area of before, as a grey outline."""

    made_utc: datetime
    landing: dict[str, Any]
    middle_deg: tuple[float, float] | None = None
    """Latitude and longitude, for numbers only."""
    area_km2: float | None = None
    """Of the 50 % area."""
    moved_m: float | None = None
    """From its middle to that of now; None where one of both is not known."""


class PlannedAnswer(Answer):
    """The planned flight: seconds after release, degrees, heights above mean sea level."""

    release_utc: datetime
    seconds: list[float]
    longitude_deg: list[float]
    latitude_deg: list[float]
    height_msl_m: list[float]
    top: int


class MeasuredWindAnswer(Answer):
    """Mean wind of a layer as the flight drifted through it."""

    leg: str
    """Up or down."""
    low_msl_m: float
    high_msl_m: float
    wind_u_m_s: float
    """Eastward."""
    wind_v_m_s: float
    """Northward."""
    sd_m_s: float
    """Of either component."""


class WindsSeenAnswer(Answer):
    """Winds that the flight measured, beside the mean forecast along the planned ascent."""

    name: str
    measured_itself: bool
    """There is no forecast: the flight's own ascent is all there is, and the rows of a forecast are empty."""
    height_msl_m: list[float]
    wind_u_m_s: list[float]
    wind_v_m_s: list[float]
    sd_m_s: list[float]
    """What the forecast may be off by, one standard deviation of each component."""
    measured: list[MeasuredWindAnswer]
    rms_off_m_s: float | None
    """Of the measured winds against the forecast where and when each was flown, per component."""
    expected_rms_m_s: float | None
    """What error of the forecast and noise would have it."""


class LostAnswer(Answer):
    """Where a balloon that is silent may be now."""

    made_utc: datetime
    heard_utc: datetime
    """Time of the newest position."""
    area: dict[str, Any]
    """GeoJSON."""
    height_msl_m: tuple[float, float, float] | None
    """5, 50 and 95 % points."""
    down: NamedChanceAnswer


class SquareAnswer(Answer):
    """A square of ground."""

    latitude_deg: float
    longitude_deg: float
    """Of its middle."""
    chance: float
    up_to_here: float
    """With all squares before it."""
    corners: list[tuple[float, float]]
    """Longitude and latitude."""


class SearchAnswer(Answer):
    """Where to search, the likeliest square first."""

    edge_m: float
    squares: list[SquareAnswer]
    heard_utc: datetime
    heard_msl_m: float | None
    """Height last heard."""
    heard_deg: tuple[float, float]
    """Latitude and longitude."""
    unknown: NamedChanceAnswer
    notes: list[str]


class DueOnDayAnswer(Answer):
    """A call or message that the rules want."""

    title: str
    due_utc: datetime
    who: str


class LogAnswer(Answer):
    """One line of the decision log."""

    made_utc: datetime
    by: str
    what: str
    words: str


class WatchAnswer(Answer):
    """All that the page draws; the event ``watch`` brings the newest ``state`` alone."""

    running: bool
    receivers: list[str]
    """That the plan names."""
    sites: list[str]
    fault_kinds: list[str]
    """What may go wrong in a rehearsal."""
    rehearsal: RehearsalAnswer | None
    """When it is there, everything on the page is of a rehearsal: no balloon flies."""
    record: str
    """Name of the file that keeps what is heard."""
    state: StateAnswer | None
    flown: list[tuple[float, float, float, float | None]]
    """Seconds since 1970, longitude, latitude, height above mean sea level."""
    prediction: PredictionAnswer | None
    prediction_why_not: str
    earlier: list[EarlierAnswer]
    planned: PlannedAnswer | None
    winds: WindsSeenAnswer | None
    cut_down: PredictionAnswer | None
    """What a cut-down would have done at the moment that somebody asked; nothing was commanded."""
    lost: LostAnswer | None
    search: SearchAnswer | None
    due: list[DueOnDayAnswer]
    log: list[LogAnswer]


def state_answer(
    watched: Watched,
    now: datetime,
    warnings: Sequence[WarningAnswer],
    report_due: datetime | None,
    report_why_not: str,
    speed: float = 1.0,
) -> StateAnswer:
    """One look at the watch as the page shows it."""
    estimate = watched.estimate
    place = rates = box = None
    if estimate is not None and estimate.position is not None:
        at = estimate.position
        place = PlaceAnswer(
            tracker=at.tracker, time_utc=at.time_utc, heard_utc=at.heard_utc, latitude_deg=at.latitude_deg,
            longitude_deg=at.longitude_deg, height_msl_m=at.height_msl_m, sure=at.checked and at.confirmed,
        )  # fmt: skip
    if estimate is not None and estimate.motion is not None:
        motion = estimate.motion
        rates = RatesAnswer(
            time_utc=motion.time_utc, height_msl_m=motion.height_msl_m, height_sd_m=motion.height_sd_m,
            climb_m_s=motion.climb_m_s, climb_sd_m_s=motion.climb_sd_m_s, speed_m_s=motion.speed_m_s,
            course_deg=motion.course_deg,
        )  # fmt: skip
    chosen = None if estimate is None else estimate.chosen
    if chosen is not None and chosen.told_utc is not None:
        box = BoxAnswer(told_utc=chosen.told_utc, battery_v=chosen.battery_v, temperature_k=dict(chosen.temperature_k))
    start = None if estimate is None else estimate.fall_start
    catching = watched.catching_up
    return StateAnswer(
        now_utc=now,
        heard_utc=None if estimate is None else estimate.heard_utc,
        packets=0 if estimate is None else estimate.packets,
        phase="not known" if estimate is None else estimate.phase.value,
        phase_since_utc=None if estimate is None else estimate.phase_since_utc,
        place=place,
        rates=rates,
        highest_msl_m=None if estimate is None else estimate.highest_msl_m,
        box=box,
        release_utc=None if estimate is None else estimate.release_utc,
        burst_utc=None if start is None else start.time_utc,
        burst_msl_m=None if start is None else start.height_msl_m,
        landed_utc=None if estimate is None else estimate.landed_utc,
        vehicles=_vehicles(estimate),
        stations=list(_stations(watched, estimate)),
        warnings=list(warnings),
        report_due_utc=report_due,
        report_why_not=report_why_not,
        replay=None if catching is None else ReplayAnswer(done=catching.done, packets=catching.packets),
        safe=watched.safety.safe,
        troubles=list(_troubles(watched)),
        notes=[] if estimate is None else list(estimate.notes),
        speed=speed,
    )


def _vehicles(estimate: Estimate | None) -> list[VehicleAnswer]:
    return [
        VehicleAnswer(
            name=one.name, time_utc=one.time_utc, latitude_deg=one.latitude_deg, longitude_deg=one.longitude_deg
        )
        for one in (() if estimate is None else estimate.vehicles)
    ]


def _stations(watched: Watched, estimate: Estimate | None) -> Iterable[StationAnswer]:
    heard = {} if estimate is None else {one.receiver: one for one in estimate.listeners}
    for state in watched.receivers:
        one = heard.pop(state.name, None)
        yield StationAnswer(
            name=state.name, role=state.role, phase=state.phase, heard_utc=None if one is None else one.heard_utc,
            packets=state.packets if one is None else one.packets, hears=[] if one is None else list(one.hears),
            signal_db=None if one is None else one.signal_db, wrong=state.last_error, retry_in_s=state.retry_in_s,
        )  # fmt: skip
    for one in heard.values():
        yield StationAnswer(
            name=one.receiver, role=one.role, phase="not set up here", heard_utc=one.heard_utc, packets=one.packets,
            hears=list(one.hears), signal_db=one.signal_db, wrong="", retry_in_s=None,
        )  # fmt: skip


def _troubles(watched: Watched) -> Iterable[str]:
    safety = watched.safety
    if not safety.safe:
        lost = f", {safety.given_up} lost" if safety.given_up else ""
        yield f"{safety.waiting} packets are not on the disk{lost}: {safety.why}"
    if watched.faults:
        yield f"{watched.faults} faults inside, the last: {watched.last_fault}"


def warning_answer(warning: Warning_, taken: tuple[str, datetime] | None) -> WarningAnswer:
    """A warning and who took note of it."""
    return WarningAnswer(
        kind=warning.kind.value, subject=warning.subject, since_utc=warning.since_utc, words=warning.words,
        what_to_do=warning.what_to_do, why=warning.why, known=warning.known,
        taken_by=None if taken is None else taken[0], taken_utc=None if taken is None else taken[1],
    )  # fmt: skip
