"""Server-sent events: one row of numbered events that every page reads at its own speed."""

from __future__ import annotations

import asyncio
import json
import secrets
import threading
from collections import deque
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from typing import Any

from pappus.web.desk._people import Role

KEPT = 2000
BEAT_S = 15.0
MOST_STREAMS = 120


@dataclass(frozen=True)
class Event:
    """One thing that happened, as it goes over the line."""

    number: int
    kind: str
    text: str
    """JSON on one line."""
    least: Role


class Hub:
    """The events of one desk.

    ``publish`` may be called from any thread and costs the same however many pages listen: it puts one event into a
    row that has an end. A page that reads too slowly for it is told ``missed`` and asks for everything anew.
    """

    def __init__(self) -> None:
        self._start = secrets.token_hex(4)
        self._row: deque[Event] = deque(maxlen=KEPT)
        self._next = 1
        self._lock = threading.Lock()
        self._wakers: dict[int, tuple[asyncio.AbstractEventLoop, asyncio.Event]] = {}

    @property
    def listeners(self) -> int:
        """How many pages listen now."""
        return len(self._wakers)

    def publish(self, kind: str, data: dict[str, Any], least: Role = Role.VIEWER) -> None:
        """Tell every page whose person is at least ``least``; ``data`` is JSON already."""
        text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        with self._lock:
            self._row.append(Event(self._next, kind, text, least))
            self._next += 1
            wakers = list(self._wakers.values())
        for loop, waker in wakers:
            if not loop.is_closed():
                loop.call_soon_threadsafe(waker.set)

    async def stream(
        self, last_id: str | None, may_see: Callable[[Role], bool], shown: Callable[[str], str]
    ) -> AsyncIterator[bytes]:
        """Lines for one page, from after ``last_id``; ``may_see`` is asked anew each time, so a revoked page ends."""
        waker = asyncio.Event()
        with self._lock:
            self._wakers[id(waker)] = (asyncio.get_running_loop(), waker)
        try:
            cursor, missed = self._cursor(last_id)
            yield b"retry: 2000\n\n"
            if missed:
                yield self._line(cursor, "missed", "{}")
            while may_see(Role.VIEWER):
                events, behind = self._after(cursor)
                if behind:
                    cursor = self._next - 1
                    yield self._line(cursor, "missed", "{}")
                    continue
                for event in events:
                    cursor = event.number
                    if may_see(event.least):
                        yield self._line(event.number, event.kind, shown(event.text))
                try:
                    await asyncio.wait_for(waker.wait(), BEAT_S)
                except TimeoutError:
                    yield b": still here\n\n"
                waker.clear()
        finally:
            with self._lock:
                del self._wakers[id(waker)]

    def _cursor(self, last_id: str | None) -> tuple[int, bool]:
        """Where to go on, and whether something may have been missed."""
        with self._lock:
            newest = self._next - 1
        if not last_id:
            return newest, False
        start, _, number = last_id.partition("-")
        if start != self._start or not number.isascii() or not number.isdigit() or int(number[:15]) > newest:
            return newest, True
        return int(number), False

    def _after(self, cursor: int) -> tuple[list[Event], bool]:
        with self._lock:
            first = self._row[0].number if self._row else self._next
            if cursor + 1 < first:
                return [], True
            skip = cursor + 1 - first
            return [self._row[index] for index in range(skip, len(self._row))], False

    def _line(self, number: int, kind: str, text: str) -> bytes:
        return f"id: {self._start}-{number}\nevent: {kind}\ndata: {text}\n\n".encode()
