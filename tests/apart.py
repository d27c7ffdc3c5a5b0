"""A coroutine in a thread of its own: what drives the browser keeps an event loop running in the main thread."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

Found = TypeVar("Found")


def run_apart(work: Coroutine[Any, Any, Found]) -> Found:
    """What the coroutine returns; its errors are raised here."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, work).result()
