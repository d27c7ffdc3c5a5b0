"""Warnings of what is heard: silence, clock, heights, power, cold, and the report that is due."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from pappus.inflight.warnings._condition import ALOFT, Sign, Symptom, phase_of, sign_of, worse
from pappus.inflight.warnings._kinds import WarningKind
from pappus.inflight.warnings._picture import OUTSIDE, FlightPicture, full_battery_v
from pappus.rules import position_gap_alarm_utc
from pappus.tracking import Phase
from pappus.units import say_duration, zero_celsius_k

SAME_M = 0.6
"""Heights no farther apart are the same; two forms of a packet round it to a foot and to a decimetre."""
_LAGS = 3
"""So many positions must come late before the clock is in doubt."""


def silence(picture: FlightPicture) -> Iterator[Symptom]:
    estimate, now, limits = picture.estimate, picture.now, picture.limits
    position = None if estimate is None else estimate.position
    if position is None or estimate is None:
        late_s = (now - picture.planned.release_utc).total_seconds()
        yield Symptom(
            WarningKind.NO_POSITION,
            Sign.YES if late_s > limits.no_position_s else Sign.NO,
            f"No position since the planned release at {picture.planned.release_utc:%H:%M}Z",
            "Ask the launch crew; check receivers and tracker.",
            "Nothing that was heard gives a place.",
            late_s,
            limits.no_position_s,
            "s",
        )
        return
    aloft = estimate.phase in ALOFT
    silent_s = (now - position.heard_utc).total_seconds()
    height = "" if position.height_msl_m is None else f" at {position.height_msl_m / 1000:.1f} km"
    if not aloft:
        sign = Sign.NO
    elif silent_s > limits.no_position_s:
        sign = Sign.YES
    else:
        sign = Sign.BETWEEN if silent_s > 0.2 * limits.no_position_s else Sign.NO
    yield Symptom(
        WarningKind.NO_POSITION,
        sign,
        f"No position for {say_duration(max(silent_s, 0.0))}, last heard{height}",
        "Point the antennas at the dead-reckoned place, ask the other stations, send the chase to the 90 % area.",
        "Out of sight, out of power or down: its place is only reckoned from here.",
        silent_s,
        limits.no_position_s,
        "s",
        began_utc=position.heard_utc,
    )
    alarm = position_gap_alarm_utc(position.time_utc)
    left_s = (alarm - now).total_seconds()
    yield Symptom(
        WarningKind.TWO_HOURS,
        Sign.YES if aloft and picture.gap_alarm and left_s <= limits.two_hours_ahead_s else Sign.NO,
        f"No position recorded since {position.time_utc:%H:%M}Z: two hours are over at {alarm:%H:%M}Z",
        "Report the lost position to air traffic control then, at once; have the draft ready now.",
        "Position reports are due at least every two hours (14 CFR 101.39; ICAO Annex 2 App. 5).",
        -left_s,
        0.0,
        "s",
        began_utc=position.time_utc,
    )


def report(picture: FlightPicture) -> Iterator[Symptom]:
    due = picture.descent_report_due_utc
    if due is None or phase_of(picture) not in (Phase.ASCENT, Phase.FLOAT):
        yield Symptom(WarningKind.DESCENT_REPORT, Sign.NO)
        return
    left_s = (due - picture.now).total_seconds()
    ahead = picture.limits.report_ahead_s
    over = "" if left_s >= 0.0 else f", {say_duration(-left_s)} ago"
    yield Symptom(
        WarningKind.DESCENT_REPORT,
        sign_of(-left_s, (-ahead, -1.5 * ahead), above=True),
        f"Descent report due at {due:%H:%M}Z{over}",
        "Give it to air traffic control; the draft is ready.",
        "One hour before the descent begins, by the burst as predicted now.",
        -left_s,
        0.0,
        "s",
    )


def _over(picture: FlightPicture, name: str) -> tuple[int, int]:
    """Fixes refused for a group of reasons, and fixes believed, over the last minutes."""
    new, since = picture.history[-1], _since(picture)
    old = next((one for one in picture.history if one.looked_utc >= since), new)
    return getattr(new, name) - getattr(old, name), new.accepted - old.accepted


def _since(picture: FlightPicture) -> datetime:
    return picture.history[-1].looked_utc - timedelta(seconds=picture.limits.refused_over_s)


def clock(picture: FlightPicture) -> Iterator[Symptom]:
    estimate, limits = picture.estimate, picture.limits
    if estimate is None or not picture.history:
        yield Symptom(WarningKind.CLOCK, Sign.NO)
        return
    refused, believed = _over(picture, "clock_refused")
    late = {one.position_utc: one.lag_s for one in picture.history if one.looked_utc >= _since(picture)}
    # a single damaged stamp is no wrong clock
    lag_s = sorted(late.values(), key=abs)[-min(_LAGS, len(late))] if len(late) >= _LAGS else 0.0
    by_count = Sign.YES if refused >= limits.refused and refused >= believed else Sign.BETWEEN if refused else Sign.NO
    by_lag = sign_of(abs(lag_s), limits.clock_s, above=True)
    words = (
        f"{refused} fixes refused for their time" if by_count is Sign.YES else f"Positions {lag_s:.0f} s old when heard"
    )
    yield Symptom(
        WarningKind.CLOCK,
        worse(by_count, by_lag),
        words,
        "Compare this computer's clock with UTC; then ask whether a relay holds packets back.",
        "With a wrong clock ages, rates and arrival are wrong as well.",
        lag_s,
        limits.clock_s[0],
        "s",
    )  # fmt: skip


def _same_height(picture: FlightPicture) -> bool:
    """Several fixes aloft that tell one height: a receiver errs by more from one to the next."""
    told = {
        one.position_utc: one.told_msl_m
        for one in picture.history
        if one.looked_utc >= _since(picture) and one.phase in ALOFT and one.told_msl_m is not None
    }
    heights = [value for value in told.values() if value is not None]
    return len(heights) >= picture.limits.refused and max(heights) - min(heights) < SAME_M


def height(picture: FlightPicture) -> Iterator[Symptom]:
    estimate, limits = picture.estimate, picture.limits
    if estimate is None or not picture.history:
        yield Symptom(WarningKind.HEIGHT, Sign.NO)
        return
    site = picture.planned.site_msl_m
    offset = 0.0 if estimate.ground_msl_m is None else estimate.ground_msl_m - site
    words = f"Heights {offset:+.0f} m against the site before release"
    for other in estimate.apart:
        apart = other.height_offset_m
        if apart is not None and other.comparisons >= 10 and abs(apart) > abs(offset):
            offset, words = apart, f"Heights of {other.tracker} {apart:+.0f} m against the other tracker"
    frozen, believed = _over(picture, "height_refused")
    stands = (frozen >= limits.refused and frozen >= believed) or _same_height(picture)
    if stands:
        words = "Its height stands still as no height in the air does"
    by_offset = sign_of(abs(offset), limits.height_m, above=True)
    if by_offset is Sign.YES and estimate.phase is not Phase.GROUND and not estimate.apart:
        # the mean over the ground takes in the first of a slow climb: told on the ground only
        by_offset = Sign.BETWEEN
    yield Symptom(
        WarningKind.HEIGHT,
        worse(Sign.YES if stands else Sign.BETWEEN if frozen else Sign.NO, by_offset),
        words,
        "Do not trust its height: compare with another tracker; reckon with the limit of its receiver.",
        "A height above the ellipsoid, a held height or a receiver at its limit looks like a flight that it is not.",
        offset,
        0.0,
        "m",
    )


def box(picture: FlightPicture) -> Iterator[Symptom]:
    estimate, limits = picture.estimate, picture.limits
    chosen = None if estimate is None else estimate.chosen
    if chosen is None or phase_of(picture) not in ALOFT:
        yield Symptom(WarningKind.POWER, Sign.NO)
        yield Symptom(WarningKind.COLD, Sign.NO)
        return
    volts = chosen.battery_v
    if volts is None:
        yield Symptom(WarningKind.POWER, Sign.UNKNOWN, "Battery: no packet tells its voltage")
    else:
        fullest = full_battery_v(picture.history) or volts
        least = limits.battery_share * fullest if limits.battery_least_v is None else limits.battery_least_v
        yield Symptom(
            WarningKind.POWER,
            sign_of(volts, (least, 1.03 * least), above=False),
            f"Battery {volts:.2f} V, least {least:.2f}",
            "Expect silence: note position and course often, bring the chase nearer, send packets less often.",
            "A tracker without power is found by its last position only.",
            volts,
            least,
            "V",
        )  # fmt: skip
    inside = {
        name: kelvin for name, kelvin in chosen.temperature_k.items() if not any(w in name.lower() for w in OUTSIDE)
    }
    if not inside:
        yield Symptom(WarningKind.COLD, Sign.UNKNOWN, "Payload temperature: no packet tells one from inside")
        return
    name, kelvin = min(inside.items(), key=lambda pair: pair[1])
    yield Symptom(
        WarningKind.COLD,
        sign_of(kelvin, (limits.payload_least_k, limits.payload_least_k + 3.0), above=False),
        f"{name.capitalize()} {kelvin - zero_celsius_k:.0f} °C, least {limits.payload_least_k - zero_celsius_k:.0f}",
        "Expect cameras and tracker to fail: bring the chase nearer, note every position.",
        "Cold cells give little current, and a restart may not come.",
        kelvin,
        limits.payload_least_k,
        "K",
    )
