"""A command that is told to end ends neatly: its receivers are closed, its record is whole, its exit code is 0.

Real processes, and real sockets of this computer.
"""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pappus.errors import BadFile
from pappus.plan import example_plan_text
from pappus.preflight import write_example
from pappus.store import FlightStore
from receiving import LineServer, free_port, wait_for

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
PACKETS = 40
WITHIN_S = 5.0
BOTH = [signal.SIGINT, signal.SIGTERM]


def begin(*arguments: str, ignored: bool = False) -> subprocess.Popen[str]:
    """The command. A shell that runs it in the background has it ignore Ctrl-C; the command honours that."""

    def as_a_shell_does() -> None:
        signal.signal(signal.SIGINT, signal.SIG_IGN if ignored else signal.SIG_DFL)

    return subprocess.Popen(
        [sys.executable, "-m", "pappus.cli", *arguments], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        preexec_fn=as_a_shell_does, env=os.environ | {"COLUMNS": "110", "NO_COLOR": "1"},
    )  # fmt: skip


def packet(second: int, tracker: str) -> bytes:
    when = (datetime.now(UTC) - timedelta(seconds=PACKETS - second)).isoformat()
    return json.dumps(
        {"tracker": tracker, "time_utc": when, "latitude_deg": 48.0, "longitude_deg": 11.0, "height_msl_m": 500.0}
    ).encode()


def count(record: Path) -> int:
    """Packets in a record that may be just being made."""
    try:
        with FlightStore.open(record, read_only=True) as store:
            return store.count()
    except BadFile:
        return 0


class Sky:
    """What the receivers of a plan hear: datagrams, lines of one server, a post that never ends; one server is away."""

    def __init__(self, folder: Path) -> None:
        self.datagrams, self.lines, self.posts = free_port(socket.SOCK_DGRAM), LineServer(), free_port()
        self.plan, self.record = folder / "flight.toml", folder / "flight.record"
        self.lines.open()
        places = {
            "hill": f"udp://127.0.0.1:{self.datagrams}",
            "car": f"tcp://127.0.0.1:{self.lines.port}",
            "away": f"tcp://127.0.0.1:{free_port()}",
            "helper": f"http://127.0.0.1:{self.posts}/packets",
        }
        blocks = [
            f'[[receiver]]\nname = "{name}"\nrole = "ground station"\nkind = "json"\naddress = "{address}"\n'
            for name, address in places.items()
        ]
        self.plan.write_text("\n".join([example_plan_text(), *blocks]), encoding="utf-8")
        self.open = socket.socket()

    def send(self) -> None:
        """Every packet twice, and one half of a post."""
        wait_for(lambda: self.lines.clients, "connection")
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
            for second in range(PACKETS):
                out.sendto(packet(second, "B-1"), ("127.0.0.1", self.datagrams))
                self.lines.send(packet(second, "B-2") + b"\n")
                time.sleep(0.002)
        self.open.connect(("127.0.0.1", self.posts))
        self.open.sendall(b"POST /packets HTTP/1.1\r\nHost: here\r\nContent-Length: 100\r\n\r\n{")

    def kept(self) -> int:
        return count(self.record)


def told(process: subprocess.Popen[str], sign: signal.Signals) -> tuple[str, float]:
    """What it said, and how long it took from the signal on."""
    began = time.monotonic()
    process.send_signal(sign)
    said, _ = process.communicate(timeout=60.0)
    return said, time.monotonic() - began


@pytest.mark.parametrize("sign", BOTH)
def test_a_watch_is_ended(tmp_path: Path, sign: signal.Signals) -> None:
    sky = Sky(tmp_path)
    with begin("watch", str(sky.plan)) as process:
        try:
            sky.send()
            wait_for(lambda: sky.kept() == 2 * PACKETS, "packets on the disk")
            said, took_s = told(process, sign)
        finally:
            process.kill()
            sky.lines.close()
            sky.open.close()
    print(f"ended after {took_s:.2f} s")
    assert process.returncode == 0, said
    assert took_s < WITHIN_S
    # the last state is said, from all that was heard
    assert "48.0000° N 11.0000° E" in said
    with FlightStore.open(sky.record, read_only=True) as store:
        assert store.count() == 2 * PACKETS
        heard = [one.receiver for one in store.packets()]
        assert (heard.count("hill"), heard.count("car")) == (PACKETS, PACKETS)
        assert list(store.records("estimate"))
    # its ports are free again
    for kind, port in ((socket.SOCK_DGRAM, sky.datagrams), (socket.SOCK_STREAM, sky.posts)):
        with socket.socket(socket.AF_INET, kind) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(("127.0.0.1", port))


def test_a_watch_in_the_background_goes_on_after_ctrl_c(tmp_path: Path) -> None:
    """Ctrl-C in a terminal goes to all that runs in it; what was started to ignore it does so."""
    sky = Sky(tmp_path)
    with begin("watch", str(sky.plan), ignored=True) as process:
        try:
            wait_for(lambda: sky.lines.clients, "connection")
            process.send_signal(signal.SIGINT)
            sky.send()
            wait_for(lambda: sky.kept() == 2 * PACKETS, "packets on the disk")
            assert process.poll() is None
            said, took_s = told(process, signal.SIGTERM)
        finally:
            process.kill()
            sky.lines.close()
            sky.open.close()
    assert (process.returncode, took_s < WITHIN_S) == (0, True), said


@pytest.mark.parametrize("sign", BOTH)
def test_a_rehearsal_is_ended_and_judged(tmp_path: Path, sign: signal.Signals) -> None:
    plan, kept = write_example(tmp_path), tmp_path / "rehearsal.flight"
    with begin("rehearse", str(plan), "--speed", "100", "--store", str(kept)) as process:
        try:
            wait_for(lambda: count(kept) > 20, "packets", 120.0)
            said, took_s = told(process, sign)
        finally:
            process.kill()
    print(f"ended after {took_s:.2f} s")
    assert process.returncode == 0, said
    assert took_s < WITHIN_S
    score = said[said.index("Stopped at ") :].splitlines()
    assert score[0].endswith("what was due later is left out.")
    with FlightStore.open(kept, read_only=True) as store:
        assert f", {store.count()} are kept." in score[1]


def test_the_help_says_how_they_end(pappus: Callable[..., subprocess.CompletedProcess[str]]) -> None:
    for command in ("watch", "desk", "rehearse"):
        said = " ".join(pappus(command, "--help").stdout.split())
        assert "Ctrl-C or SIGTERM ends it" in said
        assert "with exit code 0" in said
