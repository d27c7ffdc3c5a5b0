"""A receiver: one thread that hears, and tries again when the source is gone."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime
from typing import Protocol

from pappus.sources.receivers._backoff import BackOff
from pappus.sources.receivers._desk import Desk, NotKept, ReceiverState, Take
from pappus.sources.receivers._setting import ReceiverSetting


class Source(Protocol):
    """Where packets come from."""

    again: bool
    """Whether a source that ended is opened again."""

    def run(self, desk: Desk) -> None:
        """Open, say ``desk.opened()``, hand over packets until ``desk.stopping`` or the source ends. Raises OSError."""


class Receiver:
    """Hears one source in its own thread, so that no receiver waits for another."""

    def __init__(
        self,
        setting: ReceiverSetting,
        source: Source,
        take: Take,
        *,
        last_counter: int,
        clock: Callable[[], datetime],
        seed: int,
    ) -> None:
        self.setting = setting
        self._source = source
        self._desk = Desk(setting, take, last_counter, clock, seed)
        self._waits = BackOff(f"{seed} {setting.name}")
        self._thread = threading.Thread(target=self._run, name=f"receiver {setting.name}", daemon=True)

    def start(self) -> None:
        """Begin to hear. A receiver is started once."""
        self._desk.enter("connecting")
        self._thread.start()

    def stop(self, timeout_s: float = 5.0) -> bool:
        """Ask the thread to end and wait for it; whether it has ended."""
        self._desk.stopping.set()
        if self._thread.is_alive():
            self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until a source that ends (a log) has ended; whether it has."""
        self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def state(self) -> ReceiverState:
        """How it does; never waits."""
        return self._desk.state()

    def _run(self) -> None:
        desk = self._desk
        while not desk.stopping.is_set():
            desk.enter("connecting")
            before, error = desk.kept, "the other end closed the connection"
            try:
                self._source.run(desk)
            except (OSError, NotKept) as reason:
                error = str(reason) or type(reason).__name__
            except Exception as reason:  # a fault of ours must not silence the receiver for the rest of the flight
                error = f"fault inside: {reason!r}"
            if desk.stopping.is_set():
                break
            if not self._source.again:
                desk.enter("ended", "" if error.startswith("the other end") else error)
                return
            if desk.kept > before:
                # a server that lets us in and closes again at once has not worked
                self._waits.reset()
            wait_s = self._waits.next_s()
            desk.enter("waiting", error, wait_s)
            desk.stopping.wait(wait_s)
        desk.enter("stopped")
