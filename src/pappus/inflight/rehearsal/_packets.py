"""What the stations of a rehearsal receive: real packets of the truth, some lost, late, twice or damaged."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from pappus.earth import distance_m
from pappus.inflight.rehearsal._faults import Fault
from pappus.inflight.rehearsal._truth import Truth
from pappus.recovery import Station, last_heard_height_m
from pappus.tracking import PacketKind, Role
from pappus.units import foot_m, zero_celsius_k

Array = NDArray[np.float64]

TRACKER = "DRILL-11"
POSITION_SD_M, HEIGHT_SD_M = 4.0, 7.0
"""Noise of a usual receiver (common practice, no source)."""
BEFORE_S, AFTER_S = 300.0, 600.0
"""The tracker is on before the planned release and after the touchdown."""
SILENT_FOR_S = (600.0, 9000.0)
DEAD_FOR_S = 9000.0
"""A rehearsal waits so long for a tracker that does not speak again."""
MUTE = frozenset({Fault.SILENT_TRACKER, Fault.DEAD_TRACKER})
_FARTHEST_M = 500_000.0


@dataclass(frozen=True)
class Air:
    """How bad the radio is; shares of the packets of each station. Invented, on the bad side of usual."""

    lost: float = 0.10
    """Near by; more with distance."""
    twice: float = 0.03
    late: float = 0.02
    late_by_s: tuple[float, float] = (5.0, 60.0)
    damaged: float = 0.02


AIR = Air()


@dataclass(frozen=True)
class Ear:
    """One station of the rehearsal and how it hands its packets over."""

    station: Station
    kind: PacketKind
    by: str
    """``udp``, ``tcp`` or ``http``."""


class Sent(NamedTuple):
    """One packet that reaches a receiver."""

    arrives_s: float
    receiver: str
    kind: PacketKind
    raw: bytes
    role: Role
    measured_s: float
    """By a right clock."""
    damaged: bool


@dataclass(frozen=True, eq=False)
class Told:
    """What the tracker says of itself: one row a fix."""

    measured_s: Array
    stamped_s: Array
    latitude_deg: Array
    longitude_deg: Array
    height_msl_m: Array
    battery_v: Array
    inside_k: Array
    heard: NDArray[np.bool_]
    """False while the tracker is silent."""
    fault_at_s: tuple[tuple[Fault, float, float], ...]
    """When each fault of tracker and box begins to show, and ends."""

    @property
    def over_s(self) -> float:
        """The crew listens so long."""
        silent = [until for fault, _, until in self.fault_at_s if fault in MUTE]
        return max([float(self.measured_s[-1]), *silent])


def told_by(truth: Truth, planned_s: float, every_s: float, rng: np.random.Generator) -> Told:
    """The fixes of the tracker, with its faults.

    :param planned_s: the planned release.
    """
    times = np.arange(np.ceil(planned_s - BEFORE_S), truth.landed_s + AFTER_S, every_s)
    latitude, longitude, height = truth.at(times)
    noise = rng.standard_normal((3, len(times)))
    north = np.degrees(POSITION_SD_M * noise[0] / 6.37e6)
    east = np.degrees(POSITION_SD_M * noise[1] / 6.37e6) / np.cos(np.radians(latitude))
    told_m = height + HEIGHT_SD_M * noise[2]
    span, faults, shown = truth.landed_s - truth.released_s, truth.faults, []

    def begins(first: float, last: float) -> float:
        return truth.released_s + float(rng.uniform(first, last)) * span

    stamped, speaks = times.copy(), np.ones(len(times), dtype=np.bool_)
    flown = np.clip((times - truth.released_s) / max(span, 1.0), 0.0, 1.0)
    volts, inside = 4.10 - 0.35 * flown, 290.0 - 20.0 * np.sin(np.pi * flown)
    if Fault.FROZEN_HEIGHT in faults:
        limit = float(rng.uniform(0.35, 0.7)) * float(truth.height_msl_m.max())
        over = np.flatnonzero(height > limit)
        told_m[over] = told_m[over[0]]
        shown.append((Fault.FROZEN_HEIGHT, float(times[over[0]]), float(times[over[-1]])))
    if Fault.WRONG_HEIGHT in faults:
        told_m += float(rng.uniform(38.0, 90.0)) * float(rng.choice([-1.0, 1.0]))
        shown.append((Fault.WRONG_HEIGHT, float(times[0]), truth.landed_s))
    if Fault.WRONG_CLOCK in faults:
        at = begins(0.15, 0.6)
        stamped[times >= at] += float(rng.uniform(120.0, 1500.0)) * float(rng.choice([-1.0, 1.0]))
        shown.append((Fault.WRONG_CLOCK, at, truth.landed_s))
    if Fault.SILENT_TRACKER in faults:
        at = begins(0.1, 0.8)
        until = at + float(rng.uniform(*SILENT_FOR_S))
        speaks &= (times < at) | (times >= until)
        shown.append((Fault.SILENT_TRACKER, at, until))
    if Fault.DEAD_TRACKER in faults:
        at = begins(0.1, 0.8)
        speaks &= times < at
        shown.append((Fault.DEAD_TRACKER, at, max(at + DEAD_FOR_S, float(times[-1]))))
    if Fault.LOW_POWER in faults:
        at = begins(0.15, 0.6)
        volts = volts - 0.9 * np.clip((times - at) / 1200.0, 0.0, 1.0)
        shown.append((Fault.LOW_POWER, at, truth.landed_s))
    if Fault.COLD_BOX in faults:
        at = begins(0.15, 0.6)
        inside = inside - 45.0 * np.clip((times - at) / 900.0, 0.0, 1.0)
        shown.append((Fault.COLD_BOX, at, truth.landed_s))
    volts = volts + 0.01 * rng.standard_normal(len(times))
    return Told(
        times, stamped, latitude + north, longitude + east, told_m, volts, inside, speaks, tuple(shown)
    )  # fmt: skip


def packets_of(
    truth: Truth, told: Told, ears: Sequence[Ear], epoch: datetime, air: Air, rng: np.random.Generator
) -> list[Sent]:
    """Everything that reaches a receiver, in order of arrival.

    A station hears what stands above the horizon of an earth of 4/3 its radius; hills are not counted.
    """
    latitude, longitude, height = truth.at(told.measured_s)
    sent: list[Sent] = []
    for ear in ears:
        place = ear.station
        away = distance_m(place.latitude_deg, place.longitude_deg, latitude, longitude)
        hidden = np.array(
            [last_heard_height_m(min(float(d), 1e6), place.antenna_m) + place.ground_msl_m for d in np.atleast_1d(away)]
        )
        seen = told.heard & (height + 2.0 >= hidden) & (away < _FARTHEST_M)
        lost = air.lost + (1.0 - air.lost) * 0.5 * (away / _FARTHEST_M) ** 2
        seen &= rng.random(len(seen)) >= lost
        for row in np.flatnonzero(seen):
            raw = _packet(ear.kind, told, int(row), epoch)
            luck = rng.random(3)
            arrives = float(told.measured_s[row]) + float(rng.uniform(0.3, 1.2))
            if luck[0] < air.late:
                arrives += float(rng.uniform(*air.late_by_s))
            damaged = bool(luck[1] < air.damaged)
            if damaged:
                raw = _damage(raw, rng)
            copies = 2 if luck[2] < air.twice else 1
            sent += [
                Sent(
                    arrives + 0.4 * copy,
                    place.name,
                    ear.kind,
                    raw,
                    "ground station",
                    float(told.measured_s[row]),
                    damaged,
                )
                for copy in range(copies)
            ]
    return sorted(sent, key=lambda one: (one.arrives_s, one.receiver))


def _packet(kind: PacketKind, told: Told, row: int, epoch: datetime) -> bytes:
    when = epoch + timedelta(seconds=float(told.stamped_s[row]))
    latitude, longitude, height = (
        float(values[row]) for values in (told.latitude_deg, told.longitude_deg, told.height_msl_m)
    )
    if kind == "json":
        return json.dumps(
            {
                "tracker": TRACKER,
                "time_utc": when.isoformat(),
                "latitude_deg": round(latitude, 6),
                "longitude_deg": round(longitude, 6),
                "height_msl_m": round(height, 1),
                "battery_v": round(float(told.battery_v[row]), 2),
                "temperature_k": {"inside": round(float(told.inside_k[row]), 1)},
            }
        ).encode()
    # a position with time and height as APRS 1.0.1 writes it (chapters 6 and 8), in monitor form
    celsius = float(told.inside_k[row]) - zero_celsius_k
    return (
        f"{TRACKER}>APRS:/{when:%H%M%S}h{_minutes(latitude, 2)}{'NS'[latitude < 0]}/"
        f"{_minutes(longitude, 3)}{'EW'[longitude < 0]}O/A={round(height / foot_m):06d}"
        f" {float(told.battery_v[row]):.2f}V {celsius:.0f}C"
    ).encode()


def _minutes(degrees: float, digits: int) -> str:
    whole, minutes = divmod(round(abs(degrees) * 6000), 6000)
    return f"{whole:0{digits}d}{minutes / 100:05.2f}"


def _damage(raw: bytes, rng: np.random.Generator) -> bytes:
    """One byte with one of its bits turned."""
    broken = bytearray(raw)
    broken[int(rng.integers(len(broken)))] ^= 1 << int(rng.integers(7))
    # a line may not be cut in two by it: that is another fault
    return bytes(broken).replace(b"\n", b"?").replace(b"\r", b"?")
