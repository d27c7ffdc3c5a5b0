"""Recorded packets: our own log, logs of others with a time before each line, and playing them again."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, get_args

from pappus.sources.receivers._address import LogAddress
from pappus.sources.receivers._desk import Desk, Take
from pappus.sources.receivers._framing import LARGEST_MESSAGE
from pappus.sources.receivers._nmea import MOST_LINES, clock_field
from pappus.sources.receivers._setting import ReceiverSetting
from pappus.tracking import Heard, PacketKind, Role, received

_LONGEST_LINE = 3 * LARGEST_MESSAGE
_PLAIN = re.compile(
    r"(\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:[.,]\d{1,6})?(?:Z|[+-]\d\d:\d\d))\s(.*)", re.ASCII | re.DOTALL
)
_HEX = "hex:"
_LONGEST_EPOCH = timedelta(seconds=1)


def log_line(heard: Heard) -> str:
    """One packet as a line of our own log, without the end of the line."""
    text = heard.raw.decode("latin-1")
    plain = text.isascii() and text.isprintable()
    return json.dumps(
        {
            "receiver": heard.receiver,
            "counter": heard.counter,
            "heard_utc": heard.heard_utc.isoformat(),
            "kind": heard.kind,
            "role": heard.role,
            "signal_db": heard.signal_db,
            **({"text": text} if plain else {"hex": heard.raw.hex()}),
        },
        separators=(",", ":"),
    )


def read_log(path: Path, setting: ReceiverSetting, on_bad_line: Callable[[int, str], None]) -> Iterator[Heard]:
    """The packets of a log in the order of its lines; single lines of NMEA are joined to epochs.

    Lines of our own log come with the receiver, number and role that they were heard with. Other lines are a time with
    its zone, a blank, and the packet as text or as ``hex:`` digits; they get the name, kind and role of ``setting`` and
    the number of their line, so that playing a log twice gives the same packets. Raises OSError; a line that cannot be
    read goes to ``on_bad_line(number, why)``.
    """
    epoch: list[Heard] = []
    for heard in _lines(path, setting, on_bad_line):
        if epoch and not _same_epoch(epoch, heard):
            yield _joined(epoch)
            epoch = []
        if heard.kind == "nmea" and b"\n" not in heard.raw:
            epoch.append(heard)
        else:
            yield heard
    if epoch:
        yield _joined(epoch)


def _same_epoch(epoch: list[Heard], heard: Heard) -> bool:
    first, clock = epoch[0], clock_field(heard.raw)
    clocks = {clock_field(one.raw) for one in epoch} - {b""}
    return (
        heard.kind == "nmea"
        and b"\n" not in heard.raw
        and (heard.receiver, heard.role) == (first.receiver, first.role)
        and abs(heard.heard_utc - first.heard_utc) < _LONGEST_EPOCH
        and (not clock or clocks <= {clock})
        and len(epoch) < MOST_LINES
    )


def _joined(epoch: list[Heard]) -> Heard:
    first = epoch[0]
    if len(epoch) == 1:
        return first
    raw = b"".join(heard.raw + b"\r\n" for heard in epoch)
    return received(
        first.receiver, first.counter, first.heard_utc, "nmea", raw, signal_db=first.signal_db, role=first.role
    )


def _lines(path: Path, setting: ReceiverSetting, on_bad_line: Callable[[int, str], None]) -> Iterator[Heard]:
    with path.open("rb") as file:
        for number, line in enumerate(iter(lambda: file.readline(_LONGEST_LINE + 1), b""), 1):
            if not line.strip():
                continue
            try:
                if len(line) > _LONGEST_LINE:
                    raise ValueError(f"more than {_LONGEST_LINE} bytes")
                text = line.rstrip(b"\r\n").decode("latin-1")
                yield _own(text) if text.startswith("{") else _plain(text, number, setting)
            except (ValueError, KeyError, TypeError, RecursionError) as error:
                on_bad_line(number, str(error) or type(error).__name__)


def _own(text: str) -> Heard:
    found: dict[str, Any] = json.loads(text)
    raw = bytes.fromhex(found["hex"]) if "hex" in found else found["text"].encode("latin-1")
    kind, role, counter, signal = found["kind"], found["role"], found["counter"], found.get("signal_db")
    if kind not in get_args(PacketKind) or role not in get_args(Role):
        raise ValueError(f"{kind!r} or {role!r} is not known")
    if not isinstance(counter, int) or not isinstance(found["receiver"], str):
        raise ValueError("receiver or counter is not what it should be")
    return received(
        found["receiver"], counter, _utc(found["heard_utc"]), kind, raw,
        signal_db=None if signal is None else float(signal), role=role,
    )  # fmt: skip


def _plain(text: str, number: int, setting: ReceiverSetting) -> Heard:
    match = _PLAIN.fullmatch(text)
    if match is None:
        raise ValueError("not a time with its zone and a packet")
    rest = match[2]
    raw = bytes.fromhex(rest[len(_HEX) :]) if rest.startswith(_HEX) else rest.encode("latin-1")
    return received(setting.name, number, _utc(match[1].replace(",", ".")), setting.kind, raw, role=setting.role)


def _utc(text: str) -> datetime:
    found = datetime.fromisoformat(text)
    if found.tzinfo is None:
        raise ValueError("a time without its zone")
    return found.astimezone(UTC)


def replay(packets: Iterable[Heard], take: Take, *, speed: float | None, wait: Callable[[float], object]) -> int:
    """Hand recorded packets over with the pauses between them divided by ``speed``; returns how many.

    ``speed`` None: as fast as they are taken. ``wait(seconds)`` sleeps; where it gives something true the replay ends.
    Packets keep the time at which they were heard. A step back in the times makes no pause.
    """
    count, before_utc = 0, None
    for heard in packets:
        if speed is not None and before_utc is not None:
            pause_s = (heard.heard_utc - before_utc).total_seconds() / speed
            if pause_s > 0.0 and wait(pause_s):
                return count
        elif wait(0.0):
            return count
        before_utc = heard.heard_utc
        take(heard)
        count += 1
    return count


class LogSource:
    """A log that is played once, from its beginning."""

    again = False

    def __init__(self, address: LogAddress, setting: ReceiverSetting) -> None:
        self._address, self._setting = address, setting

    def run(self, desk: Desk) -> None:
        """Raises OSError when the log cannot be read."""

        def bad(number: int, why: str) -> None:
            desk.drop(1, f"line {number} of the log: {why}")

        with_pauses = read_log(Path(self._address.path), self._setting, bad)
        desk.opened()
        replay(with_pauses, desk.recorded, speed=self._address.speed, wait=desk.stopping.wait)
