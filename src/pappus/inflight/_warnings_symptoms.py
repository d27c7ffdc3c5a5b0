"""Each kind of warning: whether it is so now, and what is said of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import Enum

from pappus.inflight._warnings_kinds import WarningKind
from pappus.inflight._warnings_picture import OUTSIDE, ChanceAhead, FlightPicture, Past
from pappus.rules import position_gap_alarm_utc
from pappus.tracking import Phase
from pappus.units import say_duration, zero_celsius_k

ALOFT = (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT)
OPENING_S = 60.0
"""After the burst the train falls faster than its canopy lets it, until the air is dense enough (common practice)."""
THICK_BELOW_MSL_M, THIN_AIR = 12_000.0, 3e-5
"""Above, sound canopies differ more from one to the next: their exponents do. The limit grows by so much a metre."""
_LAGS = 3
"""So many positions must come late before the clock is in doubt."""
FALL_LEAST_M = 200.0
"""Fall over which a rate is told."""


class Sign(Enum):
    """Whether a condition holds."""

    YES = "yes"
    BETWEEN = "between"
    """Not enough to warn, too much to stop warning."""
    NO = "no"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Symptom:
    """One condition as it is now. ``words`` end without a stop: the time since when is put behind them."""

    kind: WarningKind
    sign: Sign
    words: str = ""
    what_to_do: str = ""
    why: str = ""
    number: float | None = None
    against: float | None = None
    unit: str = ""
    subject: str = ""
    began_utc: datetime | None = None
    """Where the moment itself is known."""


def symptoms(picture: FlightPicture) -> Iterator[Symptom]:
    """All conditions, those that do not hold as well."""
    yield from _climb(picture)
    yield from _floats(picture)
    yield from _early_burst(picture)
    yield from _fall(picture)
    yield from _silence(picture)
    yield from _report(picture)
    yield from _clock(picture)
    yield from _height(picture)
    yield from _box(picture)
    yield from _ahead(picture)


def _sign(value: float, pair: tuple[float, float], *, above: bool) -> Sign:
    warn, clear = pair
    if (value > warn) if above else (value < warn):
        return Sign.YES
    if (value > clear) if above else (value < clear):
        return Sign.BETWEEN
    return Sign.NO


def _heights(picture: FlightPicture, over_s: float, phases: tuple[Phase, ...]) -> tuple[Past, Past] | None:
    """The newest height and one about so much older, both of the phases."""
    known = [one for one in picture.history if one.height_msl_m is not None]
    if not known or known[-1].phase not in phases:
        return None
    new = known[-1]
    for old in reversed(known[:-1]):
        age_s = (new.time_utc - old.time_utc).total_seconds()
        if old.phase not in phases or age_s > 1.75 * over_s:
            return None
        if age_s >= over_s:
            return old, new
    return None


def _climb(picture: FlightPicture) -> Iterator[Symptom]:
    limits = picture.limits
    pair = _heights(picture, limits.climb_over_s, (Phase.ASCENT,))
    if pair is None:
        yield Symptom(WarningKind.SLOW_CLIMB, Sign.BETWEEN if _phase(picture) is Phase.ASCENT else Sign.NO)
        return
    old, new = pair
    assert old.height_msl_m is not None and new.height_msl_m is not None  # noqa: PT018
    took_s = (new.time_utc - old.time_utc).total_seconds()
    rise_m = new.height_msl_m - old.height_msl_m
    takes_s = picture.planned.climb_takes_s(old.height_msl_m, new.height_msl_m)
    if new.height_msl_m > picture.planned.top_msl_m or rise_m <= 0.0 or takes_s <= 0.0:
        sign, planned = (Sign.NO, None) if rise_m > 0.0 else (Sign.BETWEEN, None)
        yield Symptom(WarningKind.SLOW_CLIMB, sign, against=planned)
        return
    rate, plan = rise_m / took_s, rise_m / takes_s
    yield Symptom(
        WarningKind.SLOW_CLIMB,
        _sign(rate / plan, limits.slow_climb, above=False),
        f"Climb {rate:.1f} m/s, plan {plan:.1f}",
        "Expect a long flight: check the 90 % area, call the chase.",
        "A slow balloon stays longer in every wind and bursts later, if it bursts.",
        rate,
        plan,
        "m/s",
    )


def _floats(picture: FlightPicture) -> Iterator[Symptom]:
    estimate = picture.estimate
    motion = None if estimate is None else estimate.motion
    if estimate is None or motion is None or estimate.phase not in (Phase.FLOAT, Phase.ASCENT):
        yield Symptom(WarningKind.FLOATER, Sign.NO)
        return
    if estimate.phase is Phase.FLOAT:
        sign = Sign.YES
    else:
        sign = Sign.BETWEEN if motion.climb_m_s < picture.limits.float_m_s[1] else Sign.NO
    yield Symptom(
        WarningKind.FLOATER,
        sign,
        f"Floats at {motion.height_msl_m / 1000:.1f} km, planned burst {picture.planned.top_msl_m / 1000:.1f} km",
        "Think of a cut-down now: compare its area. Tell air traffic control, call the chase.",
        "It may stay up for hours and go anywhere the wind goes.",
        motion.climb_m_s,
        picture.limits.float_m_s[0],
        "m/s",
    )


def _early_burst(picture: FlightPicture) -> Iterator[Symptom]:
    estimate = picture.estimate
    start = None if estimate is None else estimate.fall_start
    if estimate is None or start is None or estimate.phase is not Phase.DESCENT:
        yield Symptom(WarningKind.EARLY_BURST, Sign.NO)
        return
    planned = picture.planned
    yield Symptom(
        WarningKind.EARLY_BURST,
        Sign.YES if start.height_msl_m < planned.burst_low_msl_m else Sign.NO,
        f"Climb ended at {start.height_msl_m / 1000:.1f} km, plan {planned.top_msl_m / 1000:.1f} km",
        "It lands sooner and nearer: look at the new area, send the chase, give the descent report at once.",
        "Burst or cut-down far below the plan: the planned landing area is void.",
        start.height_msl_m,
        planned.top_msl_m,
        "m",
        began_utc=start.time_utc,
    )


def _fall(picture: FlightPicture) -> Iterator[Symptom]:
    estimate, limits = picture.estimate, picture.limits
    start = None if estimate is None else estimate.fall_start
    if _phase(picture) is not Phase.DESCENT or estimate is None:
        yield Symptom(WarningKind.FAST_DESCENT, Sign.NO)
        return
    pair = _heights(picture, limits.fall_over_s, (Phase.DESCENT,))
    chance = None if picture.prediction is None else picture.prediction.fouled.p
    by_chance = Sign.NO
    if chance is not None and picture.prediction is not None and picture.prediction.phase is Phase.DESCENT:
        by_chance = _sign(chance, limits.fouled_chance, above=True)
    rate = plan = None
    by_rate = Sign.BETWEEN
    if pair is not None:
        old, new = pair
        opened = start is None or (old.time_utc - start.time_utc).total_seconds() >= OPENING_S
        assert old.height_msl_m is not None and new.height_msl_m is not None  # noqa: PT018
        fell_m = old.height_msl_m - new.height_msl_m
        if opened and fell_m >= FALL_LEAST_M and new.height_msl_m > picture.planned.site_msl_m:
            rate = fell_m / (new.time_utc - old.time_utc).total_seconds()
            takes_s = picture.planned.fall_takes_s(new.height_msl_m, old.height_msl_m)
            plan = fell_m / takes_s if takes_s > 0.0 else None
            if plan is not None:
                more = THIN_AIR * max(old.height_msl_m - THICK_BELOW_MSL_M, 0.0)
                warn, clear = limits.fast_descent
                by_rate = _sign(rate / plan, (warn + more, clear + more), above=True)
    if rate is None or plan is None:
        words = "" if chance is None else f"Canopy fouled with a chance of {chance:.0%}"
    else:
        words = f"Falls {rate:.1f} m/s, plan {plan:.1f} at this height"
    yield Symptom(
        WarningKind.FAST_DESCENT,
        Sign.YES if Sign.YES in (by_rate, by_chance) and words else Sign.BETWEEN if Sign.BETWEEN in (by_rate, by_chance) else Sign.NO,
        words,
        "Nobody under it: keep cars and people clear of the area, call the chase, look at the new touchdown speed.",
        "A canopy that is wrapped in the remnant or torn falls fast and lands hard and sooner.",
        rate,
        plan,
        "m/s",
    )  # fmt: skip


def _silence(picture: FlightPicture) -> Iterator[Symptom]:
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


def _report(picture: FlightPicture) -> Iterator[Symptom]:
    due = picture.descent_report_due_utc
    if due is None or _phase(picture) not in (Phase.ASCENT, Phase.FLOAT):
        yield Symptom(WarningKind.DESCENT_REPORT, Sign.NO)
        return
    left_s = (due - picture.now).total_seconds()
    ahead = picture.limits.report_ahead_s
    over = "" if left_s >= 0.0 else f", {say_duration(-left_s)} ago"
    yield Symptom(
        WarningKind.DESCENT_REPORT,
        _sign(-left_s, (-ahead, -1.5 * ahead), above=True),
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


def _clock(picture: FlightPicture) -> Iterator[Symptom]:
    estimate, limits = picture.estimate, picture.limits
    if estimate is None or not picture.history:
        yield Symptom(WarningKind.CLOCK, Sign.NO)
        return
    refused, believed = _over(picture, "clock_refused")
    late = {one.position_utc: one.lag_s for one in picture.history if one.looked_utc >= _since(picture)}
    # a single damaged stamp is no wrong clock
    lag_s = sorted(late.values(), key=abs)[-min(_LAGS, len(late))] if len(late) >= _LAGS else 0.0
    by_count = Sign.YES if refused >= limits.refused and refused >= believed else Sign.BETWEEN if refused else Sign.NO
    by_lag = _sign(abs(lag_s), limits.clock_s, above=True)
    words = f"{refused} fixes refused for their time" if by_count is Sign.YES else f"Positions {lag_s:.0f} s old when heard"
    yield Symptom(
        WarningKind.CLOCK,
        _worse(by_count, by_lag),
        words,
        "Compare this computer's clock with UTC; then ask whether a relay holds packets back.",
        "With a wrong clock ages, rates and arrival are wrong as well.",
        lag_s,
        limits.clock_s[0],
        "s",
    )  # fmt: skip


def _height(picture: FlightPicture) -> Iterator[Symptom]:
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
    stands = frozen >= limits.refused and frozen >= believed
    if stands:
        words = f"{frozen} fixes with a height that stands still"
    by_offset = _sign(abs(offset), limits.height_m, above=True)
    if by_offset is Sign.YES and estimate.phase is not Phase.GROUND and not estimate.apart:
        # the mean over the ground takes in the first of a slow climb: told on the ground only
        by_offset = Sign.BETWEEN
    yield Symptom(
        WarningKind.HEIGHT,
        _worse(Sign.YES if stands else Sign.BETWEEN if frozen else Sign.NO, by_offset),
        words,
        "Do not trust its height: compare with another tracker; reckon with the limit of its receiver.",
        "A height above the ellipsoid, a held height or a receiver at its limit looks like a flight that it is not.",
        offset,
        0.0,
        "m",
    )


def _worse(*signs: Sign) -> Sign:
    return next(sign for sign in (Sign.YES, Sign.BETWEEN, Sign.NO) if sign in signs)


def _box(picture: FlightPicture) -> Iterator[Symptom]:
    estimate, limits = picture.estimate, picture.limits
    chosen = None if estimate is None else estimate.chosen
    if chosen is None or _phase(picture) not in ALOFT:
        yield Symptom(WarningKind.POWER, Sign.NO)
        yield Symptom(WarningKind.COLD, Sign.NO)
        return
    volts = chosen.battery_v
    if volts is None:
        yield Symptom(WarningKind.POWER, Sign.UNKNOWN, "Battery: no packet tells its voltage")
    else:
        fullest = max((one.battery_v for one in picture.history if one.battery_v is not None), default=volts)
        least = limits.battery_share * fullest if limits.battery_least_v is None else limits.battery_least_v
        yield Symptom(
            WarningKind.POWER,
            _sign(volts, (least, 1.03 * least), above=False),
            f"Battery {volts:.2f} V, least {least:.2f}",
            "Expect silence: note position and course often, bring the chase nearer, lower the rate of packets if you can.",
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
        _sign(kelvin, (limits.payload_least_k, limits.payload_least_k + 3.0), above=False),
        f"{name.capitalize()} {kelvin - zero_celsius_k:.0f} °C, least {limits.payload_least_k - zero_celsius_k:.0f}",
        "Expect cameras and tracker to fail: bring the chase nearer, note every position.",
        "Cold cells give little current, and a restart may not come.",
        kelvin,
        limits.payload_least_k,
        "K",
    )


def _ahead(picture: FlightPicture) -> Iterator[Symptom]:
    limits, ahead = picture.limits, picture.ahead
    if _phase(picture) is Phase.LANDED:
        return
    for kind, chances, what, todo, why in (
        (WarningKind.AIRSPACE, ahead.airspace, "Chance to enter {}",
         "Tell the air traffic unit now; compare a cut-down before it.", "No permission of the plan covers it."),
        (WarningKind.BORDER, ahead.border, "Chance to land in{}",
         "Call the authority on the other side; compare a cut-down now. No car crosses without papers.",
         "Flight and recovery there need a permission of that country."),
        (WarningKind.PERMIT_AREA, ahead.permit_area, "Chance to leave the permit area{}",
         "Tell the authority; compare a cut-down now.", "The permission ends at its edge."),
    ):  # fmt: skip
        for one in chances:
            yield _chance(kind, one, limits.chance, what, todo, why)
    for one in ahead.hazard:
        before = one.before or 0.0
        symptom = _chance(
            WarningKind.HAZARD, one, limits.hazard, "Chance to land on{}",
            "A termination is worth considering: compare the area of a cut-down now. Keep people away, warn who is there.",
            "What lies under the landing area has changed for the worse since the release.",
        )  # fmt: skip
        risen = one.share is not None and one.share.p >= max(2.0 * before, before + 0.5 * limits.hazard[0])
        if symptom.sign is Sign.YES and not risen:
            yield Symptom(WarningKind.HAZARD, Sign.BETWEEN, subject=one.subject)
        else:
            yield symptom


def _chance(
    kind: WarningKind, one: ChanceAhead, pair: tuple[float, float], what: str, todo: str, why: str
) -> Symptom:  # fmt: skip
    if one.share is None:
        return Symptom(kind, Sign.UNKNOWN, f"{kind.value.capitalize()}: cannot be told, {one.why_not}", subject=one.subject)
    named = one.subject if kind is WarningKind.AIRSPACE else f" {one.subject}" if one.subject else ""
    first = "" if one.first_utc is None else f", from {one.first_utc:%H:%M}Z"
    before = "" if one.before is None else f", {one.before:.0%} at release"
    words = f"{what.format(named)} {one.share.p:.0%}{before}{first}, limit {pair[0]:.0%}"
    return Symptom(
        kind, _sign(one.share.p, pair, above=True), words, todo, why, one.share.p, pair[0], "1", one.subject
    )  # fmt: skip


def _phase(picture: FlightPicture) -> Phase | None:
    return None if picture.estimate is None else picture.estimate.phase
