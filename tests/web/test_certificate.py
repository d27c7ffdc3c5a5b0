"""The certificate that a laptop makes for itself, as the TLS of the standard library sees it."""

from __future__ import annotations

import hashlib
import ipaddress
import socket
import ssl
import threading
import xml.etree.ElementTree as ElementTree
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pappus.web import share
from pappus.web.desk._share import local_address, qr_svg

NOW = datetime.now(UTC)


def test_tls_accepts_it_for_this_address_and_its_fingerprint_is_that_on_the_page(tmp_path: Path) -> None:
    shared = share(tmp_path, 8341, NOW)
    serving = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    serving.load_cert_chain(shared.certificate, shared.private_key)
    asking = ssl.create_default_context(cafile=str(shared.certificate))  # checks dates and the address
    host = shared.address.removeprefix("https://").rpartition(":")[0]
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def once() -> None:
            accepted, _ = listening.accept()
            with accepted, serving.wrap_socket(accepted, server_side=True) as line:
                line.sendall(b"hello")

        thread = threading.Thread(target=once)
        thread.start()
        with (
            socket.create_connection(listening.getsockname()) as raw,
            asking.wrap_socket(raw, server_hostname=host) as line,
        ):
            assert line.recv(5) == b"hello"
            certificate = line.getpeercert(binary_form=True)
        thread.join(10)
    assert certificate is not None
    digest = hashlib.sha256(certificate).hexdigest().upper()
    assert shared.fingerprint.replace(":", "") == digest
    assert all(len(pair) == 2 for pair in shared.fingerprint.split(":"))


def test_it_is_kept_until_it_nears_its_end_or_the_address_changes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = share(tmp_path, 8341, NOW)
    assert share(tmp_path, 8341, NOW + timedelta(days=60)).fingerprint == first.fingerprint
    later = share(tmp_path, 8341, NOW + timedelta(days=85))
    assert later.fingerprint != first.fingerprint
    monkeypatch.setattr("pappus.web.desk._share.local_address", lambda: "192.0.2.7")
    moved = share(tmp_path, 8341, NOW + timedelta(days=85))
    assert moved.fingerprint != later.fingerprint
    assert moved.address == "https://192.0.2.7:8341"
    assert "192.0.2.7" in moved.hosts


def test_keys_are_for_their_owner_alone(tmp_path: Path) -> None:
    share(tmp_path, 8341, NOW)
    assert (tmp_path / "certificate.key").stat().st_mode & 0o077 == 0


def test_phones_take_it(tmp_path: Path) -> None:
    """Under 398 days, an address among its names, no authority: what browsers of phones ask for (from memory)."""
    from cryptography import x509

    shared = share(tmp_path, 8341, NOW)
    made = x509.load_pem_x509_certificate(shared.certificate.read_bytes())
    assert made.not_valid_after_utc - made.not_valid_before_utc < timedelta(days=398)
    assert made.not_valid_before_utc < NOW < made.not_valid_after_utc
    names = made.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert ipaddress.ip_address("127.0.0.1") in names.get_values_for_type(x509.IPAddress)
    assert not made.extensions.get_extension_for_class(x509.BasicConstraints).value.ca


def test_qr_code_is_a_picture_with_a_quiet_zone() -> None:
    """ISO/IEC 18004: 17 + 4 x version modules a side, 4 quiet modules around (from memory)."""
    picture = ElementTree.fromstring(qr_svg("https://192.0.2.7:8341/#enter=" + "k" * 32))
    assert picture.tag == "{http://www.w3.org/2000/svg}svg", "without its namespace no browser draws it"
    modules = float(picture.attrib["width"]) / 4 - 8
    assert (modules - 17) % 4 == 0
    assert 1 <= (modules - 17) / 4 <= 10


def test_address_is_one() -> None:
    assert ipaddress.ip_address(local_address()).version == 4
