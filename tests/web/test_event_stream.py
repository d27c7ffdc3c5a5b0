"""Server-sent events: in order, resumed where a page broke off, and slow readers slow down nobody."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator

import pytest

from apart import run_apart
from pappus.web import Role
from pappus.web.desk._events import KEPT, Hub


def read(line: bytes) -> tuple[str, str, object]:
    """Id, kind and data of one event, after the event stream format of the HTML standard (section 9.2.6)."""
    rows = dict(row.split(": ", 1) for row in line.decode().strip().split("\n"))
    return rows["id"], rows["event"], json.loads(rows["data"])


def everybody(_: Role) -> bool:
    return True


def same(text: str) -> str:
    return text


async def some(stream: AsyncIterator[bytes], count: int) -> list[tuple[str, str, object]]:
    """The first events of a stream, without its opening line."""
    found = []
    while len(found) < count:
        line = await asyncio.wait_for(anext(stream), 5.0)
        if line.startswith(b"id:"):
            found.append(read(line))
    return found


def test_events_come_in_order_and_from_any_thread() -> None:
    async def run() -> list[tuple[str, str, object]]:
        hub = Hub()
        hub.publish("plan", {"before": True})
        stream = hub.stream(None, everybody, same)
        assert await anext(stream) == b"retry: 2000\n\n"
        await asyncio.gather(*(asyncio.to_thread(hub.publish, "step", {"n": n}) for n in range(20)))
        found = await some(stream, 20)
        await stream.aclose()
        assert hub.listeners == 0
        return found

    found = run_apart(run())
    numbers = [int(name.rpartition("-")[2]) for name, _, _ in found]
    assert numbers == list(range(2, 22)), "what was before is not told to a new page"
    assert sorted(data["n"] for _, _, data in found) == list(range(20))


def test_a_page_that_comes_back_gets_what_it_missed() -> None:
    async def run() -> None:
        hub = Hub()
        first = hub.stream(None, everybody, same)
        await anext(first)
        hub.publish("a", {"n": 1})
        ((last, _, _),) = await some(first, 1)
        await first.aclose()
        for n in (2, 3):
            hub.publish("a", {"n": n})
        again = hub.stream(last, everybody, same)
        assert [data for _, _, data in await some(again, 2)] == [{"n": 2}, {"n": 3}]
        await again.aclose()

    run_apart(run())


@pytest.mark.parametrize("last", ["other-1", "", "x", "%s-99", "%s--1", "%s-1e3", "%s-", "%s-²", "9" * 5000])
def test_an_unknown_place_is_told_as_missed(last: str) -> None:
    async def run() -> list[str]:
        hub = Hub()
        hub.publish("a", {})
        stream = hub.stream((last % hub._start) if "%" in last else last, everybody, same)
        await anext(stream)
        hub.publish("b", {})
        found = await some(stream, 1 if not last else 2)
        await stream.aclose()
        return [kind for _, kind, _ in found]

    assert run_apart(run()) == (["b"] if not last else ["missed", "b"])


def test_who_reads_too_slowly_is_told_to_ask_anew() -> None:
    async def run() -> None:
        hub = Hub()
        stream = hub.stream(None, everybody, same)
        await anext(stream)
        hub.publish("a", {})
        await some(stream, 1)
        for n in range(KEPT + 10):
            hub.publish("b", {"n": n})
        ((_, kind, _),) = await some(stream, 1)
        assert kind == "missed"
        hub.publish("c", {})
        ((_, kind, _),) = await some(stream, 1)
        assert kind == "c"
        await stream.aclose()

    run_apart(run())


def test_roles_and_revoked_links() -> None:
    async def run() -> None:
        hub, role = Hub(), [Role.CREW]
        stream = hub.stream(None, lambda least: bool(role) and role[0].may(least), lambda text: text.replace("1", "x"))
        await anext(stream)
        hub.publish("for the director", {}, Role.DIRECTOR)
        hub.publish("for the crew", {"number": "112"}, Role.CREW)
        ((_, kind, data),) = await some(stream, 1)
        assert (kind, data) == ("for the crew", {"number": "xx2"})
        role.clear()
        hub.publish("for all", {})
        with pytest.raises(StopAsyncIteration):
            await asyncio.wait_for(anext(stream), 5.0)

    run_apart(run())


def test_fifty_viewers_that_do_not_read_cost_the_director_nothing() -> None:
    """Each viewer's stream is open and nobody takes a line from it while the director's page gets every event."""

    async def run(viewers: int) -> float:
        hub = Hub()
        slow = [hub.stream(None, everybody, same) for _ in range(viewers)]
        for stream in slow:
            await anext(stream)
        director = hub.stream(None, everybody, same)
        await anext(director)
        began = time.perf_counter()
        for n in range(500):
            hub.publish("estimate", {"n": n, "filling": "x" * 500})
            ((_, _, data),) = await some(director, 1)
            assert data["n"] == n
        took = time.perf_counter() - began
        for stream in (*slow, director):
            await stream.aclose()
        return took

    alone, crowded = run_apart(run(0)), run_apart(run(50))
    print(f"500 events to the director: {1000 * alone:.0f} ms alone, {1000 * crowded:.0f} ms beside 50 viewers")
    assert crowded < 3 * alone + 0.5
