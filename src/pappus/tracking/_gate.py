"""One fix after another: can it be true after the last one that was, and what does it say of the flight?"""

from __future__ import annotations

import math
from typing import NamedTuple

from pappus.tracking._climb import Climb, first_climb, next_climb
from pappus.tracking._limits import arc_m, east_north_m, height_change_possible, reach_m
from pappus.tracking._phase import Course, Phase, first_course, next_course, still_for_s
from pappus.tracking._point import Point
from pappus.tracking._reasons import Reason

CONFIRMED_AFTER = 3
"""Fixes in a row that agree before a place is taken for good; a later one must be in reach of the last."""
BEGIN_AGAIN_AFTER = 10
"""Fixes that agree among themselves and not with the track, before a track on the ground begins again."""
FROZEN_AFTER = 3
"""The very same height (to 5 cm) this often again, after a clear climb or fall, is a receiver at its limit."""
FROZEN_SAME_M = 0.05
FROZEN_LEAST_S = 5.0
FROZEN_RATE_M_S = 1.0
FROZEN_ABOVE_GROUND_M = 4000.0
"""Nearer the ground a height that stands still is a landing. Export limits stop receivers at 18 km, ground modes at 6,
9 and 12 km (common practice, no source)."""
STUCK_CLOCK_S = 30.0
STUCK_CLOCK_M = 2.0
"""Another place under the same stamp, heard half a minute after it: the clock no longer runs. Copies of one report
that came by a slow way tell the same place, but for rounding."""
STILL_S, STILL_RATE_M_S = 8.0, 1.0
"""For so long at the same place and height, and the filtered rate this small: no drift with the wind."""
PIECE_S = 5.0
"""Shortest time over which a drift is measured."""


class Candidate(NamedTuple):
    """A fix that may be true: what the gate needs of it."""

    time_s: float
    heard_s: float
    latitude_deg: float
    longitude_deg: float
    height_msl_m: float | None
    step_m: float


class Piece(NamedTuple):
    """Drift between two fixes at least five seconds apart."""

    start_s: float
    end_s: float
    start_msl_m: float
    end_msl_m: float
    east_m: float
    north_m: float
    phase: Phase
    step_m: float

    @property
    def low_msl_m(self) -> float:
        """The lower end."""
        return min(self.start_msl_m, self.end_msl_m)

    @property
    def high_msl_m(self) -> float:
        """The upper end."""
        return max(self.start_msl_m, self.end_msl_m)


class State(NamedTuple):
    """All that is remembered of the accepted fixes so far; values only, so that any of them can be gone back to."""

    last: Point
    last_height: Point | None
    """The last point with a height."""
    run: int
    """Accepted in a row since the track began."""
    rival: Point | None
    """The last refused place that might be the right one, and how many agree with it."""
    rival_run: int
    begun_again: int
    climb: Climb | None
    course: Course | None
    same_height: int
    same_since_s: float
    same_msl_m: float
    """Where the height began to stand still, else the last one; infinite before the second."""
    rate_before_m_s: float
    anchor: Point

    @property
    def phase(self) -> Phase:
        """Phase after this fix."""
        return Phase.NOT_KNOWN if self.course is None else self.course.phase


Verdict = Reason | None


def step(before: State | None, fix: Candidate, ground_msl_m: float | None) -> tuple[State, Verdict, Piece | None]:
    """Judge a fix that is not earlier than the last: the state after it, why it was refused, the drift it completes.

    :param ground_msl_m: height of the launch site, where known.
    """
    if before is None:
        return _begin(fix, 0), None, None
    why = _why_not(before, fix, ground_msl_m)
    if why is None:
        return _accept(before, fix)
    if why in (Reason.TOO_FAR, Reason.SWAPPED, Reason.HEIGHT_JUMP):
        return _consider_rival(before, fix, why)
    if why is Reason.HEIGHT_FROZEN:
        return before._replace(same_height=before.same_height + 1), why, None
    return before, why, None


def _point(fix: Candidate) -> Point:
    return Point(fix.time_s, fix.latitude_deg, fix.longitude_deg, fix.height_msl_m, fix.step_m)


def _begin(fix: Candidate, begun_again: int) -> State:
    point, height = _point(fix), fix.height_msl_m
    climb = None if height is None else first_climb(fix.time_s, height)
    course = None if climb is None else first_course(climb, point)
    with_height = None if height is None else point
    return State(
        point, with_height, 1, None, 0, begun_again, climb, course, 0, fix.time_s, math.inf, 0.0, point
    )  # fmt: skip


def in_reach(before: Point, fix: Candidate) -> Reason | None:
    """Whether a balloon can have come from one point to the other."""
    seconds = fix.time_s - before.time_s
    heights = [h for h in (before.height_msl_m, fix.height_msl_m) if h is not None]
    reach = reach_m(seconds, max(heights) if heights else None, before.step_m + fix.step_m)
    distance = arc_m(before.latitude_deg, before.longitude_deg, fix.latitude_deg, fix.longitude_deg)
    if distance > reach:
        mirrored = math.inf
        if abs(fix.longitude_deg) <= 90.0:
            mirrored = arc_m(before.latitude_deg, before.longitude_deg, fix.longitude_deg, fix.latitude_deg)
        return Reason.SWAPPED if mirrored <= reach else Reason.TOO_FAR
    return None


def _why_not(before: State, fix: Candidate, ground_msl_m: float | None) -> Verdict:
    last = before.last
    why = in_reach(last, fix)
    if fix.time_s - last.time_s < 1e-3 and fix.heard_s - last.time_s > STUCK_CLOCK_S:
        moved = arc_m(last.latitude_deg, last.longitude_deg, fix.latitude_deg, fix.longitude_deg)
        if moved > STUCK_CLOCK_M + last.step_m + fix.step_m:
            return Reason.CLOCK_STANDS_STILL
    if why is not None:
        return why
    height, with_height = fix.height_msl_m, before.last_height
    if height is None or with_height is None or with_height.height_msl_m is None:
        return None
    if not height_change_possible(fix.time_s - with_height.time_s, with_height.height_msl_m, height):
        return Reason.HEIGHT_JUMP
    same = abs(height - before.same_msl_m) <= FROZEN_SAME_M
    if (
        same
        and before.same_height + 1 >= FROZEN_AFTER
        and abs(before.rate_before_m_s) >= FROZEN_RATE_M_S
        and fix.time_s - before.same_since_s >= FROZEN_LEAST_S
        and height > (ground_msl_m or 0.0) + FROZEN_ABOVE_GROUND_M
    ):
        return Reason.HEIGHT_FROZEN
    return None


def _consider_rival(before: State, fix: Candidate, why: Reason) -> tuple[State, Verdict, Piece | None]:
    """Refused, unless the track itself stands on fewer fixes than the place that it refuses."""
    rival, agrees = before.rival, False
    if rival is not None and fix.time_s - rival.time_s <= 120.0:
        heights = rival.height_msl_m, fix.height_msl_m
        # no height is None where the second half is asked
        possible = None in heights or height_change_possible(fix.time_s - rival.time_s, *heights)  # type: ignore[arg-type]
        agrees = possible and in_reach(rival, fix) is None
    run = before.rival_run + 1 if agrees else 1
    begins = run > before.run if before.run < CONFIRMED_AFTER else False
    if before.run >= CONFIRMED_AFTER and before.phase in (Phase.NOT_KNOWN, Phase.GROUND):
        begins = run >= BEGIN_AGAIN_AFTER
    if begins and why is not Reason.SWAPPED:
        return _begin(fix, before.begun_again + 1)._replace(run=run), None, None
    return before._replace(rival=_point(fix), rival_run=run), why, None


def _accept(before: State, fix: Candidate) -> tuple[State, Verdict, Piece | None]:
    point, height = _point(fix), fix.height_msl_m
    anchor, piece = before.anchor, None
    if fix.time_s - anchor.time_s >= PIECE_S:
        piece = _piece(anchor, point, _drifting(before))
        anchor = point
    after = before._replace(
        last=point, run=before.run + 1, rival=None, rival_run=0, anchor=anchor
    )  # fmt: skip
    if height is None:
        return after, None, piece
    if before.climb is None or before.course is None or before.last_height is None:
        climb = first_climb(fix.time_s, height)
        return after._replace(last_height=point, climb=climb, course=first_course(climb, point)), None, piece
    climb = next_climb(before.climb, fix.time_s, height)
    course = next_course(before.course, climb, point, fix.time_s - before.climb.time_s)
    same, since, still_msl, rate = (
        before.same_height, before.same_since_s, before.same_msl_m, before.rate_before_m_s,
    )  # fmt: skip
    if abs(height - still_msl) <= FROZEN_SAME_M:
        same += 1
    else:
        same, since, still_msl, rate = 0, fix.time_s, height, climb.rate_m_s
    after = after._replace(
        last_height=point, climb=climb, course=course, same_height=same, same_since_s=since,
        same_msl_m=still_msl, rate_before_m_s=rate,
    )  # fmt: skip
    return after, None, piece


def _drifting(state: State) -> Phase:
    """The phase for the winds: a box that lies still says nothing of them, even before it is called landed."""
    course, climb = state.course, state.climb
    if course is None or climb is None or state.phase is Phase.FLOAT:
        return state.phase
    still = still_for_s(course, climb.time_s) >= STILL_S and abs(climb.rate_m_s) < STILL_RATE_M_S
    return Phase.GROUND if still else state.phase


def _piece(start: Point, end: Point, phase: Phase) -> Piece | None:
    if start.height_msl_m is None or end.height_msl_m is None:
        return None
    begin, until = start.height_msl_m, end.height_msl_m
    east, north = east_north_m(
        start.latitude_deg, start.longitude_deg, end.latitude_deg, end.longitude_deg, 0.5 * (begin + until)
    )
    return Piece(start.time_s, end.time_s, begin, until, east, north, phase, max(start.step_m, end.step_m))
