"""Packets in, the state of the flight out: one object that is fed live or replayed, with the same result."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from pappus.errors import BadInput, Finding
from pappus.tracking._admit import Undulation, admit, content
from pappus.tracking._choice import HEIGHT_COMPARISONS, MOST_COMPARED, choose, compare
from pappus.tracking._estimate import Apart, Estimate, LastPosition, Motion, VehicleSeen
from pappus.tracking._fix import Fix
from pappus.tracking._gate import CONFIRMED_AFTER, State
from pappus.tracking._heard import Heard
from pappus.tracking._ledger import Ledger
from pappus.tracking._limits import arc_m, east_north_m
from pappus.tracking._notes import notes
from pappus.tracking._phase import Phase
from pappus.tracking._point import Point
from pappus.tracking._reasons import Reason
from pappus.tracking._track import Track
from pappus.tracking._winds import POSITION_SD_M, WindLayer

Reading = tuple[Fix, ...] | str
"""What a parser made of a packet: the fixes in it, or why it could not be understood."""

DRIFT_OVER_S = 20.0
SITE_WITHIN_M = 2000.0
"""Only a tracker this near the launch site is judged against its ground height."""
MOST_TRACKERS = 40
"""Followed at once; only a shared channel without callsigns given has more."""
IDENTITIES_KEPT = 1024
"""Per receiver; a packet fed twice within so many is taken once."""


@dataclass(frozen=True)
class LaunchPlace:
    """Where the flight leaves from, as far as the estimate needs it."""

    latitude_deg: float
    longitude_deg: float
    ground_msl_m: float


class Estimator:
    """The state of one flight.

    Guaranteed: the same packets in the same order give the same estimates, bit for bit, live or replayed. A fix that
    is heard up to ``LATE_S`` (120 s) after a newer one of its tracker is sorted in by its own time, and everything
    after it is judged again; where the fixes agree with each other, the state is then the one that the right order
    would have given (position, phase, rates, winds, counts). Where they do not, a late one gives way to those that
    others confirm. A later one is refused by name; the canonical replay, by time of hearing, after logs were merged
    uses all that any receiver heard in time. Memory stays bounded however long it is fed.
    """

    def __init__(
        self,
        launch: LaunchPlace | None = None,
        undulation_m: Undulation | None = None,
        trackers: Collection[str] | None = None,
        vehicles: Collection[str] = (),
    ) -> None:
        """
        :param launch: for the ground height, and to tell a landing from a receiver at its limit.
        :param undulation_m: of the geoid; without it heights above the ellipsoid alone give no height.
        :param trackers: callsigns of the flight, with or without SSID; None takes every tracker that is heard. What a
            receiver of the balloon's own tracker gives is always of the flight.
        :param vehicles: callsigns of the crew's cars.
        """
        self._launch = launch
        self._undulation_m = undulation_m
        self._ours = None if trackers is None else frozenset(trackers)
        self._vehicles_named = frozenset(vehicles)
        self._tracks: dict[str, Track] = {}
        self._ledger = Ledger()
        self._seen: dict[str, dict[tuple[int, str], None]] = {}
        self._vehicles: dict[str, VehicleSeen] = {}
        self._others: Counter[str] = Counter()
        self._refused: list[tuple[Fix, Reason]] = []
        self._apart: dict[str, Apart] = {}
        self._chosen: Track | None = None
        self._packets = 0
        self._newest_utc: datetime | None = None

    def feed(self, heard: Heard, reading: Reading) -> Estimate:
        """Take one packet and give the state after it.

        Raises BadInput where a fix carries a time that is not in UTC.
        """
        self.take(heard, reading)
        estimate = self.estimate()
        assert estimate is not None
        return estimate

    def take(self, heard: Heard, reading: Reading) -> None:
        """Take one packet, for those who need the state after many only. Raises as ``feed`` does."""
        self._refused = []
        if not self._is_new(heard):
            return
        self._packets += 1
        self._newest_utc = heard.heard_utc if self._newest_utc is None else max(self._newest_utc, heard.heard_utc)
        self._ledger.listen(heard, not isinstance(reading, str))
        if not isinstance(reading, str):
            for fix in reading:
                self._take(heard, fix)
        self._choose()

    def flown(self) -> list[Point]:
        """The path of the chosen tracker in steps of five seconds or more, oldest first."""
        return [] if self._chosen is None else self._chosen.flown()

    def _is_new(self, heard: Heard) -> bool:
        seen = self._seen.setdefault(heard.receiver, {})
        key = (heard.counter, heard.digest)
        if key in seen:
            return False
        seen[key] = None
        if len(seen) > 2 * IDENTITIES_KEPT:
            for old in list(seen)[:IDENTITIES_KEPT]:
                del seen[old]
        return True

    def _is_ours(self, name: str) -> bool:
        return self._ours is None or name in self._ours or name.partition("-")[0] in self._ours

    def _take(self, heard: Heard, fix: Fix) -> None:
        if fix.time_utc is not None and fix.time_utc.utcoffset() is None:
            raise BadInput(Finding("time_utc", str(fix.time_utc), "a fix needs the time in UTC", "Give an aware time."))
        name = fix.tracker or heard.receiver
        if heard.role == "vehicle" or name in self._vehicles_named:
            self._take_vehicle(heard, name, fix)
            return
        if heard.role != "balloon tracker" and not self._is_ours(name):
            self._others[name if len(self._others) < IDENTITIES_KEPT else "others"] += 1
            return
        track = self._tracks.get(name)
        if track is None and len(self._tracks) >= MOST_TRACKERS:
            self._others[name if len(self._others) < IDENTITIES_KEPT else "others"] += 1
            return
        if track is None:
            ground = None if self._launch is None else self._launch.ground_msl_m
            track = self._tracks[name] = Track(name, ground)
        candidate = admit(heard, fix, self._undulation_m)
        if isinstance(candidate, Reason):
            lat, lon, swapped = fix.latitude_deg, fix.longitude_deg, False
            if candidate is Reason.OUT_OF_RANGE and lat is not None and lon is not None:
                swapped = track.mirrored(heard.heard_utc.timestamp(), lat, lon)
            why: Reason | None = Reason.SWAPPED if swapped else candidate
            track.reject(Reason.SWAPPED if swapped else candidate)
        else:
            verdict = track.put(candidate, fix, content(fix, heard))
            why = verdict if isinstance(verdict, Reason) else None
        if why is not None:
            self._refused.append((fix, why))
        self._ledger.tell(name, heard, fix, why)

    def _take_vehicle(self, heard: Heard, name: str, fix: Fix) -> None:
        candidate = admit(heard, fix, self._undulation_m)
        before = self._vehicles.get(name)
        if isinstance(candidate, Reason):
            return
        when = datetime.fromtimestamp(candidate.time_s, tz=UTC)
        if before is None or when >= before.time_utc:
            self._vehicles[name] = VehicleSeen(name, when, candidate.latitude_deg, candidate.longitude_deg)

    def _choose(self) -> None:
        before = self._chosen
        self._chosen = choose(list(self._tracks.values()), before)
        if self._chosen is None or len(self._tracks) < 2:
            return
        if self._chosen is not before:
            self._apart = {}
        for name, track in self._tracks.items():
            if track is not self._chosen:
                self._set_beside(self._chosen, name, track)

    def _set_beside(self, chosen: Track, name: str, track: Track) -> None:
        compared = compare(chosen, track)
        if compared is None:
            return
        before, when = self._apart.get(name), datetime.fromtimestamp(compared.time_s, tz=UTC)
        if before is not None and before.time_utc == when:
            return
        offset, count = (None, 0) if before is None else (before.height_offset_m, before.comparisons)
        if compared.height_apart_m is not None:
            count = min(count + 1, HEIGHT_COMPARISONS)
            offset = (offset or 0.0) + (compared.height_apart_m - (offset or 0.0)) / count
        self._apart[name] = Apart(name, when, compared.distance_m, compared.agrees, offset, count)

    def estimate(self) -> Estimate | None:
        """The state after the last packet; None before the first."""
        if self._newest_utc is None:
            return None
        track = self._chosen
        state = None if track is None else track.state
        course = None if state is None else state.course
        position = None if track is None or state is None else self._position(track, state)
        tracks = [] if track is None else [track, *self._friends()]
        courses = [one.state.course for one in tracks if one.state is not None and one.state.course is not None]
        trackers = self._ledger.trackers(self._tracks)
        apart = tuple(self._apart[name] for name in sorted(self._apart))
        offset = self._ground_offset_m(state)
        # the geoid is asked only where two heights differ: whether it is why
        undulation = self._undulation(position) if apart or offset is not None else None
        return Estimate(
            heard_utc=self._newest_utc,
            packets=self._packets,
            phase=Phase.NOT_KNOWN if state is None else state.phase,
            phase_since_utc=None if course is None else _utc(course.since_s),
            position=position,
            motion=None if track is None or state is None else _motion(track, state),
            highest_msl_m=None if course is None else course.top_msl_m,
            ground_msl_m=next((c.ground_msl_m for c in courses if c.ground_msl_m is not None), None),
            release_utc=_utc(next((c.release_s for c in courses if c.release_s is not None), None)),
            fall_start=next((one.fall_start for one in tracks if one.fall_start is not None), None),
            landed_utc=None if course is None else _utc(course.landed_s),
            wind=() if track is None else self._wind(track),
            trackers=trackers,
            apart=apart,
            listeners=self._ledger.listeners(),
            vehicles=tuple(self._vehicles[name] for name in sorted(self._vehicles)),
            refused=tuple(self._refused),
            notes=self._others_note() + notes(position, trackers, apart, undulation, offset, self._datum_off_m(track)),
        )

    def _position(self, track: Track, state: State) -> LastPosition:
        point, fix = state.last, track.newest
        return LastPosition(
            tracker=track.tracker,
            time_utc=datetime.fromtimestamp(point.time_s, tz=UTC),
            heard_utc=datetime.fromtimestamp(track.newest_heard_s, tz=UTC),
            latitude_deg=point.latitude_deg,
            longitude_deg=point.longitude_deg,
            height_msl_m=point.height_msl_m,
            position_sd_m=math.hypot(POSITION_SD_M, point.step_m / math.sqrt(12.0)),
            checked=fix is not None and fix.checked,
            confirmed=state.run >= CONFIRMED_AFTER,
        )

    def _friends(self) -> list[Track]:
        """Trackers that agree with the chosen one."""
        return [self._tracks[name] for name, apart in self._apart.items() if apart.agrees]

    def _wind(self, track: Track) -> tuple[WindLayer, ...]:
        own, friends = track.winds(), self._friends()
        if not friends:
            return own
        have = {(layer.leg, layer.low_msl_m) for layer in own}
        lent = []
        for friend in friends:
            for layer in friend.winds():
                if (layer.leg, layer.low_msl_m) not in have:
                    have.add((layer.leg, layer.low_msl_m))
                    lent.append(layer)
        if not lent:
            return own
        order = {"up": 0, "float": 1, "down": 2}
        return tuple(
            sorted((*own, *lent), key=lambda w: (order[w.leg], -w.low_msl_m if w.leg == "down" else w.low_msl_m))
        )

    def _others_note(self) -> tuple[str, ...]:
        if len(self._tracks) > MOST_COMPARED:
            return (f"{len(self._tracks)} trackers are heard: give the callsigns of the flight, or any may be chosen.",)
        if not self._others or self._chosen is not None:
            return ()
        names = ", ".join(name for name, _ in self._others.most_common(3))
        return (f"Only other stations heard so far ({names}): is the callsign of the flight right?",)

    def _undulation(self, position: LastPosition | None) -> float | None:
        if self._undulation_m is None or position is None:
            return None
        return float(self._undulation_m(position.latitude_deg, position.longitude_deg))

    def _datum_off_m(self, track: Track | None) -> float | None:
        """How much a tracker that sends both heights tells them apart, less what the geoid says."""
        fix = None if track is None else track.newest
        if fix is None or fix.height_msl_m is None or fix.height_ellipsoid_m is None or self._undulation_m is None:
            return None
        if fix.latitude_deg is None or fix.longitude_deg is None:
            return None
        return fix.height_ellipsoid_m - fix.height_msl_m - self._undulation_m(fix.latitude_deg, fix.longitude_deg)

    def _ground_offset_m(self, state: State | None) -> float | None:
        if self._launch is None or state is None or state.course is None or state.course.phase is not Phase.GROUND:
            return None
        point, ground = state.last, state.course.ground_msl_m
        distance = arc_m(
            self._launch.latitude_deg, self._launch.longitude_deg, point.latitude_deg, point.longitude_deg
        )  # fmt: skip
        if ground is None or distance > SITE_WITHIN_M or state.course.ground_count < 10:
            return None
        return ground - self._launch.ground_msl_m


def _utc(time_s: float | None) -> datetime | None:
    return None if time_s is None else datetime.fromtimestamp(time_s, tz=UTC)


def _motion(track: Track, state: State) -> Motion | None:
    climb = state.climb
    if climb is None:
        return None
    u = v = sd = None
    earlier = track.earlier(state.last.time_s - DRIFT_OVER_S)
    seconds = 0.0 if earlier is None else state.last.time_s - earlier.time_s
    if earlier is not None and seconds >= 1.0:
        east, north = east_north_m(
            earlier.latitude_deg,
            earlier.longitude_deg,
            state.last.latitude_deg,
            state.last.longitude_deg,
            climb.height_msl_m,
        )
        u, v = east / seconds, north / seconds
        steps = (earlier.step_m**2 + state.last.step_m**2) / 12.0
        sd = math.sqrt(2.0 * POSITION_SD_M**2 + steps) / seconds
    return Motion(
        time_utc=datetime.fromtimestamp(climb.time_s, tz=UTC),
        height_msl_m=climb.height_msl_m,
        height_sd_m=math.sqrt(climb.height_var_m2),
        climb_m_s=climb.rate_m_s,
        climb_sd_m_s=math.sqrt(climb.rate_var_m2_s2),
        drift_u_m_s=u,
        drift_v_m_s=v,
        drift_sd_m_s=sd,
    )


def estimate_all(
    packets: Iterable[tuple[Heard, Reading]],
    launch: LaunchPlace | None = None,
    undulation_m: Undulation | None = None,
    trackers: Collection[str] | None = None,
    vehicles: Collection[str] = (),
) -> list[Estimate]:
    """The estimate after each packet of a log; bit for bit what ``Estimator.feed`` gave live in the same order.

    Sort a merged log by ``Heard.canonical_key`` first.
    """
    estimator = Estimator(launch, undulation_m, trackers, vehicles)
    return [estimator.feed(heard, reading) for heard, reading in packets]
