"""Work for many files, a few at a time."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_EXCEPTION, ThreadPoolExecutor, wait
from typing import TypeVar

from pappus.sources.centres._http import Downloader, retried
from pappus.sources.centres._rules import DownloadRules, Sleep, Step

One = TypeVar("One")
Other = TypeVar("Other")


class Gatherer:
    """Does work for many files at a time with the same bounds, and tells of it in one voice."""

    def __init__(self, rules: DownloadRules, step: Step, sleep: Sleep) -> None:
        self.rules, self._step, self.sleep = rules, step, sleep
        self.downloader = Downloader(rules)
        self._voice = threading.Lock()
        self._pool = ThreadPoolExecutor(rules.connections, thread_name_prefix="fetch")

    def __enter__(self) -> Gatherer:
        return self

    def __exit__(self, *_: object) -> None:
        self._pool.shutdown(cancel_futures=True)
        self.downloader.close_all()

    def step(self, words: str) -> None:
        """Tell what happens, from any thread."""
        with self._voice:
            self._step(words)

    def all(self, work: Callable[[One], Other], many: Sequence[One]) -> list[Other]:
        """Results in order; the first error ends it, and what has not begun is left."""
        futures = [self._pool.submit(work, one) for one in many]
        try:
            wait(futures, return_when=FIRST_EXCEPTION)
        finally:
            for future in futures:
                future.cancel()
            wait(futures)
        for future in futures:
            if not future.cancelled():
                future.result()
        return [future.result() for future in futures]

    def retried(self, work: Callable[[], Other], what: str) -> Other:
        """As ``retried``, by the rules of this one."""
        return retried(work, what, self.rules, self.step, self.sleep)
