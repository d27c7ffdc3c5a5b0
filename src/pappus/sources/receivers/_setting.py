"""One receiver as a person writes it down, checked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import get_args

from pappus.errors import BadInput, Finding
from pappus.sources.receivers._address import Address, HttpAddress, MqttAddress, parse_address
from pappus.tracking import PacketKind, Role

_LONGEST_NAME = 80
_LOOPBACK = ("127.0.0.1", "::1", "localhost")


@dataclass(frozen=True)
class ReceiverSetting:
    """A receiver of this computer. Raises BadInput, naming each field that cannot be used."""

    name: str
    """Its id: packets are numbered under it, so no two computers of a crew may use one name."""
    role: Role
    kind: PacketKind
    address: str
    """See ``parse_address``."""
    password: str | None = field(default=None, repr=False)
    """For MQTT with a user, and the token that HTTP senders must show. Not for the plan file."""

    def __post_init__(self) -> None:
        findings = []
        where = f"receiver {self.name!r}"
        if not (0 < len(self.name) <= _LONGEST_NAME and self.name.isprintable() and self.name == self.name.strip()):
            findings.append(
                Finding("receiver name", self.name, "is not a short name on one line", "Write for example car-1.")
            )
        for name, value, known in (("role", self.role, get_args(Role)), ("kind", self.kind, get_args(PacketKind))):
            if value not in known:
                findings.append(Finding(f"{where}.{name}", value, "is not known", f"One of: {', '.join(known)}."))
        try:
            address: Address | None = parse_address(self.address, f"{where}.address")
        except BadInput as error:
            findings.extend(error.findings)
            address = None
        if isinstance(address, HttpAddress):
            if self.kind != "json":
                findings.append(Finding(f"{where}.kind", self.kind, "cannot come by HTTP", 'Set kind = "json".'))
            if address.host not in _LOOPBACK and not self.password:
                findings.append(
                    Finding(f"{where}.address", self.address, "lets anybody on the network send positions",
                            "Bind it to 127.0.0.1, or give a password that senders show.")
                )  # fmt: skip
        if isinstance(address, MqttAddress) and self.password and not address.user:
            findings.append(Finding(f"{where}.address", self.address, "has a password and no user", "mqtt://user@..."))
        if findings:
            raise BadInput(*findings)


def check_names(settings: Sequence[ReceiverSetting]) -> None:
    """Raises BadInput where two receivers have one name: their packets could not be told apart."""
    names = [setting.name for setting in settings]
    for name in sorted({name for name in names if names.count(name) > 1}):
        raise BadInput(Finding("receiver name", name, "stands twice", "Give each receiver its own name."))
