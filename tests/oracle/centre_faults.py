"""Fetches from a loopback centre while something goes wrong, and compares what is on disk with what the centre has.

A run ends as ``recovered`` (the files are right), as ``refused`` (a message of one line, nothing wrong on disk, and the
next try against a sound centre goes on and is right), as ``gap said`` (what is there is right, and the plan names what
is not), or as ``wrong``, which must never be.
"""

from __future__ import annotations

import os
import pickle
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

import eccodes
import numpy as np

from oracle.centre_runs import Key, Run
from oracle.centre_server import NEVER, CentreServer
from pappus.errors import BadInput
from pappus.sources.centres._fetch import fetch
from pappus.sources.centres._plan import plan_fetch
from pappus.sources.centres._rules import DownloadRules
from pappus.sources.centres._wish import FetchPlan, FetchWish
from sources.grib_writer import sections

RUN = datetime(2026, 3, 4, 6, tzinfo=UTC)
NOW = RUN + timedelta(hours=5)
AREA = (37.0, 52.0, -15.0, 18.0)
CENTRES = ("gfs", "gefs", "ifs", "ifs-ens")
STEPS_H = (3, 6)
RULES = DownloadRules(
    stall_s=0.15, grace_s=0.3, slowest_bytes_s=1e6, attempts=3, first_pause_s=0.001, merge_gap_bytes=500,
    largest_range_bytes=12_000, largest_skip_bytes=1_000_000, largest_text_bytes=300_000,
    reread_share=0.0,
)  # fmt: skip
HEADERS, VALUES = "headers", "values"
Array = np.ndarray[Any, np.dtype[np.float64]]
Rng = np.random.Generator


@lru_cache(maxsize=16)
def run_of(centre: str, state: int = 1) -> Run:
    """A small run; another state has other values, and in packed forms other lengths."""
    members = (0, 1) if centre in ("gefs", "ifs-ens") else (0,)
    levels = (1000, 850, 500, 100, 10)
    return Run(centre, RUN, STEPS_H, members, seed=state, shift=0.05 * (state - 1), levels_hpa=levels, decoys=2)


def wish_of(centre: str, **changes: Any) -> FetchWish:
    """A flight whose times both steps of the run cover."""
    members = (0, 1) if centre in ("gefs", "ifs-ens") else None
    start = RUN + timedelta(hours=STEPS_H[0])
    return replace(FetchWish(centre, AREA, start, start, 3.0 * 3600.0, members), **changes)


@dataclass(frozen=True)
class Outcome:
    """How a run ended."""

    end: str
    message: str
    moved_bytes: int


def outcome(centre: str, arm: Arm, folder: Path, rng: Rng, rules: DownloadRules = RULES) -> Outcome:
    """Fetch once with the fault, and again without it after a refusal."""
    with CentreServer([run_of(centre)]) as server:
        states = arm.faults(server, centre, rng) or (1,)
        rules = replace(rules, **arm.rules, allowed_hosts=frozenset(server.allowed))
        answer, message, moved, said = "recovered", "", 0, False
        try:
            with arm.around(folder):
                plan = planned(centre, server.url, rules)
                said = any("not published at" in note for note in plan.notes)
                if arm.during is not None:
                    arm.during(plan, folder, rules, server, rng)
                moved = fetch(plan, folder, rules=rules, sleep=_no_sleep).moved_bytes
        except BadInput as error:
            answer, message = "refused", str(error)
        wrong = wrong_on_disk(folder, centre, states)
        if not wrong and answer == "refused":
            if message.count("\n") or len(message) > 400 or "Traceback" in message:
                return Outcome("wrong", f"the message is not one line: {message}", moved)
            server.faults.clear()
            fetch(planned(centre, server.url, RULES), folder, rules=RULES, sleep=_no_sleep)
            wrong = wrong_on_disk(folder, centre, states)
        if not wrong and answer == "recovered" and said and missing_on_disk(folder, centre):
            return Outcome("gap said", "; ".join(plan.notes), moved)
        if not wrong:
            wrong = missing_on_disk(folder, centre)
        return Outcome("wrong", wrong, moved) if wrong else Outcome(answer, message, moved)


def planned(centre: str, url: str, rules: DownloadRules) -> FetchPlan:
    """The plan of a wish for the run."""
    return plan_fetch(wish_of(centre, run=RUN), base_url=url, rules=rules, now=lambda: NOW, sleep=_no_sleep)


def _no_sleep(seconds: float) -> None:
    """Pauses need not pass."""


def on_disk(folder: Path) -> Iterator[tuple[Path, dict[str, Any], Array]]:
    """Headers and values of every message that lies there as a whole file with its record, by ecCodes."""
    for path in sorted(folder.glob("*.grib2")):
        if not path.with_suffix(".json").exists():
            continue
        with open(path, "rb") as file:
            while (handle := eccodes.codes_grib_new_from_file(file)) is not None:
                yield path, _headers(handle), _values(handle)
                eccodes.codes_release(handle)


_NAMES = (
    "centre", "discipline", "parameterCategory", "parameterNumber", "level", "stepRange",
    "perturbationNumber", "dataDate", "dataTime",
)  # fmt: skip


def _headers(handle: int) -> dict[str, Any]:
    names = [name for name in _NAMES if eccodes.codes_is_defined(handle, name)]
    surface = eccodes.codes_get_long(handle, "typeOfFirstFixedSurface")
    return {**{name: eccodes.codes_get(handle, name) for name in names}, "surface": surface}


def _values(handle: int) -> Array:
    """Rows of latitude, longitude and value, sorted."""
    columns, rows = eccodes.codes_get(handle, "Ni"), eccodes.codes_get(handle, "Nj")
    north, west, dx, dy = (
        eccodes.codes_get(handle, name)
        for name in (
            "latitudeOfFirstGridPointInDegrees", "longitudeOfFirstGridPointInDegrees",
            "iDirectionIncrementInDegrees", "jDirectionIncrementInDegrees",
        )
    )  # fmt: skip
    latitude, longitude = north - dy * np.arange(rows), (west + dx * np.arange(columns)) % 360.0
    y, x = np.meshgrid(latitude, longitude, indexing="ij")
    points = np.round(np.column_stack([y.ravel(), x.ravel()]), 6)
    return np.column_stack([points, eccodes.codes_get_values(handle)])


@lru_cache(maxsize=4000)
def truth(centre: str, state: int, key: Key) -> tuple[dict[str, Any], dict[tuple[float, float], float]]:
    """Headers and values by place, as the centre has them."""
    handle = eccodes.codes_new_from_message(run_of(centre, state).truth(key))
    table = _values(handle)
    found = _headers(handle), {(lat, lon): value for lat, lon, value in table.tolist()}
    eccodes.codes_release(handle)
    return found


@lru_cache(maxsize=64)
def _keys_of(centre: str, state: int) -> dict[str, Key]:
    found = {}
    for file in run_of(centre, state).files.values():
        for key in file.keys:
            found[repr(sorted(truth(centre, state, key)[0].items()))] = key
    return found


def wrong_on_disk(folder: Path, centre: str, states: tuple[int, ...] = (1,)) -> str:
    """What is wrong with any file that counts as whole, empty when all are right and each is of one state."""
    of_file: dict[Path, set[int]] = {}
    for path, headers, table in on_disk(folder):
        fits = set()
        for state in states:
            key = _keys_of(centre, state).get(repr(sorted(headers.items())))
            if key is None:
                return f"{path.name}: a field that was not asked for: {headers}"
            expected = truth(centre, state, key)[1]
            if all(abs(expected[lat, lon] - value) <= 1e-9 * abs(value) for lat, lon, value in table.tolist()):
                fits.add(state)
        before = of_file.setdefault(path, set(states))
        before &= fits
        if not before:
            return f"{path.name}: values of {headers} are not those of the centre"
    return ""


def missing_on_disk(folder: Path, centre: str) -> str:
    """Which wanted field is not there, empty when none."""
    there = {repr(sorted(headers.items())) for _, headers, _ in on_disk(folder)}
    missing = [key for text, key in _keys_of(centre, 1).items() if text not in there]
    return f"{len(missing)} fields are missing, {missing[0]} first" if missing else ""


@contextmanager
def _nothing(folder: Path) -> Iterator[None]:
    yield


@dataclass(frozen=True)
class Arm:
    """One kind of misfortune."""

    name: str
    faults: Callable[[CentreServer, str, Rng], tuple[int, ...] | None]
    """Sets the faults; gives the states of the run that may be right where it is not the first alone."""
    rules: dict[str, Any]
    around: Callable[[Path], Any] = _nothing
    during: Callable[[FetchPlan, Path, DownloadRules, CentreServer, Rng], None] | None = None


def data_and_index(centre: str, rng: Rng) -> tuple[str, str]:
    """Pattern of one data file of a run and of its index."""
    run = run_of(centre)
    place = int(rng.integers(len(run.files)))
    return "/" + list(run.files)[place], "/" + list(run.indexes)[place]


def times(rng: Rng) -> int:
    """Once, twice or always."""
    return int(rng.choice([1, 2, NEVER]))


def header_bit(rng: Rng) -> Callable[[bytes], bytes]:
    """Another bit among the headers of one message of a body: all but the packed values and their scale."""
    return lambda body: _flip_in(body, rng, HEADERS)


def value_bit(rng: Rng) -> Callable[[bytes], bytes]:
    """Another bit among the packed values and their scale."""
    return lambda body: _flip_in(body, rng, VALUES)


def _flip_in(body: bytes, rng: Rng, where: str) -> bytes:
    starts = [at for at in range(len(body) - 16) if body[at : at + 4] == b"GRIB" and body[at + 7] == 2]
    starts = [at for at in starts if at + int.from_bytes(body[at + 8 : at + 16], "big") <= len(body)]
    if not starts:
        return body
    start = int(rng.choice(starts))
    message = body[start : start + int.from_bytes(body[start + 8 : start + 16], "big")]
    found = sections(message)
    values = [place for number in (5, 6, 7) for place in range(found[number][0] + 5, found[number][1])]
    places = values if where == VALUES else sorted(set(range(len(message))) - set(values))
    octets = bytearray(body)
    octets[start + int(rng.choice(places))] ^= 1 << int(rng.integers(8))
    return bytes(octets)


def later(seconds: float) -> str:
    """A date for Retry-After."""
    return format_datetime(datetime.fromtimestamp(time.time() + seconds, UTC), usegmt=True)


@contextmanager
def full_disk(folder: Path) -> Iterator[None]:
    """The system takes no file larger than some kilobytes."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4_000, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


_CHILD = """
import pickle, sys
sys.path[:0] = {path!r}
from pappus.sources.centres._fetch import fetch
plan, folder, rules = pickle.load(sys.stdin.buffer)
fetch(plan, folder, rules=rules)
"""


def killed(plan: FetchPlan, folder: Path, rules: DownloadRules, server: CentreServer, rng: Rng) -> None:
    """Another process begins and is killed at some moment after its first part is kept."""
    server.pause_s = 0.004
    child = subprocess.Popen([sys.executable, "-c", _CHILD.format(path=sys.path)], stdin=subprocess.PIPE)
    assert child.stdin is not None
    with child.stdin as pipe:
        pickle.dump((plan, folder, replace(rules, stall_s=5.0, grace_s=10.0)), pipe)
    end = time.monotonic() + 20.0
    while not list((folder / ".parts").glob("*.part")) and child.poll() is None and time.monotonic() < end:
        time.sleep(0.002)
    time.sleep(float(rng.uniform(0.0, 0.08)))
    os.kill(child.pid, signal.SIGKILL)
    child.wait()
    server.pause_s = 0.0
