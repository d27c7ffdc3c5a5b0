"""Where a receiver hands its packets over: numbered, timed, passed on, counted."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from pappus.sources.receivers._backoff import BackOff
from pappus.sources.receivers._setting import ReceiverSetting
from pappus.tracking import Heard, PacketKind, Role, received

Take = Callable[[Heard], None]
"""Returns only when the packet is durable; raises when it could not be kept."""
Phase = Literal["not started", "connecting", "connected", "waiting", "ended", "stopped"]


class NotKept(Exception):
    """The packet could not be stored before the receiver was stopped, or at once where the sender will try again."""


@dataclass(frozen=True)
class ReceiverState:
    """How a receiver does, for the crew to see."""

    name: str
    role: Role
    kind: PacketKind
    address: str
    phase: Phase
    last_error: str
    """What went wrong last; empty once a packet has been kept since."""
    last_heard_age_s: float | None
    """Since the last packet; None before the first."""
    packets: int
    """Kept since the start."""
    bytes: int
    dropped: int
    """Pieces that were too long, or no packets of this kind."""
    connections: int
    retry_in_s: float | None
    """Until the next try to connect, while it waits for that."""


class Desk:
    """One receiver's desk; its packets may come from several threads (HTTP), each waits for the one before."""

    def __init__(
        self, setting: ReceiverSetting, take: Take, last_counter: int, clock: Callable[[], datetime], seed: int | str
    ) -> None:
        self.setting, self.stopping = setting, threading.Event()
        self._take, self._clock, self._seed = take, clock, seed
        self._handing, self._watching = threading.Lock(), threading.Lock()
        self._counter = last_counter
        self._phase: Phase = "not started"
        self._last_error, self._last_heard_s = "", -1.0
        self._retry_at_s: float | None = None
        self._packets = self._bytes = self._dropped = self._connections = 0

    def packet(self, raw: bytes, *, patient: bool = True) -> int:
        """Number, time and pass on one packet; returns its number.

        While it cannot be kept the receiver tries again, so nothing that was heard is lost and the sender is held up;
        a sender that tries again by itself needs no patience. Raises NotKept.
        """
        heard_utc = self._clock()
        with self._handing:
            setting = self.setting
            heard = received(setting.name, self._counter + 1, heard_utc, setting.kind, raw, role=setting.role)
            self._keep(heard, patient)
            self._counter += 1
            return self._counter

    def recorded(self, heard: Heard) -> None:
        """Pass on a packet of a log as it was recorded, with its own number and time. Raises NotKept."""
        with self._handing:
            self._keep(heard, patient=True)

    def opened(self) -> None:
        """The source can hear now."""
        with self._watching:
            self._phase, self._connections, self._retry_at_s = "connected", self._connections + 1, None

    def drop(self, count: int, why: str = "") -> None:
        """Pieces that were no packets."""
        with self._watching:
            self._dropped += count
            self._last_error = why or self._last_error

    def enter(self, phase: Phase, error: str = "", retry_in_s: float | None = None) -> None:
        """A new phase, said by the thread that runs the receiver."""
        with self._watching:
            self._phase = phase
            self._last_error = error or self._last_error
            self._retry_at_s = None if retry_in_s is None else time.monotonic() + retry_in_s

    @property
    def kept(self) -> int:
        """Packets kept since the start."""
        with self._watching:
            return self._packets

    def state(self) -> ReceiverState:
        """Never waits for a packet that is being stored."""
        now_s, setting = time.monotonic(), self.setting
        with self._watching:
            return ReceiverState(
                setting.name,
                setting.role,
                setting.kind,
                setting.address,
                self._phase,
                self._last_error,
                now_s - self._last_heard_s if self._last_heard_s >= 0.0 else None,
                self._packets,
                self._bytes,
                self._dropped,
                self._connections,
                max(0.0, self._retry_at_s - now_s) if self._retry_at_s is not None else None,
            )

    def _keep(self, heard: Heard, patient: bool) -> None:
        with self._watching:
            self._last_heard_s = time.monotonic()
        waits = BackOff(f"{self._seed} {heard.digest}", shortest_s=0.05, longest_s=2.0)
        while True:
            try:
                self._take(heard)
                break
            except Exception as error:  # whatever the store raises, the packet is not kept and the crew must see it
                with self._watching:
                    self._last_error = f"a packet is not kept: {error or type(error).__name__}"
                if not patient or self.stopping.wait(waits.next_s()):
                    raise NotKept(str(error)) from error
        with self._watching:
            self._packets += 1
            self._bytes += len(heard.raw)
            self._last_error = ""
