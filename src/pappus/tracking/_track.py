"""The fixes of one tracker, sorted by the time they were measured, however they arrive."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator
from dataclasses import fields, replace
from typing import Any

from pappus.tracking._burst import SETTLED_S, FallStart, fit_fall_start
from pappus.tracking._fix import Fix
from pappus.tracking._gate import STUCK_CLOCK_S, Candidate, Piece, State, Verdict, in_reach, step
from pappus.tracking._phase import Phase
from pappus.tracking._point import Point
from pappus.tracking._reasons import Reason
from pappus.tracking._winds import LayerKey, LayerSums, WindLayer, add_pieces, wind_layer, with_pieces

LATE_S = 120.0
"""A fix that comes this long after a newer one is still sorted in, and all that follows it is judged again."""
FEWEST_KEPT = 12
"""Fixes kept open however old they are, for trackers that speak once a minute."""
MOST_KEPT = 2000
"""Fixes kept open at most; what is older is settled, so that a flood cannot fill the memory."""
REMEMBERED = 4096
"""Settled fixes whose repeats are still known as such."""
_FIX_FIELDS = tuple(field.name for field in fields(Fix))
FLOWN_STEP_S = 5.0
FLOWN_MOST = 20_000
"""Points of the flown path kept; every other one is dropped when they are more."""


class Entry:
    """A fix at its place in time, what was thought of it, and the state after it."""

    __slots__ = ("candidate", "fix", "piece", "state", "verdict")

    def __init__(self, candidate: Candidate, fix: Fix) -> None:
        self.candidate = candidate
        self.fix = fix
        self.state: State | None = None
        self.verdict: Verdict = None
        self.piece: Piece | None = None


class Track:
    """One tracker's fixes.

    Everything newer than ``LATE_S`` before the newest stays open; a late fix is put in its place there and what
    follows is judged again from the state before it. What is older is settled: it is added to the winds and the flown
    path and forgotten.
    """

    def __init__(self, tracker: str, ground_msl_m: float | None) -> None:
        self.tracker = tracker
        self._ground_msl_m = ground_msl_m
        self._entries: list[Entry] = []
        self._keys: list[tuple[float, float]] = []
        self._settled_state: State | None = None
        self._settled_until_s = -float("inf")
        self._sums: dict[LayerKey, LayerSums] = {}
        self._layers: dict[LayerKey, WindLayer] = {}
        self._open_layers: set[LayerKey] = set()
        """Layers that have changed since they were last worked out."""
        self._winds: tuple[WindLayer, ...] = ()
        self._winds_of: tuple[Piece | None, int, int] = (None, 0, 0)
        self._sorted_in = 0
        self._known: dict[tuple[object, ...], None] = {}
        self._flown: list[Point] = []
        self._last_piece: Piece | None = None
        """Of those settled."""
        self._settled_pieces = 0
        self.accepted = 0
        self.duplicates = 0
        self.rejected: Counter[Reason] = Counter()
        self.fall_start: FallStart | None = None
        self.newest: Fix | None = None
        """The newest accepted fix."""
        self.newest_heard_s = 0.0

    @property
    def state(self) -> State | None:
        """After the newest fix."""
        return self._entries[-1].state if self._entries else self._settled_state

    def reject(self, why: Reason) -> None:
        """Count a fix that the track never saw."""
        self.rejected[why] += 1

    def mirrored(self, time_s: float, latitude_deg: float, longitude_deg: float) -> bool:
        """Whether the two numbers would do the other way round."""
        state = self.state
        if state is None or not (-90.0 <= longitude_deg <= 90.0 and -180.0 <= latitude_deg <= 180.0):
            return False
        return in_reach(state.last, Candidate(time_s, time_s, longitude_deg, latitude_deg, None, 0.0)) is None

    def put(self, candidate: Candidate, fix: Fix, content: tuple[object, ...]) -> Verdict | bool:
        """Sort a fix in.

        :param content: equal for two copies of one report.
        :returns: why it was refused, None where it was accepted, True for a repeat of one already here.
        """
        if content in self._known:
            self.duplicates += 1
            return True
        if candidate.time_s <= self._settled_until_s:
            self.reject(Reason.TOO_LATE)
            return Reason.TOO_LATE
        twin = self._twin(candidate)
        if twin is not None:
            self._known[content] = None
            return self._merge(twin, candidate, fix)
        entry = Entry(candidate, fix)
        key = (candidate.time_s, candidate.heard_s)
        index = bisect_right(self._keys, key)
        self._keys.insert(index, key)
        self._entries.insert(index, entry)
        self._known[content] = None
        believed = [one for one in self._entries[index + 1 :] if one.verdict is None]
        self._judge_from(index, new=entry)
        if entry.verdict is None and any(one.verdict is not None for one in believed[:-1]):
            self._take_back(index, entry)
            return Reason.TOO_FAR
        self._settle()
        return entry.verdict

    def _take_back(self, index: int, entry: Entry) -> None:
        """A late fix gives way to those that others confirm; only the newest, which none does yet, gives way to it."""
        self._count(entry, -1)
        del self._entries[index]
        del self._keys[index]
        self._judge_from(index)
        self.reject(Reason.TOO_FAR)

    def _twin(self, candidate: Candidate) -> Entry | None:
        """The other half of the same report: the same stamp and place in another form."""
        index = bisect_left(self._keys, (candidate.time_s, -float("inf")))
        while index < len(self._entries) and self._entries[index].candidate.time_s == candidate.time_s:
            other = self._entries[index].candidate
            near = 3e-4 + (candidate.step_m + other.step_m) / 1e5
            if (
                self._entries[index].verdict is None
                and abs(candidate.heard_s - other.heard_s) < STUCK_CLOCK_S
                and abs(candidate.latitude_deg - other.latitude_deg) < near
                and abs(candidate.longitude_deg - other.longitude_deg) < near
            ):
                return self._entries[index]
            index += 1
        return None

    def _merge(self, twin: Entry, candidate: Candidate, fix: Fix) -> Verdict | bool:
        """What one form of a report lacks the other may tell, such as the height."""
        self.duplicates += 1
        filled = _filled(twin.fix, fix)
        if filled is not twin.fix:
            twin.fix = filled
            if twin.candidate.height_msl_m is None and candidate.height_msl_m is not None:
                twin.candidate = twin.candidate._replace(height_msl_m=candidate.height_msl_m)
                self._judge_from(self._entries.index(twin))
            elif self.newest is not None and twin is self._newest_entry():
                self.newest = filled
        return True

    def _judge_from(self, index: int, new: Entry | None = None) -> None:
        """Judge the entries from one on; all but ``new`` have been counted before."""
        self._sorted_in += index < len(self._entries) - 1
        state = self._entries[index - 1].state if index else self._settled_state
        for entry in self._entries[index:]:
            if entry is not new:
                self._count(entry, -1)
            state, entry.verdict, entry.piece = step(state, entry.candidate, self._ground_msl_m)
            entry.state = state
            self._count(entry, 1)
        last = self._newest_entry()
        if last is not None:
            self.newest, self.newest_heard_s = last.fix, last.candidate.heard_s
        self._fit_fall_start()

    def _newest_entry(self) -> Entry | None:
        return next((entry for entry in reversed(self._entries) if entry.verdict is None), None)

    def _count(self, entry: Entry, by: int) -> None:
        if entry.verdict is None:
            self.accepted += by
        else:
            self.rejected[entry.verdict] += by

    def _fit_fall_start(self) -> None:
        state = self.state
        if state is None or state.course is None or state.climb is None:
            return
        course = state.course
        if course.phase is Phase.DESCENT and course.descent_s is not None:
            about_s = course.not_falling_s
            if state.climb.time_s - about_s <= max(SETTLED_S, 3.0 * (course.descent_s - about_s)):
                points = self.points(-float("inf"))
                heights = [(point.time_s, point.height_msl_m) for point in points if point.height_msl_m is not None]
                self.fall_start = fit_fall_start(heights, about_s) or self.fall_start
        elif course.phase in (Phase.ASCENT, Phase.FLOAT):
            self.fall_start = None

    def _settle(self) -> None:
        """Let go of what no late fix can change any more."""
        newest = self._entries[-1].candidate.time_s
        count = 0
        spare = len(self._entries) - FEWEST_KEPT
        while count < spare and (
            newest - self._entries[count].candidate.time_s > LATE_S or len(self._entries) - count > MOST_KEPT
        ):
            count += 1
        # settle in tens: dropping from the front of a list moves all the rest
        if count < 10 and len(self._entries) <= MOST_KEPT:
            return
        pieces = [entry.piece for entry in self._entries[:count] if entry.piece is not None]
        after = next((entry.piece for entry in self._entries[count:] if entry.piece is not None), None)
        self._open_layers |= add_pieces(self._sums, self._last_piece, pieces, after)
        self._settled_pieces += len(pieces)
        self._last_piece = pieces[-1] if pieces else self._last_piece
        for entry in self._entries[:count]:
            self._settle_one(entry)
        self._settled_state = self._entries[count - 1].state
        self._settled_until_s = self._entries[count - 1].candidate.time_s
        del self._entries[:count]
        del self._keys[:count]
        if len(self._known) > 2 * REMEMBERED + 2 * MOST_KEPT:
            self._forget_contents()

    def _settle_one(self, entry: Entry) -> None:
        if entry.verdict is None and entry.state is not None:
            point = entry.state.last
            if not self._flown or point.time_s - self._flown[-1].time_s >= FLOWN_STEP_S:
                self._flown.append(point)
                if len(self._flown) > FLOWN_MOST:
                    del self._flown[1::2]

    def _forget_contents(self) -> None:
        """Dictionaries keep the order of insertion: the first are the oldest."""
        for key in list(self._known)[: len(self._known) - REMEMBERED - MOST_KEPT]:
            del self._known[key]

    def points(self, since_s: float) -> Iterator[Point]:
        """Accepted points still open, from a time on."""
        for entry in self._entries[bisect_left(self._keys, (since_s, -float("inf"))) :]:
            if entry.verdict is None and entry.state is not None:
                yield entry.state.last

    def earlier(self, before_s: float) -> Point | None:
        """The newest open point that is not later than a time, else the oldest open one."""
        index = bisect_right(self._keys, (before_s, float("inf")))
        for entry in (*reversed(self._entries[:index]), *self._entries[index:]):
            if entry.verdict is None and entry.state is not None:
                return entry.state.last
        return None

    def flown(self) -> list[Point]:
        """The flown path in steps of five seconds or more, oldest first."""
        path = list(self._flown)
        for point in self.points(-float("inf")):
            if not path or point.time_s - path[-1].time_s >= FLOWN_STEP_S:
                path.append(point)
        return path

    def place_at(self, time_s: float) -> Point | None:
        """Between two open points at most a minute apart, or None."""
        before: Point | None = None
        for entry in reversed(self._entries):
            if entry.verdict is not None or entry.state is None:
                continue
            point = entry.state.last
            if point.time_s <= time_s:
                if point.time_s == time_s:
                    return point
                return None if before is None else _between(point, before, time_s)
            before = point
        return None

    def winds(self) -> tuple[WindLayer, ...]:
        """The measured wind, up from below, then float, then down from above; made anew when a piece is completed."""
        pieces = [entry.piece for entry in self._entries if entry.piece is not None]
        mark = (pieces[-1] if pieces else None, len(pieces) + self._settled_pieces, self._sorted_in)
        if mark == self._winds_of:
            return self._winds
        touched = with_pieces(self._sums, self._last_piece, pieces)
        for key in self._open_layers - touched.keys():
            if key in self._sums:
                self._layers[key] = wind_layer(key, self._sums[key], self.tracker)
            else:
                self._layers.pop(key, None)
        for key, sums in touched.items():
            self._layers[key] = wind_layer(key, sums, self.tracker)
        self._open_layers = set(touched)
        ups = sorted(key for key in self._layers if key[0] == "up")
        floats = sorted(key for key in self._layers if key[0] == "float")
        downs = sorted((key for key in self._layers if key[0] == "down"), reverse=True)
        self._winds = tuple(self._layers[key] for key in (*ups, *floats, *downs))
        self._winds_of = mark
        return self._winds


def _filled(fix: Fix, other: Fix) -> Fix:
    """``fix`` with what it lacks and the other tells."""
    lacks: dict[str, Any] = {
        name: getattr(other, name)
        for name in _FIX_FIELDS
        if getattr(fix, name) is None and getattr(other, name) is not None
    }
    if other.temperature_k and not fix.temperature_k:
        lacks["temperature_k"] = other.temperature_k
    if other.checked and not fix.checked:
        lacks["checked"] = True
    return replace(fix, **lacks) if lacks else fix


def _between(start: Point, end: Point, time_s: float) -> Point | None:
    seconds = end.time_s - start.time_s
    if seconds > 60.0:
        return None
    part = (time_s - start.time_s) / seconds
    turn = (end.longitude_deg - start.longitude_deg + 180.0) % 360.0 - 180.0
    height = None
    if start.height_msl_m is not None and end.height_msl_m is not None:
        height = start.height_msl_m + part * (end.height_msl_m - start.height_msl_m)
    return Point(
        time_s,
        start.latitude_deg + part * (end.latitude_deg - start.latitude_deg),
        (start.longitude_deg + part * turn + 180.0) % 360.0 - 180.0,
        height,
        max(start.step_m, end.step_m),
    )
