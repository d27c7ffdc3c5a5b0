"""Warnings of how the balloon climbs and falls."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from pappus.inflight.warnings._condition import Sign, Symptom, phase_of, sign_of, worse
from pappus.inflight.warnings._kinds import WarningKind
from pappus.inflight.warnings._picture import FlightPicture, Past
from pappus.tracking import Phase

OPENING_S = 60.0
"""After the burst the train falls faster than its canopy lets it, until the air is dense enough (common practice)."""
THICK_BELOW_MSL_M, THIN_AIR = 12_000.0, 3e-5
"""Above, sound canopies differ more from one to the next: their exponents do. The limit grows by so much a metre."""
UP_TO = 0.85
"""Of the planned top: above, sound balloons differ more, and little of the climb is left to be long."""
SEEN_FOR_S, SEEN_WITHIN_S = 120.0, 600.0
"""The climb must have been seen for so long within so long before its end."""
FALL_LEAST_M = 200.0
"""Fall over which a rate is told."""


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


def climb(picture: FlightPicture) -> Iterator[Symptom]:
    limits = picture.limits
    pair = _heights(picture, limits.climb_over_s, (Phase.ASCENT,))
    if pair is None:
        yield Symptom(WarningKind.SLOW_CLIMB, Sign.BETWEEN if phase_of(picture) is Phase.ASCENT else Sign.NO)
        return
    old, new = pair
    assert old.height_msl_m is not None
    assert new.height_msl_m is not None
    took_s = (new.time_utc - old.time_utc).total_seconds()
    rise_m = new.height_msl_m - old.height_msl_m
    takes_s = picture.planned.climb_takes_s(old.height_msl_m, new.height_msl_m)
    if new.height_msl_m > UP_TO * picture.planned.top_msl_m or rise_m <= 0.0 or takes_s <= 0.0:
        sign, planned = (Sign.NO, None) if rise_m > 0.0 else (Sign.BETWEEN, None)
        yield Symptom(WarningKind.SLOW_CLIMB, sign, against=planned)
        return
    rate, plan = rise_m / took_s, rise_m / takes_s
    lately = takes_s / took_s
    so_far = max(_share_so_far(picture, new), lately)
    yield Symptom(
        WarningKind.SLOW_CLIMB,
        worse(sign_of(lately, limits.much_slower, above=False), sign_of(so_far, limits.slow_climb, above=False)),
        f"Climb {rate:.1f} m/s, plan {plan:.1f}",
        "Expect a long flight: check the 90 % area, call the chase.",
        "A slow balloon stays longer in every wind and bursts later, if it bursts.",
        rate,
        plan,
        "m/s",
    )


def _share_so_far(picture: FlightPicture, new: Past) -> float:
    """Of the planned mean climb since the release; nothing where nobody knows when that was."""
    estimate, planned = picture.estimate, picture.planned
    if estimate is None or estimate.release_utc is None or new.height_msl_m is None:
        return 0.0
    took_s = (new.time_utc - estimate.release_utc).total_seconds()
    return planned.climb_takes_s(planned.site_msl_m, new.height_msl_m) / max(took_s, 1.0)


def floats(picture: FlightPicture) -> Iterator[Symptom]:
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


def early_burst(picture: FlightPicture) -> Iterator[Symptom]:
    estimate = picture.estimate
    start = None if estimate is None else estimate.fall_start
    if estimate is None or start is None or estimate.phase is not Phase.DESCENT:
        yield Symptom(WarningKind.EARLY_BURST, Sign.NO)
        return
    planned = picture.planned
    before = start.time_utc - timedelta(seconds=SEEN_WITHIN_S)
    climbs = (Phase.ASCENT, Phase.FLOAT)
    rising = [
        one.time_utc for one in picture.history if one.phase in climbs and before <= one.time_utc < start.time_utc
    ]
    if start.height_msl_m >= planned.burst_low_msl_m:
        sign = Sign.NO
    elif not rising:
        sign = Sign.BETWEEN
    else:
        # after a silence only the fall is seen, and nobody knows from where
        seen_s = (rising[-1] - rising[0]).total_seconds()
        sign = Sign.YES if seen_s >= SEEN_FOR_S else Sign.NO
    yield Symptom(
        WarningKind.EARLY_BURST,
        sign,
        f"Climb ended at {start.height_msl_m / 1000:.1f} km, plan {planned.top_msl_m / 1000:.1f} km",
        "It lands sooner and nearer: look at the new area, send the chase, give the descent report at once.",
        "Burst or cut-down far below the plan: the planned landing area is void.",
        start.height_msl_m,
        planned.top_msl_m,
        "m",
        began_utc=start.time_utc,
    )


def fall(picture: FlightPicture) -> Iterator[Symptom]:
    estimate, limits = picture.estimate, picture.limits
    start = None if estimate is None else estimate.fall_start
    if phase_of(picture) is not Phase.DESCENT or estimate is None:
        yield Symptom(WarningKind.FAST_DESCENT, Sign.NO)
        return
    pair = _heights(picture, limits.fall_over_s, (Phase.DESCENT,))
    chance = None if picture.prediction is None else picture.prediction.fouled.p
    by_chance = Sign.NO
    if chance is not None and picture.prediction is not None and picture.prediction.phase is Phase.DESCENT:
        by_chance = sign_of(chance, limits.fouled_chance, above=True)
    rate = plan = None
    by_rate = Sign.BETWEEN
    if pair is not None:
        old, new = pair
        opened = start is None or (old.time_utc - start.time_utc).total_seconds() >= OPENING_S
        assert old.height_msl_m is not None
        assert new.height_msl_m is not None
        fell_m = old.height_msl_m - new.height_msl_m
        if opened and fell_m >= FALL_LEAST_M and new.height_msl_m > picture.planned.site_msl_m:
            rate = fell_m / (new.time_utc - old.time_utc).total_seconds()
            takes_s = picture.planned.fall_takes_s(new.height_msl_m, old.height_msl_m)
            plan = fell_m / takes_s if takes_s > 0.0 else None
            if plan is not None:
                more = THIN_AIR * max(old.height_msl_m - THICK_BELOW_MSL_M, 0.0)
                warn, clear = limits.fast_descent
                by_rate = sign_of(rate / plan, (warn + more, clear + more), above=True)
    fell = "" if rate is None or plan is None else f"{rate:.1f} m/s, plan {plan:.1f} at this height"
    words = f"Falls {fell}" if fell else ""
    if chance is not None and (not fell or (by_chance is Sign.YES and by_rate is not Sign.YES)):
        # the rate of now may be that of a sound canopy: then the whole fall speaks against it
        words = f"Canopy fouled with a chance of {chance:.0%} by its fall so far{f'; now {fell}' if fell else ''}"
    yield Symptom(
        WarningKind.FAST_DESCENT,
        worse(by_rate, by_chance) if words else Sign.BETWEEN,
        words,
        "Nobody under it: keep cars and people clear of the area, call the chase, look at the new touchdown speed.",
        "A canopy that is wrapped in the remnant or torn falls fast and lands hard and sooner.",
        rate,
        plan,
        "m/s",
    )  # fmt: skip
