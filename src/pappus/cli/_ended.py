"""What a command does until it is told to end."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def until_ended() -> Iterator[threading.Event]:
    """An event that Ctrl-C and SIGTERM set; in the main thread only. One that the caller has ignored stays so."""
    ended = threading.Event()

    def told(*_: object) -> None:
        # a handler runs in the midst of whatever the main thread does, which may hold the lock of the event
        threading.Thread(target=ended.set, name="ended").start()

    before = {}
    for one in (signal.SIGINT, signal.SIGTERM):
        if signal.getsignal(one) is not signal.SIG_IGN:
            before[one] = signal.signal(one, told)
    try:
        yield ended
    finally:
        for one, handler in before.items():
            signal.signal(one, handler)
