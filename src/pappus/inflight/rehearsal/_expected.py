"""What a crew should have been warned of in a rehearsal, told from the truth and from what reached the stations."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from pappus.inflight.rehearsal._fast import Rehearsed
from pappus.inflight.rehearsal._faults import Fault
from pappus.inflight.warnings import (
    LIMITS,
    OPENING_S,
    THICK_BELOW_MSL_M,
    THIN_AIR,
    WarningKind,
    WarningLimits,
    ahead_of,
)

Array = NDArray[np.float64]

LOOK_S = 60.0
"""A crew is told within a minute of the moment at which a warning may come."""
HOUR_S = 3600.0
DOWN_S = 30.0
"""Heard so long after the touchdown, a balloon is seen to lie still."""
BLIND = frozenset({Fault.FROZEN_HEIGHT, Fault.SILENT_TRACKER, Fault.DEAD_TRACKER, Fault.WRONG_CLOCK})
"""With these the track is not whole: what could not be heard is not counted as missed."""
_OF_SILENCE = frozenset({WarningKind.FLOATER, WarningKind.SLOW_CLIMB, WarningKind.DESCENT_REPORT})
FOLLOWS: Mapping[Fault, frozenset[WarningKind]] = MappingProxyType(
    {
        Fault.SLOW_CLIMB: frozenset({WarningKind.FLOATER, WarningKind.EARLY_BURST, WarningKind.DESCENT_REPORT}),
        Fault.FLOATER: frozenset({WarningKind.SLOW_CLIMB, WarningKind.EARLY_BURST, WarningKind.DESCENT_REPORT}),
        Fault.EARLY_BURST: frozenset({WarningKind.DESCENT_REPORT}),
        Fault.FROZEN_HEIGHT: frozenset(set(WarningKind) - {WarningKind.POWER, WarningKind.COLD}),
        Fault.SILENT_TRACKER: _OF_SILENCE,
        Fault.DEAD_TRACKER: _OF_SILENCE,
        Fault.WRONG_CLOCK: frozenset(set(WarningKind) - {WarningKind.POWER, WarningKind.COLD}),
        Fault.WRONG_HEIGHT: frozenset(),
    }
)
"""Warnings that a fault may bring besides its own: those are no false alarms."""


@dataclass(frozen=True)
class Expected:
    """A warning of this kind should stand or come between two times, in seconds after the epoch."""

    kind: WarningKind
    from_s: float
    until_s: float
    subject: str | None = None
    blind: bool = False
    """The tracker was not heard whole, and where it comes down could not be followed: counted apart."""


@dataclass(frozen=True)
class Due:
    """What a rehearsal asks for, and what it leaves open."""

    expected: tuple[Expected, ...]
    open_kinds: frozenset[WarningKind]
    """Neither a hit nor a false alarm: the truth lies near the limit, or another fault brings it."""


def due_of(done: Rehearsed, limits: WarningLimits = LIMITS) -> Due:
    """All warnings that the truth asks for."""
    truth, planned = done.truth, done.stage.planned
    expected = [*_of_faults(done, limits), *_ahead(done), *_silences(done, limits)]
    longest_s = max((end - start for start, end in gaps_s(done)), default=0.0)
    open_kinds = {kind for fault in truth.faults for kind in FOLLOWS.get(fault, frozenset())}
    fall = fall_over_plan(done, limits)
    blind = bool(truth.faults & BLIND)
    if 2.0 * HOUR_S - limits.two_hours_ahead_s - LOOK_S < longest_s <= 2.0 * HOUR_S:
        # the call was made ready, and then it spoke again
        open_kinds.add(WarningKind.TWO_HOURS)
    if 0.8 * limits.no_position_s < longest_s <= limits.no_position_s + LOOK_S:
        open_kinds.add(WarningKind.NO_POSITION)
    if Fault.SLOW_CLIMB in truth.faults and not any(one.kind is WarningKind.SLOW_CLIMB for one in expected):
        # little gas, and a strong climb for what there is: near the plan, or not seen
        open_kinds.add(WarningKind.SLOW_CLIMB)
    if fall > limits.fast_descent[0] + (0.0 if truth.fouled else 0.10):
        if not blind:
            until = max(truth.landed_s - 60.0, truth.top_s + OPENING_S + limits.fall_over_s + 2.0 * LOOK_S)
            expected.append(Expected(WarningKind.FAST_DESCENT, truth.top_s, until))
        else:
            open_kinds.add(WarningKind.FAST_DESCENT)
    elif truth.fouled or fall > limits.fast_descent[1] + 0.05:
        # a large canopy that is fouled may fall as a sound one does, and nobody can tell
        open_kinds.add(WarningKind.FAST_DESCENT)
    top = float(truth.height_msl_m.max())
    if top < planned.burst_low_msl_m - 500.0:
        if not blind:
            expected.append(Expected(WarningKind.EARLY_BURST, truth.top_s, truth.top_s + 6.0 * LOOK_S))
        else:
            open_kinds.add(WarningKind.EARLY_BURST)
    elif top < planned.burst_low_msl_m + 300.0:
        open_kinds.add(WarningKind.EARLY_BURST)
    report_s = truth.top_s - HOUR_S
    if (
        done.report_asked
        and report_s > truth.released_s + 5.0 * LOOK_S
        and not blind
        and WarningKind.DESCENT_REPORT not in open_kinds
    ):
        expected.append(Expected(WarningKind.DESCENT_REPORT, report_s - 0.5 * HOUR_S, report_s + LOOK_S))
    else:
        open_kinds.add(WarningKind.DESCENT_REPORT)
    return Due(tuple(expected), frozenset(open_kinds))


def _climbed(done: Rehearsed, after_s: float) -> float:
    """Share of the planned climb that the flight really made of it by so long after its release."""
    truth, planned = done.truth, done.stage.planned
    _, _, height = truth.at(np.array(truth.released_s + after_s))
    return planned.climb_takes_s(planned.site_msl_m, float(height)) / after_s


def _of_faults(done: Rehearsed, limits: WarningLimits) -> Iterator[Expected]:
    truth = done.truth
    late_s = limits.climb_over_s + 6.0 * LOOK_S
    slow = Fault.SLOW_CLIMB in truth.faults and _climbed(done, late_s) < limits.slow_climb[0] - 0.05
    if slow and not truth.faults & BLIND and truth.top_s > truth.released_s + late_s:
        yield Expected(WarningKind.SLOW_CLIMB, truth.released_s, truth.released_s + late_s)
    if truth.floats_s is not None and not truth.faults & BLIND:
        yield Expected(WarningKind.FLOATER, truth.floats_s[0], truth.floats_s[0] + 600.0)
    told = done.told
    aloft = (told.measured_s > truth.released_s) & (told.measured_s < truth.landed_s) & told.heard
    for fault, kind, low in (
        (Fault.LOW_POWER, WarningKind.POWER, told.battery_v < limits.battery_share * 4.10 - 0.02),
        (Fault.COLD_BOX, WarningKind.COLD, told.inside_k < limits.payload_least_k - 0.5),
    ):
        rows = np.flatnonzero(low & aloft)
        if fault in truth.faults and len(rows) and told.measured_s[rows[-1]] - told.measured_s[rows[0]] > 5.0 * LOOK_S:
            yield Expected(kind, truth.released_s, float(told.measured_s[rows[0]]) + 5.0 * LOOK_S)
    for fault, first, last in told.fault_at_s:
        heard = [one for one in done.sent if first < one.measured_s < min(last, truth.landed_s) and not one.damaged]
        if fault in (Fault.WRONG_CLOCK, Fault.FROZEN_HEIGHT, Fault.WRONG_HEIGHT) and len(heard) > 30:
            kind = WarningKind.CLOCK if fault is Fault.WRONG_CLOCK else WarningKind.HEIGHT
            yield Expected(kind, first - LOOK_S, first + 10.0 * LOOK_S)


def _ahead(done: Rehearsed) -> Iterator[Expected]:
    """What the truth really runs into, told by the very functions that the chances come from, with one flight."""
    truth = done.truth
    met = ahead_of(truth.flights, done.around, done.stage.model.epoch)
    for one in met.airspace:
        if one.share is not None and one.share.p == 1.0:
            enters = truth.landed_s
            if one.first_utc is not None:
                enters = (one.first_utc - done.stage.model.epoch).total_seconds()
            if truth.top_s <= enters and truth.height_msl_m.max() < done.stage.planned.burst_low_msl_m:
                # what an unforeseen burst brings can be told once the fall is seen, no sooner
                enters = max(enters, truth.top_s + 2.0 * LOOK_S)
            yield Expected(WarningKind.AIRSPACE, truth.released_s - HOUR_S, enters, one.subject)
    for one in met.border:
        if one.share is not None and one.share.p == 1.0:
            yield Expected(WarningKind.BORDER, truth.released_s - HOUR_S, truth.landed_s - 300.0, one.subject)
    for one in met.permit_area:
        if one.share is not None and one.share.p == 1.0:
            yield Expected(WarningKind.PERMIT_AREA, truth.released_s - HOUR_S, _leaves_s(done))
    for one in met.hazard:
        if one.share is not None and one.share.p == 1.0 and _unlikely_at_first(done, one.subject):
            blind = bool(truth.faults & BLIND)
            yield Expected(WarningKind.HAZARD, truth.released_s - HOUR_S, truth.landed_s - 120.0, one.subject, blind)


def _unlikely_at_first(done: Rehearsed, subject: str) -> bool:
    """A landing that was likely from the release on has not risen."""
    if not done.predictions:
        return True
    first = done.predictions[0]
    before = ahead_of(first.flights, done.around, done.stage.model.epoch)
    return all(one.share is None or one.share.p < 0.3 for one in before.hazard if one.subject == subject)


def _leaves_s(done: Rehearsed) -> float:
    truth = done.truth
    inside = np.zeros(len(truth.time_s), dtype=np.bool_)
    for zone in done.around.surroundings.zones_of("permit area"):
        inside |= zone.outline.contains(truth.latitude_deg, truth.longitude_deg)
    return float(truth.time_s[np.argmin(inside)])


def _silences(done: Rehearsed, limits: WarningLimits) -> Iterator[Expected]:
    """Gaps in what was heard whole between release and touchdown."""
    truth = done.truth
    if truth.faults & {Fault.FROZEN_HEIGHT, Fault.WRONG_CLOCK}:
        return
    for start, end in gaps_s(done):
        if end - start > limits.no_position_s + LOOK_S:
            yield Expected(WarningKind.NO_POSITION, start, start + limits.no_position_s + LOOK_S)
        if end - start > 2.0 * HOUR_S:
            yield Expected(WarningKind.TWO_HOURS, start + HOUR_S, start + 2.0 * HOUR_S)


def gaps_s(done: Rehearsed) -> list[tuple[float, float]]:
    """Times between whole packets, from the release until the balloon was heard on the ground or all was over."""
    truth = done.truth
    whole = [one for one in done.sent if not one.damaged]
    heard = np.array(sorted({one.arrives_s for one in whole}))
    heard = heard[heard >= truth.released_s]
    points = np.concatenate([[truth.released_s], heard, [done.told.over_s]])
    # what comes late may have been sent before the touchdown
    down = min((one.arrives_s for one in whole if one.measured_s >= truth.landed_s + DOWN_S), default=np.inf)
    return [(float(a), float(b)) for a, b in pairwise(points) if a < down]


def fall_over_plan(done: Rehearsed, limits: WarningLimits) -> float:
    """The greatest fall over the plan in any stretch as long as a warning looks at, less what thin air allows."""
    truth, planned = done.truth, done.stage.planned
    start = truth.top_s + OPENING_S
    times = np.arange(start, truth.landed_s, 15.0)
    if len(times) < 2:
        return 0.0
    _, _, high = truth.at(times)
    _, _, low = truth.at(times + limits.fall_over_s)
    takes = np.interp(high, planned.down_height_msl_m, planned.down_s) - np.interp(
        low, planned.down_height_msl_m, planned.down_s
    )
    whole = times + limits.fall_over_s < truth.landed_s
    more = THIN_AIR * np.maximum(high - THICK_BELOW_MSL_M, 0.0)
    # a warning waits until it has been so for a while: the least of three neighbours
    ratio = np.where(whole, takes / limits.fall_over_s - more, 0.0)
    held = np.minimum.reduce([ratio[:-2], ratio[1:-1], ratio[2:]]) if len(ratio) > 2 else ratio
    return float(held.max())
