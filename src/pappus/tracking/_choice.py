"""Several trackers on one flight: one is chosen, the others are set beside it; nothing is ever averaged."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from pappus.tracking._gate import CONFIRMED_AFTER
from pappus.tracking._limits import arc_m
from pappus.tracking._phase import Phase
from pappus.tracking._track import Track

STALE_S = 30.0
"""A tracker whose newest fix is this much older than the newest of any is not chosen while another is there."""
AGREE_M = 100.0
"""Two trackers of one train at the same moment: noise of both, and a line of some tens of metres between them."""
COMPARE_WITHIN_S = 60.0
HEIGHT_COMPARISONS = 100
MOST_COMPARED = 8
"""No train carries more trackers; so many are a shared channel without callsigns given."""


class Compared(NamedTuple):
    """Two trackers at one moment."""

    time_s: float
    distance_m: float
    agrees: bool
    height_apart_m: float | None


def compare(track: Track, other: Track) -> Compared | None:
    """Where ``other`` stood against ``track`` at the newest moment that both tell; None where there is none.

    The one with the later fix is drawn back, between its own fixes, to the moment of the other's newest.
    """
    own, its = track.state, other.state
    if own is None or its is None:
        return None
    time_s = min(own.last.time_s, its.last.time_s)
    here, there = track.place_at(time_s), other.place_at(time_s)
    if here is None or there is None:
        return None
    distance = arc_m(here.latitude_deg, here.longitude_deg, there.latitude_deg, there.longitude_deg)
    heights = here.height_msl_m, there.height_msl_m
    height = None if heights[0] is None or heights[1] is None else heights[1] - heights[0]
    return Compared(time_s, distance, distance <= AGREE_M + here.step_m + there.step_m, height)


def choose(tracks: Sequence[Track], chosen: Track | None) -> Track | None:
    """The freshest checked tracker that is consistent with flight physics.

    Consistent: its newest fixes were accepted, three or more in a row where any tracker has so many. Where one has been
    in the air, those that tell heights and never left the ground are out: a spare one in a car. Fresh: its newest
    fix is at most half a minute older than the newest of any. Among those: the one that most others agree with, then a
    checked one, then the one chosen before (so that two good ones do not take turns), then the one with more fixes.
    """
    able = [track for track in tracks if track.state is not None and track.newest is not None]
    if len(able) < 2:
        return able[0] if able else None
    sure = [track for track in able if _run(track) >= CONFIRMED_AFTER] or able
    if any(_has_flown(track) for track in sure):
        sure = [track for track in sure if _has_flown(track) is not False]
    newest = max(_newest_s(track) for track in sure)
    fresh = [track for track in sure if newest - _newest_s(track) <= STALE_S]
    if len(fresh) == 1:
        return fresh[0]

    def rank(track: Track) -> tuple[int, bool, bool, int, str]:
        friends = 0
        if 2 < len(fresh) <= MOST_COMPARED:
            for other in fresh:
                compared = compare(track, other) if other is not track else None
                friends += compared is not None and compared.agrees
        assert track.newest is not None
        return friends, track.newest.checked, track is chosen, track.accepted, track.tracker

    return max(fresh, key=rank)


def _has_flown(track: Track) -> bool | None:
    """None where it tells no heights."""
    course = None if track.state is None else track.state.course
    if course is None:
        return None
    return course.phase in (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT) or course.descent_s is not None


def _run(track: Track) -> int:
    return 0 if track.state is None else track.state.run


def _newest_s(track: Track) -> float:
    return 0.0 if track.state is None else track.state.last.time_s
