"""The page Plan as values: what the fill does, the train to be drawn, and the tables as they stand in the file."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Any

import numpy as np

from pappus.flight_train import FlightTrain
from pappus.plan import Plan
from pappus.preflight import Consequence, FillCard
from pappus.web.desk import Answer, FindingAnswer


class ConsequenceAnswer(Answer):
    """What another reading on the scale would do."""

    scale_lift_n: float
    climb_m_s: float
    burst_msl_m: float
    landing_shift_m: float | None
    shift_bearing_deg: float | None


class FillAnswer(Answer):
    """The fill of a plan: what to read, what it does, what to bring."""

    site: str
    release_utc: datetime
    air: str
    gas: str
    purity: float
    volume_m3: float
    gas_mass_kg: float
    diameter_m: float
    gross_lift_n: float
    scale_lift_n: float
    scale_sd_n: float
    free_lift_n: float
    climb_m_s: float
    burst_msl_m: float
    burst_low_msl_m: float
    burst_high_msl_m: float
    burst_diameter_m: float
    burst_is_prior: bool
    wanted_msl_m: float
    least_climb_m_s: float
    climb_heights_msl_m: list[float]
    climb_rates_m_s: list[float]
    less: ConsequenceAnswer
    more: ConsequenceAnswer
    cylinders: int | None
    cylinder_share: float | None
    cautions: list[str]
    assumptions: list[str]


class PieceAnswer(Answer):
    """One piece of the train from the neck down, as it is drawn."""

    kind: str
    name: str
    mass_kg: float
    length_m: float | None = None
    breaking_force_n: float | None = None
    edges_m: list[float] | None = None
    cloth_m2: float | None = None


class TrainAnswer(Answer):
    """The flight train in the order in which it hangs."""

    pieces: list[PieceAnswer]
    train_mass_kg: float
    length_m: float
    balloon_mass_kg: float
    release_diameter_m: float | None
    burst_diameter_m: float
    cut_downs: list[str]


class MissionAnswer(Answer):
    """What the head of every page says of the plan."""

    name: str
    about: str | None
    client: str | None
    time_zone: str
    wanted_msl_m: float
    opens_utc: datetime
    closes_utc: datetime
    release_utc: datetime
    sites: list[str]


class PlanAnswer(Answer):
    """A plan: its tables as they stand in the file, what is wrong with them, and what they mean when nothing is."""

    file: str
    exists: bool
    digest: str | None
    tables: dict[str, Any]
    findings: list[FindingAnswer]
    mission: MissionAnswer | None
    fill: FillAnswer | None
    fill_problem: str | None
    """Why there is no fill although the plan can be read."""
    train: TrainAnswer | None


def fill_answer(card: FillCard) -> FillAnswer:
    """The fill card for the page, with the heights between which 80 % of such balloons burst."""
    envelope, fill = card.plan.flight_train.envelope, card.fill
    low, high = card.burst_between_msl_m
    return FillAnswer(
        site=card.site.name,
        release_utc=card.release,
        air=card.air_name,
        gas=card.plan.flight_train.gas.kind,
        purity=card.plan.flight_train.gas.purity,
        volume_m3=fill.volume_m3,
        gas_mass_kg=fill.gas_mass_kg,
        diameter_m=fill.diameter_m,
        gross_lift_n=fill.gross_lift_n,
        scale_lift_n=fill.scale_lift_n,
        scale_sd_n=card.tolerance_n,
        free_lift_n=fill.free_lift_n,
        climb_m_s=card.climb_m_s,
        burst_msl_m=card.burst_msl_m,
        burst_low_msl_m=low,
        burst_high_msl_m=high,
        burst_diameter_m=envelope.burst_diameter_m,
        burst_is_prior=envelope.diameter_is_prior,
        wanted_msl_m=card.plan.mission.wanted_height_msl_m,
        least_climb_m_s=card.plan.limits.least_climb_m_s,
        climb_heights_msl_m=list(card.climb_heights_msl_m),
        climb_rates_m_s=list(card.climb_rates_m_s),
        less=_consequence(card.less),
        more=_consequence(card.more),
        cylinders=card.cylinders,
        cylinder_share=card.cylinder_share,
        cautions=list(card.cautions),
        assumptions=list(card.plan.assumptions),
    )


def train_answer(train: FlightTrain, release_diameter_m: float | None) -> TrainAnswer:
    """Lines and what hangs between them: the canopy after the first line, then the boxes."""
    hung = [PieceAnswer(kind="canopy", name="canopy", mass_kg=train.canopy.mass_kg, cloth_m2=train.canopy.area_m2)]
    hung += [
        PieceAnswer(kind="package", name=box.name, mass_kg=box.mass_kg, edges_m=list(box.edges_m))
        for box in train.packages
    ]
    lines = [
        PieceAnswer(
            kind="line", name=line.name, mass_kg=line.mass_kg, length_m=line.length_m,
            breaking_force_n=line.breaking_force_n,
        )
        for line in train.lines
    ]  # fmt: skip
    pieces: list[PieceAnswer] = []
    for index in range(max(len(lines), len(hung))):
        pieces += lines[index : index + 1] + hung[index : index + 1]
    return TrainAnswer(
        pieces=pieces,
        train_mass_kg=train.train_mass_kg,
        length_m=train.length_m,
        balloon_mass_kg=train.envelope.mass_kg,
        release_diameter_m=release_diameter_m,
        burst_diameter_m=train.envelope.burst_diameter_m,
        cut_downs=[f"{one.devices} × {one.name} ({one.trigger})" for one in train.cut_downs],
    )


def mission_answer(plan: Plan) -> MissionAnswer:
    """Name, times and sites."""
    return MissionAnswer(
        name=plan.mission.name,
        about=plan.mission.about,
        client=plan.mission.client,
        time_zone=plan.mission.time_zone,
        wanted_msl_m=plan.mission.wanted_height_msl_m,
        opens_utc=plan.window.opens,
        closes_utc=plan.window.closes,
        release_utc=plan.window.release,
        sites=[site.name for site in plan.sites],
    )


def as_json(value: Any) -> Any:
    """Values of a TOML file as JSON has them: times as text in ISO 8601."""
    if isinstance(value, dict):
        return {str(key): as_json(one) for key, one in value.items()}
    if isinstance(value, list):
        return [as_json(one) for one in value]
    if isinstance(value, datetime | date | time):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, float) and not np.isfinite(value):
        return str(value)
    return value


def _consequence(one: Consequence) -> ConsequenceAnswer:
    return ConsequenceAnswer(
        scale_lift_n=one.scale_lift_n,
        climb_m_s=one.climb_m_s,
        burst_msl_m=one.burst_msl_m,
        landing_shift_m=one.landing_shift_m,
        shift_bearing_deg=one.shift_bearing_deg,
    )
