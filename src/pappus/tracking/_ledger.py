"""Who heard what, and what trackers told beside their places: noted at every packet, put together when asked."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

from pappus.tracking._estimate import Listener, TrackerState
from pappus.tracking._fix import Fix
from pappus.tracking._heard import Heard, Role
from pappus.tracking._phase import Phase
from pappus.tracking._reasons import Reason
from pappus.tracking._track import Track

HEARS_S = 120.0


class _Ear:
    """One receiver."""

    __slots__ = ("heard_utc", "hears", "not_understood", "packets", "role", "signal_db")

    def __init__(self, heard: Heard) -> None:
        self.role: Role = heard.role
        self.heard_utc = heard.heard_utc
        self.packets = self.not_understood = 0
        self.signal_db: float | None = None
        self.hears: dict[str, datetime] = {}


class _Said:
    """One tracker."""

    __slots__ = ("battery_v", "heard_utc", "last_rejected", "temperature_k", "told_utc")

    def __init__(self, heard: Heard) -> None:
        self.heard_utc = heard.heard_utc
        self.last_rejected: tuple[Reason, datetime] | None = None
        self.battery_v: float | None = None
        self.temperature_k: Mapping[str, float] = {}
        self.told_utc: datetime | None = None


class Ledger:
    """Notes of one flight."""

    def __init__(self) -> None:
        self._ears: dict[str, _Ear] = {}
        self._said: dict[str, _Said] = {}

    def listen(self, heard: Heard, understood: bool) -> None:
        """A packet arrived."""
        ear = self._ears.get(heard.receiver)
        if ear is None:
            ear = self._ears[heard.receiver] = _Ear(heard)
        ear.packets += 1
        ear.not_understood += not understood
        ear.role, ear.signal_db = heard.role, heard.signal_db
        if heard.heard_utc > ear.heard_utc:
            ear.heard_utc = heard.heard_utc

    def tell(self, tracker: str, heard: Heard, fix: Fix, why: Reason | None) -> None:
        """A tracker of the flight told something; ``why``: its place was refused.

        Telemetry in a packet without a believable place is telemetry all the same.
        """
        self._ears[heard.receiver].hears[tracker] = heard.heard_utc
        said = self._said.get(tracker)
        if said is None:
            said = self._said[tracker] = _Said(heard)
        if why is not None:
            said.last_rejected = why, heard.heard_utc
        if heard.heard_utc < said.heard_utc:
            return
        said.heard_utc = heard.heard_utc
        if fix.battery_v is not None:
            said.battery_v, said.told_utc = fix.battery_v, heard.heard_utc
        if fix.temperature_k:
            said.temperature_k = {**said.temperature_k, **fix.temperature_k}
            said.told_utc = heard.heard_utc

    def listeners(self) -> tuple[Listener, ...]:
        """Every receiver, by name."""
        return tuple(
            Listener(
                name,
                ear.role,
                ear.heard_utc,
                ear.packets,
                ear.not_understood,
                ear.signal_db,
                tuple(
                    sorted(
                        tracker
                        for tracker, when in ear.hears.items()
                        if (ear.heard_utc - when).total_seconds() <= HEARS_S
                    )
                ),
            )
            for name, ear in sorted(self._ears.items())
        )

    def trackers(self, tracks: Mapping[str, Track]) -> tuple[TrackerState, ...]:
        """Every tracker of the flight, by name."""
        return tuple(self._tracker(name, said, tracks[name]) for name, said in sorted(self._said.items()))

    def _tracker(self, name: str, said: _Said, track: Track) -> TrackerState:
        state = track.state
        height = None if state is None or state.last_height is None else state.last_height.height_msl_m
        return TrackerState(
            tracker=name,
            phase=Phase.NOT_KNOWN if state is None else state.phase,
            fix_utc=None if state is None else datetime.fromtimestamp(state.last.time_s, tz=UTC),
            heard_utc=said.heard_utc,
            height_msl_m=height,
            accepted=track.accepted,
            duplicates=track.duplicates,
            rejected=tuple((reason, count) for reason, count in track.rejected.items() if count),
            last_rejected=said.last_rejected,
            battery_v=said.battery_v,
            temperature_k=said.temperature_k,
            told_utc=said.told_utc,
            begun_again=0 if state is None else state.begun_again,
        )
