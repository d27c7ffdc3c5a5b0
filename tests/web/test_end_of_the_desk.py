"""A desk that is told to end ends the watch that it runs: the record says so, and no thread holds the desk back."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest
from test_fifty_pages import Director

from pappus.plan import example_plan_text
from pappus.store import FlightStore
from receiving import free_port


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_the_watch(tmp_path: Path, sign: signal.Signals) -> None:
    port = free_port(socket.SOCK_DGRAM)
    place = f'name = "hill"\nrole = "ground station"\nkind = "json"\naddress = "udp://127.0.0.1:{port}"\n'
    path = tmp_path / "flight.toml"
    path.write_text(f"{example_plan_text()}\n[[receiver]]\n{place}", encoding="utf-8")
    command = [sys.executable, "-u", "-m", "pappus.web", str(path), "--port", "0"]
    # tests that run in the background of a shell have Ctrl-C ignored, and hand that on
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    ) as process:  # fmt: skip
        try:
            assert process.stdout is not None
            address, _, key = process.stdout.readline().split(": ", 1)[1].strip().partition("/#enter=")
            director = Director(address, key)
            assert director.ask("POST", "/api/watch/start", {})[0]["running"] is True
            began = time.monotonic()
            process.send_signal(sign)
            assert process.wait(60.0) == 0, process.stdout.read()
            took_s = time.monotonic() - began
            print(f"ended after {took_s:.1f} s")
            assert took_s < 5.0
            assert process.stdout.read().splitlines() == ["Stop it with Ctrl-C."], "it ends without a word"
        finally:
            process.kill()
    with FlightStore.open(tmp_path / "flight.record", read_only=True) as store:
        decisions = [record.content["what"] for record in store.records("decision")]
    assert decisions == ["watch started", "watch stopped"]
