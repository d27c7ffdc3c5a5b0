"""Sharing on the local network: a certificate that the laptop makes for itself, its fingerprint and a QR code."""

from __future__ import annotations

import io
import ipaddress
import socket
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from pappus.web.desk._people import write_secret

if TYPE_CHECKING:
    from cryptography.x509 import Certificate

VALID = timedelta(days=90)
RENEW_BEFORE = timedelta(days=7)


@dataclass(frozen=True)
class Share:
    """How the crew reaches the desk over the local network."""

    address: str
    """https://host:port"""
    hosts: frozenset[str]
    fingerprint: str
    """SHA-256 of the certificate in hexadecimal pairs, as browsers show it."""
    certificate: Path
    private_key: Path


def share(folder: Path, port: int, now: datetime) -> Share:
    """Make the certificate in ``folder`` when there is none for this address, or when it ends within a week."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes

    address = local_address()
    names = [name for name in (socket.gethostname().lower(),) if name.isascii() and name]
    path, key_path = folder / "certificate.pem", folder / "certificate.key"
    made = x509.load_pem_x509_certificate(path.read_bytes()) if path.is_file() and key_path.is_file() else None
    if made is None or now + RENEW_BEFORE > made.not_valid_after_utc or address not in _addresses(made):
        made = _make(path, key_path, address, names, now)
    fingerprint = ":".join(f"{byte:02X}" for byte in made.fingerprint(hashes.SHA256()))
    return Share(f"https://{address}:{port}", frozenset({address, *names}), fingerprint, path, key_path)


def local_address() -> str:
    """The address of this laptop on the local network; no packet is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address for documentation (RFC 5737): only the route is looked up
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def qr_svg(text: str) -> str:
    """A QR code as an SVG picture."""
    import segno

    picture = io.BytesIO()
    segno.make(text, error="m").save(picture, kind="svg", xmldecl=False, scale=4, border=4, dark="#000", light="#fff")
    return picture.getvalue().decode("utf-8").strip()


def _addresses(certificate: Certificate) -> list[str]:
    from cryptography import x509

    names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return [str(address) for address in names.get_values_for_type(x509.IPAddress)]


def _make(path: Path, key_path: Path, address: str, names: list[str], now: datetime) -> Certificate:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "pappus desk on this laptop")])
    addresses = {ipaddress.ip_address(one) for one in ("127.0.0.1", address)}
    subjects = [x509.DNSName(one) for one in ("localhost", *names)] + [x509.IPAddress(one) for one in addresses]
    start = now.astimezone(UTC).replace(microsecond=0) - timedelta(days=1)  # phones' clocks may be behind
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(start)
        .not_valid_after(start + VALID)
        .add_extension(x509.SubjectAlternativeName(subjects), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    private = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    write_secret(key_path, private)
    write_secret(path, certificate.public_bytes(serialization.Encoding.PEM))
    return certificate
