"""The watch: receivers hear, the store keeps, the estimate follows, and somebody is told.

A packet is on the disk before anything else is done with it. Receivers, store and estimate know nothing of each other;
they meet in the callbacks here.
"""

from __future__ import annotations

import heapq
import queue
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from pappus.errors import PappusError
from pappus.inflight._fed import Fed, Key
from pappus.inflight._watched import CatchingUp, Watched
from pappus.sources import Receiver, ReceiverSetting, Sender, receivers_from
from pappus.store import FlightStore
from pappus.tracking import Estimate, Estimator, Heard, PacketKind, Phase, Role, received

HOLD_S = 0.25
"""A packet waits this long for one that was heard before it and took longer to the disk, so that the estimate is fed in
canonical order and a replay gives the same."""
LOOK_S = 1.0
"""Without packets the state is published this often, for the sake of the receivers' own states."""
KEEP_EVERY_S = 0.5
KEEP_WINDS_EVERY_S = 60.0
"""Estimates are kept twice a second and at every change of phase; the wind profile, by far the largest part, once a
minute. A replay gives all of them again."""
_WAKE_S = 0.05
_REPLAY_LOOK_S = 0.25
_REPLAY_BURST = 100
_OVERLAP, _OVERLAP_PACKETS = timedelta(minutes=10), 20_000
"""Packets this new may be read from the disk and wait in the queue as well."""

Publish = Callable[[Watched], None]


def now_utc() -> datetime:
    """The clock of this computer."""
    return datetime.now(UTC)


class Watch:
    """One flight under watch. Start it once; publish is called in its own thread, one call at a time."""

    def __init__(
        self,
        store: FlightStore,
        settings: Sequence[ReceiverSetting],
        make_estimator: Callable[[], Estimator],
        publish: Publish,
        *,
        senders: Sequence[Sender] = (),
        clock: Callable[[], datetime] = now_utc,
        hold_s: float = HOLD_S,
    ) -> None:
        """
        :param make_estimator: a new one for the live state and for each replay.
        :param clock: gives packets their time of hearing.

        Raises BadInput where two receivers have one name.
        """
        self._store, self._publish, self._hold_s, self._clock = store, publish, hold_s, clock
        self._make_estimator, self._senders = make_estimator, tuple(senders)
        self._queue: queue.SimpleQueue[tuple[Heard, float]] = queue.SimpleQueue()
        self._receivers: tuple[Receiver, ...] = receivers_from(
            settings, self._take, last_counter=store.last_counter, senders=senders, clock=clock
        )
        self._fed = self._make()
        self._held: list[tuple[Key, float, Heard]] = []
        self._handing = threading.Lock()
        self._stopping, self._again = threading.Event(), threading.Event()
        self._kept_at_s = self._winds_at_s = self._published_at_s = -1e9
        self._kept_phase: Phase | None = None
        self._again.set()
        self._thread = threading.Thread(target=self._run, name="watch", daemon=True)

    def start(self) -> None:
        """Hear, and catch up with what the store holds."""
        for receiver in self._receivers:
            receiver.start()
        self._thread.start()

    def stop(self, timeout_s: float = 2.0) -> bool:
        """End the receivers, then the watch; whether all have ended. What was heard is in the store.

        :param timeout_s: for all receivers together, and again for the watch.
        """
        end_s = time.monotonic() + timeout_s
        # all are told first, then waited for
        for receiver in self._receivers:
            receiver.stop(0.0)
        ended = [receiver.stop(max(end_s - time.monotonic(), 0.0)) for receiver in self._receivers]
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(timeout_s)
        return all(ended) and not self._thread.is_alive()

    def hand(self, receiver: str, kind: PacketKind, raw: bytes, *, role: Role) -> None:
        """One packet that came another way than over a receiver here: numbered and timed like theirs, and kept first.

        ``receiver`` is no name of the receivers here. Raises NotSafe when it could not be kept.
        """
        with self._handing:
            counter = (self._store.last_counter(receiver) or 0) + 1
            self._take(received(receiver, counter, self._clock(), kind, raw, role=role))

    def again(self) -> None:
        """Replay the whole store, as after a merge: then late packets have their turn."""
        self._again.set()

    def _make(self) -> Fed:
        return Fed(self._make_estimator, self._senders)

    def _take(self, heard: Heard) -> None:
        """In the thread of the receiver. Raises NotSafe, then the receiver tries again."""
        self._store.take(heard)
        self._queue.put((heard, time.monotonic()))

    def _run(self) -> None:
        while not self._stopping.is_set():
            if self._again.is_set():
                self._again.clear()
                self._replay()
            fed = self._feed_due(self._fed, self._hold_s)
            if fed or time.monotonic() - self._published_at_s >= LOOK_S:
                self._tell(self._fed, None)
        if self._feed_due(self._fed, 0.0):
            self._tell(self._fed, None)

    def _feed_due(self, fed: Fed, hold_s: float) -> int:
        """Feed what has waited long enough, in canonical order."""
        self._collect(_WAKE_S)
        count = 0
        while self._held and (hold_s == 0.0 or time.monotonic() - self._held[0][1] >= hold_s):
            fed.feed(heapq.heappop(self._held)[2])
            count += 1
        return count

    def _collect(self, wait_s: float) -> list[Heard]:
        """Take what came from the receivers; waits for the first."""
        fresh = []
        try:
            heard, at_s = self._queue.get(timeout=wait_s) if wait_s else self._queue.get_nowait()
            while True:
                heapq.heappush(self._held, (heard.canonical_key, at_s, heard))
                fresh.append(heard)
                heard, at_s = self._queue.get_nowait()
        except queue.Empty:
            return fresh

    def _replay(self) -> None:
        """Feed a new estimator all that the store holds; meanwhile what comes in is shown by one of its own."""
        # all that is in the queue now is on the disk, and comes from there
        self._collect(0.0)
        self._held.clear()
        total, done = self._store.count(), 0
        replayed, provisional = self._make(), self._make()
        known: set[tuple[str, int, str]] = set()
        since, looked_s = self._clock() - _OVERLAP, time.monotonic()
        try:
            for heard in self._store.packets():
                replayed.feed(heard)
                done += 1
                if heard.heard_utc >= since or total - done < _OVERLAP_PACKETS:
                    known.add(heard.identity)
                if done % _REPLAY_BURST == 0 and time.monotonic() - looked_s >= _REPLAY_LOOK_S:
                    looked_s = time.monotonic()
                    for fresh in sorted(self._collect(0.0), key=lambda one: one.canonical_key):
                        provisional.feed(fresh)
                    # until something is heard, the flight as far as it was fed again: its ages say how old that is
                    now = provisional if provisional.basis.packets else replayed
                    self._tell(now, CatchingUp(done, total))
                    if self._stopping.is_set():
                        return
        except PappusError as error:
            # a damaged packet: what comes after it is not reached, the live ones are
            replayed.faults += 1
            replayed.last_fault = f"the store cannot be replayed beyond {done} packets: {error}"
        # what came in meanwhile and was read from the disk as well has had its turn
        self._collect(0.0)
        self._held = [entry for entry in self._held if entry[2].identity not in known]
        heapq.heapify(self._held)
        self._fed = replayed
        self._tell(replayed, None)

    def _tell(self, fed: Fed, catching_up: CatchingUp | None) -> None:
        now_s = time.monotonic()
        self._published_at_s = now_s
        estimate = fed.estimate()
        with fed.survived("the estimate is not kept"):
            if estimate is not None and catching_up is None:
                self._keep(fed, estimate, now_s)
        with fed.survived("nobody was told"):
            self._publish(
                Watched(
                    estimate,
                    tuple(receiver.state() for receiver in self._receivers),
                    self._store.safety(),
                    catching_up,
                    fed.out_of_order,
                    fed.faults,
                    fed.last_fault,
                )
            )

    def _keep(self, fed: Fed, estimate: Estimate, now_s: float) -> None:
        changed = estimate.phase is not self._kept_phase
        if not changed and now_s - self._kept_at_s < KEEP_EVERY_S:
            return
        with_winds = changed or now_s - self._winds_at_s >= KEEP_WINDS_EVERY_S
        slim = estimate if with_winds else replace(estimate, wind=())
        self._store.put_estimate(slim, estimate.heard_utc, fed.basis)
        self._kept_at_s, self._kept_phase = now_s, estimate.phase
        if with_winds:
            self._winds_at_s = now_s


@contextmanager
def watch(
    store: FlightStore,
    settings: Sequence[ReceiverSetting],
    make_estimator: Callable[[], Estimator],
    publish: Publish,
    *,
    senders: Sequence[Sender] = (),
    clock: Callable[[], datetime] = now_utc,
    hold_s: float = HOLD_S,
) -> Iterator[Watch]:
    """A watch that runs inside the ``with`` and is ended after it. Arguments as for ``Watch``."""
    running = Watch(store, settings, make_estimator, publish, senders=senders, clock=clock, hold_s=hold_s)
    running.start()
    try:
        yield running
    finally:
        running.stop()
