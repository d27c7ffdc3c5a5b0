"""A shared desk as a phone meets it: https with the laptop's own certificate; http is for the laptop alone."""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
import socket
import ssl
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from pappus.errors import BadInput
from pappus.plan import example_plan_text
from pappus.web import run_desk


@pytest.fixture
def shared(tmp_path: Path) -> Iterator[dict[str, str]]:
    path = tmp_path / "flight.toml"
    path.write_text(example_plan_text(), encoding="utf-8")
    command = [sys.executable, "-u", "-m", "pappus.web", str(path), "--port", "0", "--share"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as process:
        try:
            assert process.stdout is not None
            said = "".join(process.stdout.readline() for _ in range(3))
            found = re.search(r"(http://\S+)/#enter=(\S+)\n.*(https://[\d.:]+);.*\n.*: ([0-9A-F:]+)\n", said)
            assert found, said
            names = ("loopback", "key", "address", "fingerprint")
            yield dict(zip(names, found.groups(), strict=True)) | {"folder": str(tmp_path)}
        finally:
            process.terminate()


def ask(address: str, path: str, context: ssl.SSLContext | None, body: object = None, cookie: str = "") -> Any:
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(address + path, data, {"content-type": "application/json", "cookie": cookie})
    return urllib.request.urlopen(request, timeout=30, context=context)


def test_phone_comes_in_over_https_alone(shared: dict[str, str]) -> None:
    certificate = Path(shared["folder"]) / "flight.desk" / "certificate.pem"
    trusting = ssl.create_default_context(cafile=str(certificate))
    with ask(shared["address"], "/api/enter", trusting, {"key": shared["key"]}) as entered:
        cookie = entered.headers["set-cookie"]
    assert "Secure" in cookie
    with ask(shared["address"], "/api/me", trusting, cookie=cookie.partition(";")[0]) as answer:
        assert json.load(answer)["shared"] is True
    seen = ssl.PEM_cert_to_DER_cert(certificate.read_text())
    assert hashlib.sha256(seen).hexdigest().upper() == shared["fingerprint"].replace(":", "")
    with pytest.raises(urllib.error.URLError):  # who does not know the certificate does not come in by mistake
        ask(shared["address"], "/api/me", ssl.create_default_context())
    host = shared["address"].removeprefix("https://").partition(":")[0]
    if not host.startswith("127."):
        port = int(shared["loopback"].rpartition(":")[2])
        with pytest.raises(ConnectionError), contextlib.closing(socket.create_connection((host, port), timeout=5)):
            pass  # plain http is for the laptop alone


def test_a_port_that_is_taken_is_said(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(BadInput, match=r"--port = \d+: cannot be used(.|\n)*such as --port"):
            run_desk(tmp_path / "flight.toml", port=port, browser=False)
    with pytest.raises(BadInput, match="--port"):
        run_desk(tmp_path / "flight.toml", port=70_000, browser=False)
