"""Height against time: when the flight is where, and where the winds end."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from pappus.export._heights import (
    WINDS_END,
    add_height_axes,
    draw_extrapolated,
    draw_ground,
    height_limits_km,
    say_winds_beyond,
)
from pappus.export._look import (
    BLUE,
    GREEN,
    INK,
    MARGIN_IN,
    NOT_LANDED,
    RULE,
    TEXT_PT,
    TOP,
    Array,
    Labels,
    add_axes,
    add_legend,
    boxed,
    drawn_tracks,
    new_sheet,
    quiet_frame,
    save,
)
from pappus.export._tracks import add_tracks, line_samples, say_flights, top_word
from pappus.landing import MINIMUM_LANDED
from pappus.trajectory import Flights
from pappus.units import say_height, say_time

_WIDTH_IN, _CHART_IN = 10.0, 5.6
_LEFT_IN, _RIGHT_IN = 0.95, 0.95
_ABOVE_IN, _BELOW_IN, _LEGEND_IN = 0.65, 0.8, 0.55
_LEGEND_COLUMNS_IN = (0.0, 2.65, 5.5)
_TICKS_MIN = (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720)
_MOST_TICKS = 9
_SHOWN_SHARE = 0.995
"""A floater may stay up for hours; it must not squeeze all others against the edge."""


def draw_height_time(
    path: str | Path,
    *,
    flights: Flights,
    nominal: Flights,
    release: datetime,
    zone: str,
    wanted_height_msl_m: float,
    winds_top_msl_m: float | None,
    ground_msl_m: float,
    title: str,
    footer: str,
) -> None:
    """Write height against time, UTC below and local time above; the suffix of ``path`` says in which format.

    :param flights: the ensemble, N flights; times count from the same epoch as those of ``nominal``.
    :param nominal: one flight.
    :param release: UTC-aware; the moment of ``release_time_s`` of the flights.
    :param zone: IANA name of the local time.
    :param ground_msl_m: where the flights come down.
    :param winds_top_msl_m: highest wind that is known; what lies above is marked as extrapolated. None when the
        winds have no top.
    :raises ValueError: ``release`` has no offset from UTC.
    :raises zoneinfo.ZoneInfoNotFoundError: this machine does not know ``zone``.
    """
    if release.utcoffset() is None:
        raise ValueError(f"release {release.isoformat()} has no offset from UTC")
    clock = _Clock(release, zone)
    aloft_s = flights.end_time_s - flights.release_time_s
    nominal_s = float(nominal.end_time_s[0] - nominal.release_time_s)
    last_s = 1.06 * max(float(np.quantile(aloft_s, _SHOWN_SHARE)), nominal_s)
    tops = np.concatenate((flights.top_height_msl_m, nominal.top_height_msl_m))
    lowest_msl_m = min(ground_msl_m, float(nominal.track_height_msl_m[0, 0]))
    limits_km = height_limits_km(lowest_msl_m, max(float(np.nanmax(tops)), wanted_height_msl_m), winds_top_msl_m)
    figure, bottom = new_sheet(
        _WIDTH_IN, _LEGEND_IN + _BELOW_IN + _CHART_IN + _ABOVE_IN, title=title, footer=footer,
        under_title=f"{_say_nominal(nominal, clock)}\n{say_flights(flights)}",
        notes=_notes(int(np.count_nonzero(aloft_s > last_s)), winds_top_msl_m, limits_km[1]),
    )  # fmt: skip
    chart_bottom = bottom + _LEGEND_IN + _BELOW_IN
    axes = add_axes(figure, _LEFT_IN, chart_bottom, _WIDTH_IN - _LEFT_IN - _RIGHT_IN, _CHART_IN)
    axes.set(xlim=(-0.02 * last_s, last_s), ylim=limits_km)
    add_height_axes(axes, left=True, right=True)
    _draw_clocks(axes, clock, last_s)
    if winds_top_msl_m is not None:
        draw_extrapolated(axes, winds_top_msl_m)
        axes.axhline(winds_top_msl_m / 1000.0, zorder=2, **WINDS_END)
    draw_ground(axes, ground_msl_m)
    axes.axhline(wanted_height_msl_m / 1000.0, color=GREEN, linewidth=1.8, zorder=2)

    for group, firm in ((flights, False), (nominal, True)):
        seconds = group.track_time_s - group.release_time_s
        add_tracks(axes, group, seconds, group.track_height_msl_m / 1000.0, firm=firm)
    firm_up, firm_down, faint_up, faint_down = line_samples()
    columns = [[firm_up, firm_down], [faint_up, faint_down], _draw_not_landed(axes, flights, aloft_s)]
    _write_on_ground(axes, flights.landed, aloft_s, ground_msl_m, 0.5 * (limits_km[0] + lowest_msl_m / 1000.0), clock)
    _draw_labels(axes, flights, nominal, wanted_height_msl_m, winds_top_msl_m)
    add_legend(add_axes(figure, MARGIN_IN, bottom, _WIDTH_IN - 2 * MARGIN_IN, _LEGEND_IN), _LEGEND_COLUMNS_IN, columns)
    save(figure, path)


@dataclass(frozen=True)
class _Clock:
    """Wall clocks at seconds after release."""

    release: datetime
    zone: str

    def utc(self, seconds: float) -> datetime:
        return self.release.astimezone(UTC) + timedelta(seconds=float(seconds))

    def local(self, seconds: float) -> datetime:
        return self.utc(seconds).astimezone(ZoneInfo(self.zone))

    def say(self, seconds: float) -> str:
        return say_time(self.utc(seconds), self.zone)


def _hour(time: datetime) -> str:
    """Hour and minute, to the nearest minute."""
    return f"{time + timedelta(seconds=30):%H:%M}"


def _say_nominal(nominal: Flights, clock: _Clock) -> str:
    start = nominal.release_time_s
    said = [f"release {clock.say(0.0)}"]
    if word := top_word(nominal):
        said.append(f"{word} {clock.say(nominal.top_time_s[0] - start)} at {say_height(nominal.top_height_msl_m[0])}")
    landed = bool(nominal.landed[0])
    said.append(f"landing {clock.say(nominal.end_time_s[0] - start)}" if landed else "◇ landing not in the data")
    return f"Nominal flight: {', '.join(said)}."


def _notes(later: int, winds_top_msl_m: float | None, high_km: float) -> list[str]:
    notes = []
    if later:
        notes.append(f"{later:,} {'flight stays' if later == 1 else 'flights stay'} up longer than this picture shows")
    if winds_top_msl_m is None:
        return [*notes, "where the winds end is not known: nothing is marked as extrapolated"]
    return notes + say_winds_beyond(winds_top_msl_m, high_km)


def _draw_clocks(axes: Any, clock: _Clock, last_s: float) -> None:
    """The same round minutes of UTC below and by local time above."""
    step_s = 60.0 * next((m for m in _TICKS_MIN if last_s / (60.0 * m) <= _MOST_TICKS), _TICKS_MIN[-1])
    midnight = clock.utc(0.0).replace(hour=0, minute=0, second=0, microsecond=0)
    since_midnight = (clock.utc(0.0) - midnight).total_seconds()
    ticks = np.arange(np.ceil(since_midnight / step_s) * step_s, since_midnight + last_s, step_s) - since_midnight
    local = axes.secondary_xaxis("top")
    for axis, at, name in ((axes, clock.utc, "UTC"), (local, clock.local, f"local time, {clock.zone}")):
        axis.set_xticks(ticks, labels=[_hour(at(tick)) for tick in ticks])
        days = sorted({at(second).date() for second in (0.0, last_s)})
        axis.set_xlabel(f"{name}, {' to '.join(f'{day}' for day in days)}", fontsize=TEXT_PT, color=INK)
        quiet_frame(axis)
    axes.grid(axis="x", color=RULE, linewidth=0.7)


def _draw_not_landed(axes: Any, flights: Flights, aloft_s: Array) -> list[tuple[Any, str]]:
    lost = ~flights.landed
    if not lost.any():
        return []
    (marks,) = axes.plot(aloft_s[lost], flights.end_height_msl_m[lost] / 1000.0, **NOT_LANDED)
    return [(marks, f"last known height, not landed ({int(np.count_nonzero(lost)):,})")]


def _write_on_ground(
    axes: Any, landed: NDArray[np.bool_], aloft_s: Array, ground_msl_m: float, text_km: float, clock: _Clock
) -> None:
    """A bar on the ground for the middle 90 % of the landings; its times and the height of the ground under it."""
    ground_km = ground_msl_m / 1000.0
    style = {"fontsize": TEXT_PT, "color": INK, "va": "center_baseline", "zorder": 9}
    axes.annotate(
        f"ground {say_height(ground_msl_m)}", (0.0, text_km), (8, 0), textcoords="offset points",
        xycoords=("axes fraction", "data"), **style,
    )  # fmt: skip
    count = int(np.count_nonzero(landed))
    if count < MINIMUM_LANDED:
        words = f"◇ {count:,} of {len(landed):,} flights landed in the data: no landing times"
    else:
        first, last = (float(second) for second in np.quantile(aloft_s[landed], (0.05, 0.95)))
        axes.plot((first, last), (ground_km, ground_km), color=BLUE, linewidth=6, solid_capstyle="butt", zorder=7)
        utc = f"{_hour(clock.utc(first))}Z to {_hour(clock.utc(last))}Z"
        local = f"{_hour(clock.local(first))} to {_hour(clock.local(last))} local"
        words = f"90 % of {count:,} landings {utc} ({local})"
    axes.annotate(
        words, (1.0, text_km), (-8, 0), textcoords="offset points", xycoords=("axes fraction", "data"),
        ha="right", **style,
    )  # fmt: skip


def _draw_labels(
    axes: Any, flights: Flights, nominal: Flights, wanted_height_msl_m: float, winds_top_msl_m: float | None
) -> None:
    """Words over the climb and beside the fall, where few flights can be."""
    labels = Labels(axes)
    left, right = axes.get_xlim()
    inset = 0.015 * (right - left)
    for height in (wanted_height_msl_m, winds_top_msl_m):
        if height is not None:
            labels.keep_line_free(np.array([left, right]), np.full(2, height / 1000.0))
    for group, chosen in ((nominal, 0), *((flights, index) for index in drawn_tracks(len(flights.track_time_s))[::12])):
        seconds = group.track_time_s[chosen] - group.release_time_s
        labels.keep_line_free(seconds, group.track_height_msl_m[chosen] / 1000.0)
    labels.add(
        f"wanted {say_height(wanted_height_msl_m)}", left + inset, wanted_height_msl_m / 1000.0,
        gap_pt=5.0, level="left", must=True, bbox=boxed(),
    )  # fmt: skip
    if winds_top_msl_m is not None and winds_top_msl_m / 1000.0 < axes.get_ylim()[1]:
        words, height_km = f"winds end at {say_height(winds_top_msl_m)},\nextrapolated above", winds_top_msl_m / 1000.0
        style: dict[str, Any] = {"gap_pt": 5.0, "bbox": boxed()}
        if not labels.add(words, right - inset, height_km, level="right", **style):
            labels.add(words, left + inset, height_km, level="left", must=True, **style)
    if word := top_word(nominal):
        top = float(nominal.top_time_s[0] - nominal.release_time_s), float(nominal.top_height_msl_m[0]) / 1000.0
        axes.plot(*top, **TOP)
        labels.keep_free(*top, 5.0)
        labels.add(f"nominal {word} {say_height(1000.0 * top[1])}", *top, gap_pt=12.0, must=True, bbox=boxed())
