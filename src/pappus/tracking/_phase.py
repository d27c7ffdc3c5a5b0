"""Where in the flight the balloon is, told from its climb and drift alone."""

from __future__ import annotations

import math
from enum import StrEnum
from typing import NamedTuple

from pappus.tracking._climb import Climb
from pappus.tracking._limits import arc_m
from pappus.tracking._point import Point


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
STILL_SPEED_M_S = 2.5
"""On the ground the positions wander by noise only; a payload drifting on water moves slower than this as well."""
STILL_PLACE_M = 25.0
STILL_HEIGHT_M, STILL_HEIGHT_SDS = 30.0, 4.0
"""It stands still while its heights stay within this, or within four standard deviations of their noise."""
LANDED_AFTER_S, SLOWEST_FALL_M_S = 20.0, 1.5
"""Standing still for so long after a flight is a landing; where the heights are noisy, for as long as even a slow fall
needs to show."""
FEWEST_STILL = 3
FLOAT_AFTER_S, FLOAT_HEIGHT_M = 180.0, 100.0
"""A float: no more change of height than this in the time, 0.55 m/s at most."""
FLOAT_GAP_S = 150.0
"""In a longer silence it may have risen, burst and come by this height again."""
RELEASE_RISE_M, SURE_RISE_M = 40.0, 150.0
"""Above the ground before a climb is believed: five times the noise of one height; from the other on, even where fixes
are too far apart to tell the rate well."""
FELL_M, SURE_FALL_M = 30.0, 300.0
"""Below the highest before a fall is believed, likewise."""
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
    first_msl_m: float
    ground_msl_m: float | None
    """Mean height while it stood on the ground before the flight."""
    ground_count: int
    top_msl_m: float
    """Highest so far."""
    top_s: float
    still: Point
    """Since when neither height nor place has changed."""
    still_count: int
    level_s: float
    """Since when the height has hardly changed."""
    level_msl_m: float
    release_s: float | None
    release_rough_s: float | None
    not_falling_s: float
    """The last time when no fall was clear."""
    descent_s: float | None
    """When the descent was noticed."""
    landed_s: float | None


def first_course(climb: Climb, point: Point) -> Course:
    """After the first height."""
    t, h = climb.time_s, climb.height_msl_m
    return Course(Phase.NOT_KNOWN, t, 0, h, None, 0, h, t, point, 1, t, h, None, None, t, None, None)


def still_for_s(course: Course, now_s: float) -> float:
    """How long neither height nor place has changed."""
    return now_s - course.still.time_s


def next_course(before: Course, climb: Climb, point: Point, gap_s: float) -> Course:
    """After one more height, that of ``point``, ``gap_s`` after the last."""
    t, h, rate = climb.time_s, climb.height_msl_m, climb.rate_m_s
    sd = climb.rate_var_m2_s2**0.5
    rising, falling = rate - 2.0 * sd > CLEARLY_M_S, rate + 2.0 * sd < -CLEARLY_M_S
    after = _watch_still(before, climb, point, gap_s)
    if h > before.top_msl_m:
        after = after._replace(top_msl_m=h, top_s=t)
    if not falling and before.phase is not Phase.DESCENT:
        after = after._replace(not_falling_s=t)
    after = _STEPS[before.phase](after, climb, rising, falling)
    if after.phase is Phase.ASCENT and before.phase is not Phase.ASCENT:
        # what stood on the ground has not floated
        after = after._replace(level_s=t, level_msl_m=h)
    return after


def _still_height_m(climb: Climb) -> float:
    return max(STILL_HEIGHT_M, STILL_HEIGHT_SDS * math.sqrt(climb.noise_var_m2))


def _watch_still(course: Course, climb: Climb, point: Point, gap_s: float) -> Course:
    """Keep or renew the moments since when it has stood still, and since when it has kept its height."""
    still, height = course.still, climb.measured_msl_m
    assert still.height_msl_m is not None
    moved = arc_m(still.latitude_deg, still.longitude_deg, point.latitude_deg, point.longitude_deg)
    near = STILL_PLACE_M + still.step_m + point.step_m + STILL_SPEED_M_S * (point.time_s - still.time_s)
    if moved <= near and abs(height - still.height_msl_m) <= _still_height_m(climb):
        course = course._replace(still_count=course.still_count + 1)
    else:
        course = course._replace(still=point, still_count=1)
    if abs(climb.height_msl_m - course.level_msl_m) > FLOAT_HEIGHT_M or gap_s > FLOAT_GAP_S:
        course = course._replace(level_s=climb.time_s, level_msl_m=climb.height_msl_m)
    return course


def _has_stopped(course: Course, climb: Climb, part: float = 1.0) -> bool:
    """Standing still for long enough to call it so; ``part`` of that where less is at stake."""
    needs_s = part * max(LANDED_AFTER_S, _still_height_m(climb) / SLOWEST_FALL_M_S)
    return course.still_count >= FEWEST_STILL and still_for_s(course, climb.time_s) >= needs_s


def _to(course: Course, phase: Phase, since_s: float) -> Course:
    return course._replace(phase=phase, since_s=since_s, hits=0)


def _not_known(course: Course, climb: Climb, rising: bool, falling: bool) -> Course:
    t = climb.time_s
    if _has_stopped(course, climb, 0.5):
        return _on_ground(_to(course, Phase.GROUND, t), climb)
    if rising or falling:
        moved = abs(climb.height_msl_m - course.first_msl_m)
        if course.hits < 2 or moved < max(RELEASE_RISE_M, _still_height_m(climb)):
            return course._replace(hits=course.hits + 1)
        return _to(course, Phase.ASCENT if rising else Phase.DESCENT, t)
    if t - course.level_s >= FLOAT_AFTER_S:
        return _to(course, Phase.FLOAT, course.level_s)
    return course._replace(hits=0)


def _on_ground(course: Course, climb: Climb) -> Course:
    """The mean ground height, forgetting after a hundred fixes: the crew may drive on."""
    height, count = climb.measured_msl_m, min(course.ground_count + 1, 100)
    mean = height if course.ground_msl_m is None else course.ground_msl_m
    return course._replace(ground_msl_m=mean + (height - mean) / count, ground_count=count)


def _ground(course: Course, climb: Climb, rising: bool, falling: bool) -> Course:
    ground, h, rate = course.ground_msl_m, climb.height_msl_m, climb.rate_m_s
    assert ground is not None
    sure = h > ground + max(SURE_RISE_M, 2.0 * _still_height_m(climb)) and rate > CLEARLY_M_S
    if (rising and h > ground + RELEASE_RISE_M) or sure:
        if course.hits < 1:
            return course._replace(hits=1)
        released = climb.time_s - (h - ground) / rate
        return _to(course, Phase.ASCENT, climb.time_s)._replace(
            release_s=released, release_rough_s=released, top_msl_m=h, top_s=climb.time_s
        )
    if rising:
        return course
    return _on_ground(course._replace(hits=0), climb)


def _ascent(course: Course, climb: Climb, rising: bool, falling: bool) -> Course:
    t, h, ground = climb.time_s, climb.height_msl_m, course.ground_msl_m
    course = _sharper_release(course, climb)
    sure = climb.rate_m_s < -CLEARLY_M_S and h < course.top_msl_m - SURE_FALL_M
    if (falling and h < course.top_msl_m - FELL_M) or sure:
        if course.hits < 1:
            return course._replace(hits=1)
        return _to(course, Phase.DESCENT, t)._replace(descent_s=t)
    if _has_stopped(course, climb):
        if course.top_msl_m - h > FAR_FALL_M:
            # it came down while nobody heard it
            return _to(course, Phase.LANDED, t)._replace(landed_s=course.still.time_s)
        if ground is not None and course.top_msl_m < ground + CAR_TOP_M and _has_stopped(course, climb, 3.0):
            back = _to(course, Phase.GROUND, t)._replace(ground_msl_m=h, ground_count=1)
            return back._replace(release_s=None, release_rough_s=None)
    if t - course.level_s >= FLOAT_AFTER_S:
        return _to(course, Phase.FLOAT, course.level_s)
    return course._replace(hits=0)


def _sharper_release(course: Course, climb: Climb) -> Course:
    """The line of the first minute of climb, drawn back to the ground."""
    rough, ground = course.release_rough_s, course.ground_msl_m
    if rough is None or ground is None or climb.time_s - rough > 60.0 or climb.rate_m_s < CLEARLY_M_S:
        return course
    return course._replace(release_s=climb.time_s - (climb.height_msl_m - ground) / climb.rate_m_s)


def _float(course: Course, climb: Climb, rising: bool, falling: bool) -> Course:
    lost = course.top_msl_m - climb.height_msl_m
    if (falling and lost > FELL_M) or (lost > FAR_FALL_M and climb.rate_m_s < 0):
        if course.hits < 1:
            return course._replace(hits=1)
        return _to(course, Phase.DESCENT, climb.time_s)._replace(descent_s=climb.time_s)
    if rising:
        if course.hits < 1:
            return course._replace(hits=1)
        return _to(course, Phase.ASCENT, climb.time_s)
    return course._replace(hits=0)


def _descent(course: Course, climb: Climb, rising: bool, falling: bool) -> Course:
    t = climb.time_s
    if _has_stopped(course, climb):
        return _to(course, Phase.LANDED, t)._replace(landed_s=course.still.time_s)
    if rising and climb.height_msl_m > course.level_msl_m:
        if course.hits < 3:
            return course._replace(hits=course.hits + 1)
        return _to(course, Phase.ASCENT, t)._replace(descent_s=None)
    return course._replace(hits=0)


def _landed(course: Course, climb: Climb, rising: bool, falling: bool) -> Course:
    if (falling or rising) and course.still_count < FEWEST_STILL:
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
