"""Fifty pages that listen and never read, on a real server: the director goes on as before, and memory stays flat."""

from __future__ import annotations

import json
import socket
import statistics
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from pappus.plan import example_plan_text

VIEWERS = 50


class Director:
    """A browser of the standard library, with the link of the laptop."""

    def __init__(self, address: str, key: str) -> None:
        self.address = address
        _, headers = self.ask("POST", "/api/enter", {"key": key}, {})
        self.cookie = headers["set-cookie"].partition(";")[0]
        self.headers = {"cookie": self.cookie}
        self.headers["x-pappus-token"] = self.ask("GET", "/api/me")[0]["token"]

    def ask(
        self, method: str, path: str, body: object = None, headers: dict[str, str] | None = None
    ) -> tuple[Any, Any]:
        data = None if body is None else json.dumps(body).encode()
        sent = {"content-type": "application/json", **(self.headers if headers is None else headers)}
        request = urllib.request.Request(self.address + path, data, sent, method=method)
        with urllib.request.urlopen(request, timeout=30) as answer:
            text = answer.read()
            return (json.loads(text) if text else None), answer.headers


def open_stream(address: str, cookie: str) -> socket.socket:
    """A page that listens; nobody takes what it hears."""
    host, _, port = address.removeprefix("http://").partition(":")
    line = socket.socket()
    line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    line.connect((host, int(port)))
    line.sendall(f"GET /api/events HTTP/1.1\r\nHost: {host}:{port}\r\nCookie: {cookie}\r\n\r\n".encode())
    assert b"200 OK" in line.recv(2000)
    return line


def memory_kb(process: int) -> int:
    status = Path(f"/proc/{process}/status")
    if not status.is_file():
        pytest.skip("this system does not tell the memory of a process")
    return int(next(row for row in status.read_text().splitlines() if row.startswith("VmRSS")).split()[1])


def test_director_is_not_slowed_down(tmp_path: Path) -> None:
    path = tmp_path / "flight.toml"
    path.write_text(example_plan_text(), encoding="utf-8")
    command = [sys.executable, "-u", "-m", "pappus.web", str(path), "--port", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as process:
        try:
            assert process.stdout is not None
            address, _, key = process.stdout.readline().split(": ", 1)[1].strip().partition("/#enter=")
            director = Director(address, key)
            digest = director.ask("GET", "/api/plan")[0]["digest"]

            def change(count: int) -> list[float]:
                """Saves, each of which is told to every page; seconds until the answer is back."""
                nonlocal digest
                took = []
                for number in range(count):
                    edits = [{"path": "mission.about", "value": f"text {number} " + "x" * 500}]
                    began = time.perf_counter()
                    digest = director.ask("PUT", "/api/plan", {"digest": digest, "edits": edits})[0]["digest"]
                    took.append(time.perf_counter() - began)
                return took

            change(2)
            alone = change(8)
            lines = [open_stream(address, director.cookie) for _ in range(VIEWERS)]
            before_kb = memory_kb(process.pid)
            crowded = change(8)
            after_kb = memory_kb(process.pid)
            for line in lines:
                line.close()
            one, many = statistics.median(alone), statistics.median(crowded)
            print(
                f"saving: {1000 * one:.0f} ms alone, {1000 * many:.0f} ms beside {VIEWERS} pages that do not read; "
                f"memory {before_kb / 1024:.0f} then {after_kb / 1024:.0f} MB"
            )
            assert many < 2.0 * one + 0.2
            assert after_kb - before_kb < 30_000
        finally:
            process.terminate()
