"""Recorded packets: the export of a store, logs of others with a time before each line, and playing them again."""

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
_RECORD = b'{"record"'
_LONGEST_EPOCH = timedelta(seconds=1)


def read_log(path: Path, setting: ReceiverSetting, on_bad_line: Callable[[int, str], None]) -> Iterator[Heard]:
    """The packets of a log in the order of its lines; single lines of NMEA are joined to epochs.

    Lines of an exported store come with the receiver, number and role that they were heard with. Other lines are a
    time with its zone, a blank, and the packet as text or as ``hex:`` digits; they get the name, kind and role of
    ``setting`` and the number of their line, so that playing a log twice gives the same packets. Raises OSError; a line
    that cannot be read goes to ``on_bad_line(number, why)``.
    """
    epoch: list[Heard] = []
    for heard, plain in _lines(path, setting, on_bad_line):
        if epoch and not (plain and _same_epoch(epoch, heard)):
            yield _joined(epoch)
            epoch = []
        if plain and heard.kind == "nmea":
            epoch.append(heard)
        else:
            yield heard
    if epoch:
        yield _joined(epoch)


def _same_epoch(epoch: list[Heard], heard: Heard) -> bool:
    clock = clock_field(heard.raw)
    clocks = {clock_field(one.raw) for one in epoch} - {b""}
    near = abs(heard.heard_utc - epoch[0].heard_utc) < _LONGEST_EPOCH
    return near and (not clock or clocks <= {clock}) and len(epoch) < MOST_LINES


def _joined(epoch: list[Heard]) -> Heard:
    first = epoch[0]
    raw = b"".join(heard.raw + b"\r\n" for heard in epoch)
    return received(first.receiver, first.counter, first.heard_utc, "nmea", raw, role=first.role)


def _lines(
    path: Path, setting: ReceiverSetting, on_bad_line: Callable[[int, str], None]
) -> Iterator[tuple[Heard, bool]]:
    """Packets of single lines, and whether the line was one of others, without receiver and number."""
    with path.open("rb") as file:
        number = 0
        while line := file.readline(_LONGEST_LINE):
            number += 1
            whole = line.endswith(b"\n") or len(line) < _LONGEST_LINE
            while not whole:
                piece = file.readline(_LONGEST_LINE)
                whole = piece.endswith(b"\n") or len(piece) < _LONGEST_LINE
                if whole and not line.startswith(_RECORD):
                    on_bad_line(number, f"more than {_LONGEST_LINE} bytes")
                line = _RECORD if whole else line
            # what was worked out from packets is not heard again
            if not line.strip() or line.startswith(_RECORD):
                continue
            try:
                text = line.rstrip(b"\r\n").decode("latin-1")
                plain = not text.startswith("{")
                yield (_plain(text, number, setting) if plain else _own(text)), plain
            except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
                on_bad_line(number, str(error) or type(error).__name__)


def _own(text: str) -> Heard:
    found: dict[str, Any] = json.loads(text)["packet"]
    kind, role, counter, signal = found["kind"], found["role"], found["counter"], found["signal_db"]
    if kind not in get_args(PacketKind) or role not in get_args(Role):
        raise ValueError(f"{kind!r} or {role!r} is not known")
    if not isinstance(counter, int) or not isinstance(found["receiver"], str):
        raise ValueError("receiver or counter is not what it should be")
    heard = received(
        found["receiver"],
        counter,
        _utc(found["heard_utc"]),
        kind,
        bytes.fromhex(found["raw_hex"]),
        signal_db=None if signal is None else float(signal),
        role=role,
    )
    if heard.digest != found["digest"]:
        raise ValueError("the packet does not match its digest")
    return heard


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
