"""An invented flight of 50 packets a second, received by a process that is killed again and again.

The receiving process (``python kill_flights.py FILE``) opens the store, replays what is there, listens on a loopback
socket, and acknowledges each packet once the store has taken it; the estimate after each packet goes to the store too.
"""

from __future__ import annotations

import hashlib
import json
import random
import signal
import socket
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from pappus.sources.receivers import NotUnderstood, parse
from pappus.store import Basis, FlightStore, as_body
from pappus.tracking import Estimate, Estimator, Heard, Reading, received

RATE_HZ = 50.0
RECEIVERS = ("hill", "mast")
KILLED_AT_START = 0.2
"""Share of kills that hit the process before it is live again."""
_START_LASTS_S = 1.0
_LIVES_S = 0.7


def reading(heard: Heard) -> Reading:
    """What the parser makes of a packet."""
    found = parse(heard.kind, heard.raw, heard.heard_utc)
    return found.why if isinstance(found, NotUnderstood) else found


class Replay:
    """Estimator and basis, fed packet by packet."""

    def __init__(self, packets: Iterable[Heard] = ()) -> None:
        self.estimator = Estimator()
        self.basis = Basis.none()
        self.positions = 0
        self.bodies: dict[Basis, bytes] = {}
        """Every estimate as the store keeps it, by what it rests on."""
        for heard in packets:
            estimate = self.feed(heard)
            self.positions += estimate.position is not None
            body = as_body(estimate)
            self.bodies[self.basis] = body

    def feed(self, heard: Heard) -> Estimate:
        """The estimate after one more packet."""
        self.basis = self.basis.plus(heard)
        return self.estimator.feed(heard, reading(heard))

    @property
    def answer(self) -> str:
        """One digest of all estimates."""
        return hashlib.sha256(b"".join(self.bodies.values())).hexdigest()


class _InOrder:
    """Packets of several receivers are estimated in the order in which they were heard, once the disk has them."""

    def __init__(self, use: Callable[[Heard], object]) -> None:
        self._use = use
        self._lock = threading.Lock()
        self._heard: deque[Heard] = deque()
        self._safe: set[tuple[str, int, str]] = set()

    def stamp(self, receiver: str, counter: int, raw: bytes) -> Heard:
        """A packet that arrives now."""
        with self._lock:
            heard = received(receiver, counter, datetime.now(UTC), "nmea", raw)
            self._heard.append(heard)
            return heard

    def is_safe(self, heard: Heard) -> None:
        """The disk has it."""
        with self._lock:
            self._safe.add(heard.identity)
            while self._heard and self._heard[0].identity in self._safe:
                first = self._heard.popleft()
                self._safe.remove(first.identity)
                self._use(first)


def sentence(receiver: int, number: int, begun_utc: datetime, at_utc: datetime) -> bytes:
    """A position (NMEA 0183 GGA) of a balloon that was never flown: up 5 m/s and north 5.6 m/s since ``begun_utc``.

    Every one is different: the number stands in the last field, that of the differential station.
    """
    elapsed_s = (at_utc - begun_utc).total_seconds()
    minutes = 12.0 + 0.003 * elapsed_s
    clock = f"{at_utc:%H%M%S}.{at_utc.microsecond // 1000:03d}"
    place = f"{47 + int(minutes // 60):02d}{minutes % 60:07.4f},N,009{20 + receiver:02d}.5000,E"
    body = f"GPGGA,{clock},{place},1,09,0.9,{300.0 + 5.0 * elapsed_s:.1f},M,48.0,M,,{number % 1024:04d}"
    check = 0
    for octet in body.encode():
        check ^= octet
    return f"${body}*{check:02X}".encode()


def receive(path: Path) -> None:
    """The process that is killed."""
    store = FlightStore.open(path, laptop="launch site")
    replay = Replay(store.packets())
    order = _InOrder(lambda heard: store.put_estimate(replay.feed(heard), heard.heard_utc, replay.basis))

    def serve(connection: socket.socket) -> None:
        lines = connection.makefile("rb")
        name = lines.readline().decode().strip()
        counter = (store.last_counter(name) or 0) + 1
        for line in lines:
            raw = line.rstrip(b"\n")
            heard = order.stamp(name, counter, raw)
            counter += 1
            store.take(heard)
            connection.sendall(heard.digest.encode() + b"\n")
            order.is_safe(heard)

    with socket.create_server(("127.0.0.1", 0)) as listener:
        told = {"port": listener.getsockname()[1], "answer": replay.answer, "processor_s": time.process_time()}
        print(json.dumps(told), flush=True)
        while True:
            connection, _ = listener.accept()
            threading.Thread(target=serve, args=(connection,), daemon=True).start()


@dataclass
class Outcome:
    """What came of one flight."""

    kills: int = 0
    kills_before_live: int = 0
    sent: int = 0
    acknowledged: int = 0
    kept: int = 0
    lost: list[bytes] = field(default_factory=list)
    """Acknowledged and not there."""
    strange: list[bytes] = field(default_factory=list)
    """There and never sent, or there twice."""
    back_s: list[float] = field(default_factory=list)
    """From the start of the process until it receives again, all packets replayed."""
    processor_s: list[float] = field(default_factory=list)
    """What of it the process computed: the same however busy the machine is."""
    same_answer: bool = False
    """Two replays in two processes gave the same estimates, bit for bit."""
    estimates: int = 0
    estimates_sound: int = 0
    positions: int = 0
    """Estimates of the replay that hold a position."""
    estimates_differ: int = 0
    """Kept live, not stale, and not what the replay gives."""


class _Sender:
    """One receiver's feed: sends on its clock, whatever is acknowledged."""

    def __init__(
        self, port: int, index: int, first: int, rate_hz: float, begun_utc: datetime, acknowledged: set[str]
    ) -> None:
        self.number = first
        self._begun_utc = begun_utc
        self.sent: list[bytes] = []
        self._index, self._acknowledged = index, acknowledged
        self._pause_s = len(RECEIVERS) / rate_hz
        self._over = threading.Event()
        self._connection = socket.create_connection(("127.0.0.1", port), timeout=10.0)
        self._threads = [threading.Thread(target=self._send), threading.Thread(target=self._hear)]
        for thread in self._threads:
            thread.start()

    def end(self) -> None:
        """The process at the other end is gone."""
        self._over.set()
        for thread in self._threads:
            thread.join()
        self._connection.close()

    def _send(self) -> None:
        try:
            self._connection.sendall(RECEIVERS[self._index].encode() + b"\n")
            while not self._over.wait(self._pause_s):
                raw = sentence(self._index, self.number, self._begun_utc, datetime.now(UTC))
                self.number += 1
                self.sent.append(raw)
                self._connection.sendall(raw + b"\n")
        except OSError:
            return

    def _hear(self) -> None:
        try:
            for line in self._connection.makefile("rb"):
                if line.endswith(b"\n"):
                    self._acknowledged.add(line.decode().strip())
        except OSError:
            return


def fly(path: Path, kills: int, chance: random.Random, rate_hz: float = RATE_HZ) -> Outcome:
    """One flight whose receiving process is killed ``kills`` times at random moments, then started for good."""
    outcome = Outcome()
    sent: list[bytes] = []
    acknowledged: set[str] = set()
    numbers = [0] * len(RECEIVERS)
    begun_utc = datetime.now(UTC)
    while True:
        start = time.perf_counter()
        child = subprocess.Popen([sys.executable, __file__, str(path)], stdout=subprocess.PIPE, text=True)
        assert child.stdout is not None
        if outcome.kills < kills and chance.random() < KILLED_AT_START:
            time.sleep(chance.uniform(0.0, _START_LASTS_S))
            _kill(child, outcome)
            outcome.kills_before_live += 1
            continue
        line = child.stdout.readline()
        if not line:
            raise RuntimeError(f"the receiving process did not start: exit code {child.wait()}")
        outcome.back_s.append(time.perf_counter() - start)
        told = json.loads(line)
        outcome.processor_s.append(told["processor_s"])
        if outcome.kills == kills:
            break
        senders = [
            _Sender(told["port"], index, first, rate_hz, begun_utc, acknowledged) for index, first in enumerate(numbers)
        ]
        time.sleep(chance.uniform(0.0, _LIVES_S))
        _kill(child, outcome)
        for index, sender in enumerate(senders):
            sender.end()
            sent += sender.sent
            numbers[index] = sender.number
    child.kill()
    child.wait()
    child.stdout.close()
    _judge(path, sent, acknowledged, told["answer"], outcome)
    return outcome


def _kill(child: subprocess.Popen[str], outcome: Outcome) -> None:
    child.send_signal(signal.SIGKILL)
    child.wait()
    assert child.stdout is not None
    child.stdout.close()
    outcome.kills += 1


def _judge(path: Path, sent: list[bytes], acknowledged: set[str], answer: str, outcome: Outcome) -> None:
    with FlightStore.open(path, read_only=True) as store:
        packets = list(store.packets())
        replay = Replay(packets)
        sound = {basis.digest: body for basis, body in replay.bodies.items()}
        for record in store.records("estimate"):
            outcome.estimates += 1
            body = None if record.basis is None else sound.get(record.basis.digest)
            outcome.estimates_sound += body is not None
            outcome.estimates_differ += body is not None and body != record.body
    kept = [packet.raw for packet in packets]
    digests = {packet.digest for packet in packets}
    outcome.sent, outcome.acknowledged, outcome.kept = len(sent), len(acknowledged), len(kept)
    gone, known = acknowledged - digests, set(sent)
    outcome.lost = [raw for raw in sent if hashlib.sha256(raw).hexdigest() in gone]
    outcome.strange = [raw for raw in kept if raw not in known]
    if len(kept) != len(digests):
        outcome.strange += kept
    outcome.positions = replay.positions
    outcome.same_answer = answer == replay.answer


if __name__ == "__main__":
    receive(Path(sys.argv[1]))
