"""The live view: readable at 80 by 24 and narrower, ages and doubts named. The flight is invented."""

from __future__ import annotations

import io
import re
import threading
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from pappus.cli._watch import STALE_S, WatchView, live_watch, watch_lines
from pappus.inflight import CatchingUp, Watched
from pappus.sources.receivers import ReceiverState
from pappus.store import FlightStore, Safety
from pappus.tracking import Estimate, Estimator, Fix, LaunchPlace, received

START = datetime(2026, 5, 1, 9, tzinfo=UTC)
SAFE = Safety(0, 0, 0, None, "")


def fix(second: int, tracker: str = "BALLOON-1", checked: bool = True, north_deg: float = 0.0) -> Fix:
    """Sixty seconds on the ground, up at 5 m/s to 12 km, down at 20."""
    top_s = 60 + 2300
    height = 500.0 if second < 60 else 500.0 + 5.0 * (second - 60)
    if second > top_s:
        height = max(500.0, 12_000.0 - 20.0 * (second - top_s))
    drifted = min(max(0, second - 60), 2300 + 575)
    return Fix(
        tracker, START + timedelta(seconds=second), "full", 48.0 + north_deg, 11.0 + 2e-4 * drifted, height,
        None, fix_quality="three-dimensional", battery_v=7.14, temperature_k={"inside": 281.0, "outside": 231.0},
        checked=checked,
    )  # fmt: skip


def flown(until: int, other_deg: float | None = None, checked: bool = True) -> Estimator:
    estimator = Estimator(LaunchPlace(48.0, 11.0, 500.0))
    for second in range(until):
        when = START + timedelta(seconds=second + 0.4)
        fixes = (fix(second, checked=checked),)
        if other_deg is not None:
            fixes = (*fixes, fix(second, "BALLOON-2", north_deg=other_deg))
        estimator.take(received("hill", second, when, "json", f"{second}".encode()), fixes)
    return estimator


@cache
def estimated(until: int, other_deg: float | None = None, checked: bool = True) -> Estimate | None:
    return flown(until, other_deg, checked).estimate()


def state(name: str = "hill", age_s: float | None = 1.2, error: str = "", phase: Any = "connected") -> ReceiverState:
    return ReceiverState(
        name, "ground station", "json", "tcp://127.0.0.1:9", phase, error, age_s, 10, 100, 0, 1,
        4.2 if phase == "waiting" else None,
    )  # fmt: skip


def watched(estimate: Estimate | None, *states: ReceiverState, **changed: object) -> Watched:
    values: dict[str, Any] = {
        "estimate": estimate, "receivers": states or (state(),), "safety": SAFE, "catching_up": None,
        "out_of_order": 0, "faults": 0, "last_fault": "",
    }  # fmt: skip
    return Watched(**(values | changed))


def drawn(look: Watched, now_utc: datetime, width: int = 80, height: int = 24) -> list[str]:
    view = WatchView(lambda: now_utc)
    view.show(look)
    console = Console(file=io.StringIO(), width=width, height=height, color_system=None, highlight=False)
    console.print(view)
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue().splitlines()


def said(look: Watched, now_utc: datetime) -> str:
    return "\n".join(f"{line.name} {line.value}" for line in watch_lines(look, now_utc))


NOW = START + timedelta(seconds=2503)


def test_all_of_a_flight_is_said_in_80_by_24() -> None:
    look = watched(estimated(2500, other_deg=1e-5), state(), state("car-1", None, "refused", "waiting"))
    lines = drawn(look, NOW)
    print("\n".join(lines))
    assert len(lines) <= 24
    text = "\n".join(lines)
    for words in (
        "DESCENT  since 09:39:", "48.0000° N 11.4878° E", "BALLOON-1", "measured 4 s, heard 4 s", "km (", "-20.0 m/s (",
        "towards 090°", "Z ±2 s at 12.0 km", "battery 7.14 V, inside 8 °C, outside -42 °C", "m/s from 270° at",
        "hill: connected, 1 s, hears BALLOON-1, BALLOON-2", "car-1: waiting, again in 5 s, nothing heard, refused",
        "BALLOON-1: fix 4 s, 1 m apart", "released 09:01:00Z",
    ):  # fmt: skip
        assert words in " ".join(text.split()) or words in text, words
    assert "STALE" not in text


@pytest.mark.parametrize(("width", "height"), [(30, 24), (40, 20), (60, 12), (80, 24), (120, 50), (24, 60)])
def test_nothing_is_cut_off_and_the_state_comes_first(width: int, height: int) -> None:
    look = watched(estimated(2500, other_deg=0.002), state(error="x" * 70), state("car-1"), state("car-2", 99.0))
    lines = drawn(look, NOW, width, height)
    assert len(lines) <= height
    assert max(map(len, lines)) <= width
    assert not any("…" in line for line in lines)
    text = "".join("".join(lines).split())
    for words in ("DESCENT", "48.0020°N11.4878°E", "measured4s"):
        assert words in text
    assert ("makethewindowtaller" in text) is (height in (12, 20, 24) and (width, height) != (80, 24))


def test_ages_over_half_a_minute_are_called_stale() -> None:
    look = watched(estimated(2500), state(age_s=STALE_S + 1.0))
    fresh = said(look, START + timedelta(seconds=2499) + timedelta(seconds=STALE_S))
    assert "measured 30 s" in fresh
    assert "hill: connected, STALE 31 s" in fresh
    old = said(look, NOW + timedelta(minutes=4))
    assert "measured STALE 4 min 04 s, heard STALE 4 min 04 s" in old
    assert "outside -42 °C  STALE 4 min 04 s" in old


def test_a_clock_that_is_wrong_is_named() -> None:
    assert "CLOCK: 3 min" in said(watched(estimated(2500)), NOW - timedelta(seconds=188))


def test_doubts_are_named() -> None:
    assert "UNCHECKED" in said(watched(estimated(300, checked=False)), NOW)
    assert "NOT CONFIRMED" in said(watched(estimated(2)), NOW)
    apart = said(watched(estimated(600, other_deg=0.02)), NOW)
    assert "DISAGREES" in apart
    assert "disagree by 2.2 km" in apart
    last = flown(600)
    when = START + timedelta(seconds=600)
    last.take(received("hill", 900, when, "json", b"far"), (fix(600, north_deg=5.0),))
    text = said(watched(last.estimate()), when)
    assert "refused BALLOON-1, newest packet: farther than a balloon can drift" in text
    assert "warning BALLOON-1: 1 fixes refused" in text


def test_nothing_heard_and_nothing_believed() -> None:
    assert "NO POSITION  Nothing heard yet." in said(watched(Estimator().estimate()), NOW)
    lost = Estimator()
    empty = Fix("BALLOON-1", START, "full", None, None, None, None, fix_quality="none")
    lost.take(received("hill", 1, START, "json", b"1"), (empty,))
    text = said(watched(lost.estimate()), NOW)
    assert "NO POSITION  packets are heard" in text
    assert "no position" in text


def test_the_ground_and_the_field() -> None:
    ground = said(watched(estimated(50)), START + timedelta(seconds=50))
    assert "ON THE GROUND" in ground
    assert "drift none" in ground
    landed = said(watched(estimated(3100)), START + timedelta(seconds=3100))
    assert "LANDED" in landed
    assert re.search(r"landed 09:(48:5|49:[01])", landed)  # it touched at 09:48:55


def test_troubles_of_the_watch_itself() -> None:
    look = watched(
        estimated(300), catching_up=CatchingUp(1200, 29_000), safety=Safety(12, 3, 0, START, "disk full"), faults=2,
        last_fault="KeyError('x')",
    )  # fmt: skip
    text = said(look, NOW)
    assert "CATCHING UP  1,200 of 29,000" in text
    assert "DISK 12 packets are not on the disk, 3 lost: disk full" in text
    assert "fault 2 inside, last: KeyError('x')" in text


@pytest.mark.parametrize("terminal", [True, False])
def test_a_watch_on_a_screen(tmp_path: Path, terminal: bool) -> None:
    ended, out = threading.Event(), io.StringIO()
    console = Console(file=out, force_terminal=terminal, width=80, height=24, color_system=None)
    timer = threading.Timer(1.5, ended.set)
    with FlightStore.open(tmp_path / "flight.db") as store:
        for second in range(100):
            when = START + timedelta(seconds=second)
            raw = f'{{"tracker": "B", "time_utc": "{when.isoformat()}", "latitude_deg": 48, "longitude_deg": 11}}'
            store.take(received("hill", second, when, "json", raw.encode()))
        timer.start()
        last = live_watch(store, (), Estimator, ended, console=console)
    assert last is not None
    assert last.estimate is not None
    assert last.estimate.packets == 100
    assert "48.0000° N 11.0000° E" in out.getvalue()
    assert "UNCHECKED" in out.getvalue()


def test_a_silent_balloon_in_the_air_is_only_known_to_have_been_in_its_phase() -> None:
    look = watched(estimated(2500))
    assert "DESCENT  since" in said(look, NOW + timedelta(seconds=100))
    late = said(look, NOW + timedelta(seconds=200))
    assert "NOT HEARD  descent when last heard  since 09:39:" in late
    assert "DESCENT" not in late
