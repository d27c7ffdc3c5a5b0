"""Packets and records as lines of JSON: the form of the export and of any link between two laptops."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any

from pappus.errors import BadFile, BadInput, Finding
from pappus.store._basis import Basis
from pappus.store._records import Record, record_row
from pappus.store._rows import packet_row
from pappus.tracking import Heard


def to_lines(items: Iterable[Heard | Record]) -> Iterator[bytes]:
    """One line each, ended by a line feed."""
    for item in items:
        content = _packet(item) if isinstance(item, Heard) else _record(item)
        yield json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def from_lines(lines: Iterable[bytes]) -> Iterator[Heard | Record]:
    """What ``to_lines`` was given; empty lines are passed over. BadFile names the first line that is not whole."""
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        try:
            content = json.loads(line)
            item = _as_heard(content["packet"]) if "packet" in content else _as_record(content["record"])
            told = content["packet" if "packet" in content else "record"]["digest"]
            found = packet_row(item)[2] if isinstance(item, Heard) else record_row(item)[3]
            if found.hex() != told:
                raise ValueError("it does not match its digest")
        except (ValueError, KeyError, TypeError, AttributeError, BadInput) as error:
            reason = f"it is not a whole packet or record ({error})"
            raise BadFile(Finding(f"line {number}", line[:60].decode("latin-1"), reason, "Send it again.")) from None
        yield item


def _packet(heard: Heard) -> dict[str, Any]:
    return {
        "packet": {
            "heard_utc": heard.heard_utc.isoformat(),
            "receiver": heard.receiver,
            "counter": heard.counter,
            "digest": heard.digest,
            "kind": heard.kind,
            "role": heard.role,
            "signal_db": heard.signal_db,
            "raw_hex": heard.raw.hex(),
        }
    }


def _as_heard(told: dict[str, Any]) -> Heard:
    when = datetime.fromisoformat(told["heard_utc"])
    raw, signal_db = bytes.fromhex(told["raw_hex"]), told["signal_db"]
    if not isinstance(told["counter"], int) or not isinstance(signal_db, int | float | None):
        raise TypeError("counter and signal_db must be numbers")
    signal_db = None if signal_db is None else float(signal_db)
    return Heard(told["receiver"], told["counter"], when, told["kind"], raw, told["digest"], signal_db, told["role"])


def _record(record: Record) -> dict[str, Any]:
    basis = None if record.basis is None else {"packets": record.basis.packets, "digest": record.basis.digest}
    return {
        "record": {
            "kind": record.kind,
            "made_utc": record.made_utc.isoformat(),
            "laptop": record.laptop,
            "digest": record.digest,
            "basis": basis,
            # as text, so that not one octet of it changes on the way
            "body": record.body.decode(),
        }
    }


def _as_record(told: dict[str, Any]) -> Record:
    made, basis = datetime.fromisoformat(told["made_utc"]), told["basis"]
    rests_on = None if basis is None else Basis(int(basis["packets"]), str(basis["digest"]))
    return Record(told["kind"], made, told["laptop"], rests_on, told["body"].encode())
