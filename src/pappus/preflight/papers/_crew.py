"""The crew page of the briefing document: what was decided, the clock, numbers, calls, cautions."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import numpy as np

from pappus.decision import Decision
from pappus.export import ClockTime, CrewPage, KeyNumber, PhoneCall, Picture, State
from pappus.plan import Plan
from pappus.preflight.briefing import AREA_LEVEL, Briefing, after, say_chance, say_near
from pappus.preflight.papers._decision_words import answer_state, decision_reasons
from pappus.rules import Deadline
from pappus.units import say_area_km2, say_distance, say_height, say_height_range, say_lift, say_speed

FILL_BEFORE = timedelta(hours=1)
"""From the first gas to the release, common practice, no source."""
_CALL_ORDER = ("before release", "release", "descent", "no position", "end", "emergency")
_GAS = {
    "hydrogen": "Gas: hydrogen burns unseen. No flame, phone or engine within 15 m; all earthed; trained people fill.",
    "helium": "Gas: it displaces the air that you breathe. Fill in the open; open valves slowly; eye protection.",
}
_CAUTIONS = (
    "Lifting: nobody wraps a line around a hand or stands under the train; cylinders stand tied and capped.",
    "Landing: touch nothing near power lines, rails or roads: call their operator. Ask the owner of the land first.",
    "Airspace: this sheet permits nothing. The air traffic unit decides, and its word on the day stands above it.",
    "Driving: the driver drives, another navigates; stop to read and to call; rest on long days.",
    "Local rules, the gas supplier's sheet and licensed practice stand above this sheet.",
)


def crew_page(
    briefing: Briefing, decision: Decision | None, due: tuple[Deadline, ...], picture: Picture | None
) -> CrewPage:
    """What stands on the first sheet; without a decision the answer is that nobody can tell."""
    state, headline, reasons = _answer(decision)
    times = [*_deadlines(due), *_flight_times(briefing)]
    known = sorted((line for line in times if line.time_utc is not None), key=lambda line: str(line.time_utc))
    return CrewPage(
        answer=state, headline=headline, reasons=reasons,
        clock=(*known, *(line for line in times if line.time_utc is None)),
        zone=briefing.plan.mission.time_zone, map=picture, numbers=tuple(_numbers(briefing)),
        calls=_calls(briefing.plan),
        cautions=(_GAS.get(briefing.plan.flight_train.gas.kind, _GAS["helium"]), *_CAUTIONS),
    )  # fmt: skip


def _answer(decision: Decision | None) -> tuple[State, str, tuple[tuple[State, str], ...]]:
    if decision is None:
        return "cannot tell", "Cannot tell: this release was not held against limits and rules.", ()
    reasons = decision_reasons(decision)
    met = len(decision.checks) - len(reasons)
    if not reasons:
        reasons = (("go", f"All {met} checks are met."),)
    return answer_state(decision), decision.headline, reasons


def _deadlines(due: tuple[Deadline, ...]) -> Iterator[ClockTime]:
    for one in due:
        yield ClockTime(one.title, one.due_utc, one.who)


def _flight_times(briefing: Briefing) -> Iterator[ClockTime]:
    release, window = briefing.release, briefing.plan.window
    yield ClockTime("Fill starts", release - FILL_BEFORE, "1 h before, common practice", True)
    yield ClockTime("Release", release, f"window {window.opens:%H:%M}Z to {window.closes:%H:%M}Z", True)
    height = briefing.plan.mission.wanted_height_msl_m
    reached = _reaches_after_s(briefing, height)
    wanted = f"Reaches {height / 1000:.1f} km"
    if reached is None:
        yield ClockTime(wanted, None, "the nominal flight does not", True)
    else:
        yield ClockTime(wanted, after(release, reached), "nominal", True)
    early, middle, late = (after(release, seconds) for seconds in briefing.burst_time_s.values)
    yield ClockTime("Burst or cut-down", middle, f"90 % {early:%H:%M}Z to {late:%H:%M}Z", True)
    if briefing.arrival_s is None:
        yield ClockTime("Touchdown", None, "no flight lands in the data", True)
    else:
        early, middle, late = (after(release, seconds) for seconds in briefing.arrival_s.values)
        yield ClockTime("Touchdown", middle, f"90 % {early:%H:%M}Z to {late:%H:%M}Z", True)
    yield ClockTime("This holds for a release until", briefing.holds_until, briefing.holds_because, True)


def _reaches_after_s(briefing: Briefing, height_msl_m: float) -> float | None:
    """Seconds from release to the height on the nominal way up; None when it stays below."""
    nominal = briefing.nominal
    track = nominal.track_height_msl_m[0]
    top = int(np.nanargmax(track))
    if track[top] < height_msl_m:
        return None
    seconds = nominal.track_time_s[0] - nominal.release_time_s
    return float(np.interp(height_msl_m, track[: top + 1], seconds[: top + 1]))


def _numbers(briefing: Briefing) -> Iterator[KeyNumber]:
    mission, fill = briefing.plan.mission, briefing.fill
    yield KeyNumber(f"Reaches {mission.wanted_height_msl_m / 1000:.1f} km", say_chance(briefing.reaches_wanted))
    yield KeyNumber("Lift on the scale", say_lift(fill.scale_lift_n), f"±{say_lift(briefing.plan.fill.scale_sd_n)}")
    yield KeyNumber("Gas", f"{fill.volume_m3:.2f} m³ at the site", briefing.plan.flight_train.gas.kind)
    yield KeyNumber("Climb", say_speed(briefing.climb_m_s), "mean of the first 5 km")
    low, middle, high = briefing.top_msl_m.values
    yield KeyNumber("Top", say_height(middle), f"90 % {say_height_range(low, high)}")
    part = next(part for part in briefing.area.parts if part.probability == AREA_LEVEL)
    area = part.why_not if part.area_km2 is None else f"90 % area {say_area_km2(part.area_km2)}"
    yield KeyNumber("Lands", "-" if briefing.near is None else say_near(briefing.near), area)
    if briefing.drift_m is not None:
        near, half, far = briefing.drift_m.values
        yield KeyNumber("From the site", say_distance(half), f"90 % {near / 1000:.0f} to {far / 1000:.0f} km")
    if briefing.touchdown_m_s is not None:
        _, usual, fast = briefing.touchdown_m_s.values
        yield KeyNumber("Sink at touchdown", say_speed(usual), f"1 in 20 above {say_speed(fast)}")
    yield _wind(briefing)
    yield KeyNumber("Not landed in the data", say_chance(briefing.unknown))


def _wind(briefing: Briefing) -> KeyNumber:
    at = briefing.surface
    if at is None or at.wind_m_s is None:
        return KeyNumber("Wind at the site", "-", "not in these winds")
    towards = "" if at.wind_from_deg is None else f" from {at.wind_from_deg:03.0f}°"
    gusts = "gusts not known" if at.gust_m_s is None else f"gusts {say_speed(at.gust_m_s)}"
    return KeyNumber("Wind at the site", f"{say_speed(at.wind_m_s)}{towards}", gusts)


def _calls(plan: Plan) -> tuple[PhoneCall, ...]:
    """The calls of the plan in the order of the flight, then the crew."""
    order = {when: number for number, when in enumerate(_CALL_ORDER)}
    planned = sorted(plan.calls, key=lambda call: order.get(call.when, len(order)))
    calls = [PhoneCall(call.when, call.whom, call.phone) for call in planned]
    if plan.operator is not None and plan.operator.name:
        calls.append(PhoneCall("operator", plan.operator.name, plan.operator.phone or ""))
    return (*calls, *(PhoneCall(member.role, member.name, member.phone or "") for member in plan.crew))
