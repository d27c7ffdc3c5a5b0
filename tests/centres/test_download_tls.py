"""Encrypted connections: whom a download trusts, and that its bounds hold there too."""

from __future__ import annotations

import shutil
import ssl
import subprocess
from pathlib import Path

import pytest

from oracle.centre_faults import RULES, missing_on_disk, run_of, wish_of, wrong_on_disk
from oracle.centre_server import CentreServer, Fault
from pappus.sources import NotFetched, fetch, plan_fetch


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A certificate that nobody has signed, with its key."""
    if shutil.which("openssl") is None:
        pytest.skip("the command openssl is not here to make a certificate")
    path = tmp_path_factory.mktemp("certificate") / "both.pem"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=loopback",
         "-addext", "subjectAltName=IP:127.0.0.1", "-keyout", str(path), "-out", str(path) + ".crt"],
        check=True, capture_output=True,
    )  # fmt: skip
    return path


def context(certificate: Path) -> ssl.SSLContext:
    found = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    found.load_cert_chain(f"{certificate}.crt", certificate)
    return found


def test_a_certificate_that_nobody_signed_is_refused(certificate: Path) -> None:
    with CentreServer([run_of("ifs")], context(certificate)) as server:
        with pytest.raises(NotFetched, match="its certificate is not valid"):
            plan_fetch(wish_of("ifs", run=run_of("ifs").run), base_url=server.url, rules=RULES)
        assert server.log == []


def test_faults_of_an_encrypted_connection(certificate: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("SSL_CERT_FILE", f"{certificate}.crt")
    data = "*3h-scda-fc.grib2"
    with CentreServer([run_of("ifs")], context(certificate)) as server, CentreServer() as plain:
        plan = plan_fetch(wish_of("ifs", run=run_of("ifs").run), base_url=server.url, rules=RULES)
        for place, kind in enumerate(("drip", "reset", "cut", "stalled", "silent")):
            server.faults[:] = [Fault(kind, data, 1, 1, 0.05 if kind == "drip" else 5.0)]
            fetch(plan, tmp_path / str(place), rules=RULES, sleep=lambda seconds: None)
            assert server.faults[0].times < 0, kind
            assert wrong_on_disk(tmp_path / str(place), "ifs") == missing_on_disk(tmp_path / str(place), "ifs") == ""
        server.faults[:] = [Fault("redirect", data, value=plain.url)]
        with pytest.raises(NotFetched, match="an address that is not encrypted"):
            fetch(plan, tmp_path / "plain", rules=RULES)
        assert plain.log == []
