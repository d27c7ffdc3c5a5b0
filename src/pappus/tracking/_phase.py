"""Where in the flight the balloon is, told from its climb and drift alone."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

from pappus.tracking._climb import Climb


class Phase(StrEnum):
    """Parts of a flight, in their usual order."""

    NOT_KNOWN = "not known"
    GROUND = "on the ground"
    ASCENT = "ascent"
    FLOAT = "float"
    DESCENT = "descent"
    LANDED = "landed"


CLEARLY_M_S = 1.0
"""Rising or falling is clear when the rate beats this by two standard deviations. Common practice, no source."""
STILL_RATE_M_S = 0.7
STILL_SPEED_M_S = 2.5
"""On the ground the positions wander by noise only; a payload drifting on water moves slower than this as well."""
STILL_HEIGHT_M = 30.0
LANDED_AFTER_S = 20.0
FLOAT_AFTER_S = 180.0
RELEASE_RISE_M = 40.0
"""Above the ground before a climb is believed: five times the noise of one height."""
FELL_M = 30.0
"""Below the highest before a fall is believed."""
CAR_TOP_M = 600.0
"""A climb that ends below this over the start, standing still, was a car on a hill and no flight."""
FAR_FALL_M = 500.0
"""A balloon that lost this much height since it stopped climbing is on its way down, however slowly."""


class Course(NamedTuple):
    """What the phase is told from; one per accepted fix."""

    phase: Phase
    since_s: float
    hits: int
    """Fixes in a row that speak for the next phase."""
    seen: int
    """Heights so far."""
    ground_msl_m: float | None
    """Mean height while it stood on the ground before the flight."""
    ground_count: int
    top_msl_m: float
    """Highest so far."""
    top_s: float
    still_s: float | None
    """Since when neither height nor place has changed."""
    still_msl_m: float
    level_s: float | None
    """Since when the rate has been small."""
    release_s: float | None
    release_rough_s: float | None
    not_falling_s: float
    """The last time when no fall was clear."""
    descent_s: float | None
    """When the descent was noticed."""
    landed_s: float | None


def first_course(climb: Climb) -> Course:
    """After the first height."""
    t, h = climb.time_s, climb.height_msl_m
    return Course(Phase.NOT_KNOWN, t, 0, 1, None, 0, h, t, None, h, None, None, None, t, None, None)


def next_course(before: Course, climb: Climb, height_msl_m: float, speed_m_s: float | None) -> Course:
    """After one more height.

    :param speed_m_s: over the ground, lately; None when not known yet.
    """
    t, h, rate = climb.time_s, climb.height_msl_m, climb.rate_m_s
    sd = climb.rate_var_m2_s2**0.5
    rising, falling = rate - 2.0 * sd > CLEARLY_M_S, rate + 2.0 * sd < -CLEARLY_M_S
    after = before._replace(seen=before.seen + 1)
    if h > before.top_msl_m:
        after = after._replace(top_msl_m=h, top_s=t)
    if not falling and before.phase is not Phase.DESCENT:
        after = after._replace(not_falling_s=t)
    level = abs(rate) < STILL_RATE_M_S and sd < STILL_RATE_M_S
    after = after._replace(level_s=(before.level_s if before.level_s is not None else t) if level else None)
    still = level and (speed_m_s is not None and speed_m_s < STILL_SPEED_M_S)
    if not still or before.still_s is None or abs(h - before.still_msl_m) > STILL_HEIGHT_M:
        after = after._replace(still_s=t if still else None, still_msl_m=h)
    return _STEPS[before.phase](after, climb, height_msl_m, rising, falling)


def _still_for(course: Course, now_s: float) -> float:
    return -1.0 if course.still_s is None else now_s - course.still_s


def _to(course: Course, phase: Phase, since_s: float) -> Course:
    return course._replace(phase=phase, since_s=since_s, hits=0)


def _not_known(course: Course, climb: Climb, height_msl_m: float, rising: bool, falling: bool) -> Course:
    if rising or falling:
        if course.hits < 1:
            return course._replace(hits=course.hits + 1)
        return _to(course, Phase.ASCENT if rising else Phase.DESCENT, climb.time_s)
    if _still_for(course, climb.time_s) >= 0.5 * LANDED_AFTER_S:
        return _on_ground(_to(course, Phase.GROUND, climb.time_s), height_msl_m)
    if course.level_s is not None and climb.time_s - course.level_s >= FLOAT_AFTER_S:
        return _to(course, Phase.FLOAT, course.level_s)
    return course._replace(hits=0)


def _on_ground(course: Course, height_msl_m: float) -> Course:
    """The mean ground height, forgetting after a hundred fixes: the crew may drive on."""
    count = min(course.ground_count + 1, 100)
    mean = height_msl_m if course.ground_msl_m is None else course.ground_msl_m
    return course._replace(ground_msl_m=mean + (height_msl_m - mean) / count, ground_count=count)


def _ground(course: Course, climb: Climb, height_msl_m: float, rising: bool, falling: bool) -> Course:
    ground = course.ground_msl_m
    assert ground is not None
    if rising and climb.height_msl_m > ground + RELEASE_RISE_M:
        if course.hits < 1:
            return course._replace(hits=course.hits + 1)
        released = climb.time_s - (climb.height_msl_m - ground) / climb.rate_m_s
        return _to(course, Phase.ASCENT, climb.time_s)._replace(
            release_s=released, release_rough_s=released, top_msl_m=climb.height_msl_m, top_s=climb.time_s
        )
    if rising:
        return course
    return _on_ground(course._replace(hits=0), height_msl_m)


def _ascent(course: Course, climb: Climb, height_msl_m: float, rising: bool, falling: bool) -> Course:
    t, h = climb.time_s, climb.height_msl_m
    ground = course.ground_msl_m
    course = _sharper_release(course, climb)
    if falling and h < course.top_msl_m - FELL_M:
        if course.hits < 1:
            return course._replace(hits=1)
        return _to(course, Phase.DESCENT, t)._replace(descent_s=t)
    if _still_for(course, t) >= LANDED_AFTER_S:
        if course.top_msl_m - h > FAR_FALL_M:
            # it came down while nobody heard it
            return _to(course, Phase.LANDED, t)._replace(landed_s=course.still_s)
        if ground is not None and course.top_msl_m < ground + CAR_TOP_M and _still_for(course, t) >= 60.0:
            back = _to(course, Phase.GROUND, t)._replace(ground_msl_m=h, ground_count=1)
            return back._replace(release_s=None, release_rough_s=None)
    if course.level_s is not None and t - course.level_s >= FLOAT_AFTER_S:
        return _to(course, Phase.FLOAT, course.level_s)
    return course._replace(hits=0)


def _sharper_release(course: Course, climb: Climb) -> Course:
    """The line of the first minute of climb, drawn back to the ground."""
    rough, ground = course.release_rough_s, course.ground_msl_m
    if rough is None or ground is None or climb.time_s - rough > 60.0 or climb.rate_m_s < CLEARLY_M_S:
        return course
    # mean rate since the rough release: the filter still remembers the ground
    back = (climb.height_msl_m - ground) / max(climb.rate_m_s, CLEARLY_M_S)
    return course._replace(release_s=climb.time_s - back)


def _float(course: Course, climb: Climb, height_msl_m: float, rising: bool, falling: bool) -> Course:
    h = climb.height_msl_m
    lost = course.top_msl_m - h
    if (falling and lost > FELL_M) or (lost > FAR_FALL_M and climb.rate_m_s < 0):
        if course.hits < 1:
            return course._replace(hits=1)
        return _to(course, Phase.DESCENT, climb.time_s)._replace(descent_s=climb.time_s)
    if rising:
        if course.hits < 1:
            return course._replace(hits=1)
        return _to(course, Phase.ASCENT, climb.time_s)
    return course._replace(hits=0)


def _descent(course: Course, climb: Climb, height_msl_m: float, rising: bool, falling: bool) -> Course:
    t = climb.time_s
    if _still_for(course, t) >= LANDED_AFTER_S:
        return _to(course, Phase.LANDED, t)._replace(landed_s=course.still_s)
    if rising:
        if course.hits < 3:
            return course._replace(hits=course.hits + 1)
        return _to(course, Phase.ASCENT, t)._replace(descent_s=None)
    return course._replace(hits=0)


def _landed(course: Course, climb: Climb, height_msl_m: float, rising: bool, falling: bool) -> Course:
    if falling or rising:
        if course.hits < 2:
            return course._replace(hits=course.hits + 1)
        # it had only paused, in a tree or a thermal
        return _to(course, Phase.DESCENT if falling else Phase.ASCENT, climb.time_s)._replace(landed_s=None)
    return course._replace(hits=0)


_STEPS = {
    Phase.NOT_KNOWN: _not_known,
    Phase.GROUND: _ground,
    Phase.ASCENT: _ascent,
    Phase.FLOAT: _float,
    Phase.DESCENT: _descent,
    Phase.LANDED: _landed,
}
