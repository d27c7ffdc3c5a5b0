"""How the landing answers to what a crew can still change: a later release, and another lift than planned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.export._look import (
    AREA_FILLS,
    BLUE,
    GREEN,
    INK,
    MARGIN_IN,
    PRINT_DPI,
    RULE,
    TEXT_PT,
    VERMILLION,
    Array,
    Labels,
    add_axes,
    add_legend,
    boxed,
    new_sheet,
    printable,
    quiet_frame,
    round_ticks,
    save,
)
from pappus.units import foot_m, gram_force_n, mile_m, say_distance, say_height, say_lift

CURVE_LEVELS = (0.05, 0.25, 0.5, 0.75, 0.95)
"""Quantiles that every curve holds, in its last dimension: the middle, and the edges of 50 and 90 %."""
_WIDTH_IN, _CHART_IN, _LEFT_IN, _RIGHT_IN, _AXIS_IN, _LEGEND_IN = 10.0, 4.2, 0.95, 0.95, 0.75, 0.45
_MOST_ARROWS = 9
_HALF_CHART_IN, _BETWEEN_IN, _TOP_AXIS_IN = 3.1, 0.3, 0.65


@dataclass(frozen=True)
class DelayCurve:
    """How far the landing moves when the release comes later than planned; T delays."""

    delay_s: Array
    """After the planned release, shape (T,), increasing."""
    moved_m: Array
    """Distance of the landings from the middle of those of the planned release, shape (T, 5) for ``CURVE_LEVELS``; NaN
    where the winds end."""
    bearing_deg: Array
    """Towards which the middle moves, clockwise from true north, shape (T,); NaN where it does not."""
    permitted: str
    """Name of the area in which the flight may come down; empty when the plan names none."""
    leaves_after_s: float | None
    """The first delay for which the landings are no longer inside well enough; None when that does not happen."""
    lasts_s: float
    """Up to this delay the question was asked."""


@dataclass(frozen=True)
class LiftCurve:
    """What another lift on the scale does; T lifts."""

    lift_n: Array
    """As the crew's scale reads, shape (T,), increasing."""
    burst_msl_m: Array
    """Shape (T, 5) for ``CURVE_LEVELS``; NaN where there is no burst."""
    moved_m: Array
    """Distance of the landings from the middle of those of the planned lift, shape (T, 5); NaN where unknown."""
    bearing_deg: Array
    """Towards which the middle moves, shape (T,); NaN where it does not."""
    planned_lift_n: float
    tolerance_n: float
    wanted_height_msl_m: float


def draw_delay_curve(path: str | Path, curve: DelayCurve, *, title: str, footer: str) -> None:
    """Write how the landing moves with the delay of the release; the suffix of ``path`` says in which format.

    :raises ValueError: the arrays do not fit together.
    """
    _require("delay_s", curve.delay_s, {"moved_m": curve.moved_m}, curve.bearing_deg)
    figure, bottom = new_sheet(
        _WIDTH_IN, _CHART_IN + _AXIS_IN + _LEGEND_IN, title=title, under_title=_say_delay(curve),
        notes=_notes(curve.moved_m, "later", curve.permitted or None), footer=footer, dpi=PRINT_DPI,
    )  # fmt: skip
    axes = _chart(figure, bottom + _LEGEND_IN + _AXIS_IN)
    minutes = curve.delay_s / 60.0
    samples = _draw_bands(axes, minutes, curve.moved_m / 1000.0)
    axes.set(xlim=(0.0, curve.lasts_s / 60.0), ylim=(0.0, _top(curve.moved_m) / 1000.0))
    axes.set_xticks(round_ticks(0.0, curve.lasts_s / 60.0, 9))
    axes.set_xlabel("delay of the release [min]", fontsize=TEXT_PT, color=INK)
    _name_distance(axes)
    if curve.leaves_after_s is not None:
        at = curve.leaves_after_s / 60.0
        axes.axvspan(at, curve.lasts_s / 60.0, facecolor="none", edgecolor=VERMILLION, hatch="//", alpha=0.35, lw=0)
        axes.axvline(at, color=VERMILLION, linewidth=2.0, zorder=4)
        labels = Labels(axes)
        labels.keep_line_free(minutes, curve.moved_m[:, 2] / 1000.0)
        high = 0.94 * axes.get_ylim()[1]
        labels.add(f"leaves {curve.permitted}\nafter {at:.0f} min", at, high, gap_pt=8.0, must=True, bbox=boxed())
    _draw_directions(axes, minutes, curve.moved_m[:, 2] / 1000.0, curve.bearing_deg)
    _draw_legend(figure, bottom, samples)
    save(figure, path)


def draw_lift_curve(path: str | Path, curve: LiftCurve, *, title: str, footer: str) -> None:
    """Write burst height and landing against the lift that was measured; the suffix says in which format.

    :raises ValueError: the arrays do not fit together.
    """
    both = {"burst_msl_m": curve.burst_msl_m, "moved_m": curve.moved_m}
    _require("lift_n", curve.lift_n, both, curve.bearing_deg)
    figure, bottom = new_sheet(
        _WIDTH_IN, 2 * _HALF_CHART_IN + _BETWEEN_IN + _AXIS_IN + _TOP_AXIS_IN + _LEGEND_IN, title=title,
        under_title=_say_lift_plan(curve),
        notes=_notes(curve.moved_m, "at another lift", None), footer=footer, dpi=PRINT_DPI,
    )  # fmt: skip
    lower = bottom + _LEGEND_IN + _AXIS_IN
    move = _chart(figure, lower, _HALF_CHART_IN)
    burst = _chart(figure, lower + _HALF_CHART_IN + _BETWEEN_IN, _HALF_CHART_IN)
    grams = curve.lift_n / gram_force_n
    planned, tolerance = curve.planned_lift_n / gram_force_n, curve.tolerance_n / gram_force_n
    for axes in (burst, move):
        axes.set_xlim(float(grams[0]), float(grams[-1]))
        axes.set_xticks(round_ticks(float(grams[0]), float(grams[-1]), 8))
        axes.axvspan(planned - tolerance, planned + tolerance, color=RULE, zorder=0.5, linewidth=0)
        axes.axvline(planned, color=INK, linewidth=1.2, zorder=2)
    heights = np.append(curve.burst_msl_m, curve.wanted_height_msl_m) / 1000.0
    low, high = float(np.nanmin(heights)), float(np.nanmax(heights))
    pad = max(0.12 * (high - low), 0.2)
    _draw_bands(burst, grams, curve.burst_msl_m / 1000.0)
    burst.set_ylim(low - pad, high + pad)
    burst.axhline(curve.wanted_height_msl_m / 1000.0, color=GREEN, linewidth=1.8, zorder=3)
    burst.set_ylabel("burst, above sea level [km]", fontsize=TEXT_PT, color=INK)
    burst.tick_params(labelbottom=False)
    feet = burst.secondary_yaxis("right", functions=(lambda km: km / foot_m, lambda kft: kft * foot_m))
    feet.set_ylabel("[1,000 ft]", fontsize=TEXT_PT, color=INK)
    newtons = burst.secondary_xaxis("top", functions=(lambda gf: gf * gram_force_n, lambda n: n / gram_force_n))
    newtons.set_xlabel("lift on the scale [N]", fontsize=TEXT_PT, color=INK)
    quiet_frame(feet)
    quiet_frame(newtons)
    samples = _draw_bands(move, grams, curve.moved_m / 1000.0)
    move.set_ylim(0.0, _top(curve.moved_m) / 1000.0)
    move.set_xlabel("lift on the scale [gf]", fontsize=TEXT_PT, color=INK)
    _name_distance(move)
    labels = Labels(burst)
    labels.keep_line_free(grams, curve.burst_msl_m[:, 2] / 1000.0)
    labels.add(
        f"wanted {say_height(curve.wanted_height_msl_m)}", float(grams[0]) + 0.01 * float(np.ptp(grams)),
        curve.wanted_height_msl_m / 1000.0, gap_pt=5.0, level="left", must=True, bbox=boxed(),
    )  # fmt: skip
    labels.add("planned", planned, high + 0.5 * pad, gap_pt=6.0, must=True, bbox=boxed())
    _draw_directions(move, grams, curve.moved_m[:, 2] / 1000.0, curve.bearing_deg)
    _draw_legend(figure, bottom, samples)
    save(figure, path)


def _require(name: str, x: Array, tables: dict[str, Array], bearing_deg: Array) -> None:
    if x.ndim != 1 or len(x) < 2 or not np.all(np.diff(x) > 0.0):
        raise ValueError(f"{name} has shape {x.shape}; it needs two values or more, increasing")
    for table, values in tables.items():
        if values.shape != (len(x), len(CURVE_LEVELS)):
            raise ValueError(f"{table} has shape {values.shape}; it must be {(len(x), len(CURVE_LEVELS))}")
    if bearing_deg.shape != x.shape:
        raise ValueError(f"bearing_deg has shape {bearing_deg.shape}; it must be {x.shape}")


def _say_delay(curve: DelayCurve) -> str:
    known = np.flatnonzero(~np.isnan(curve.moved_m[:, 2]))
    if len(known) == 0:
        return "◇ Cannot tell: no later release lands in the data."
    last = int(known[-1])
    moved = say_distance(float(curve.moved_m[last, 2]))
    towards = "" if np.isnan(curve.bearing_deg[last]) else f", towards {curve.bearing_deg[last] % 360.0:03.0f}°"
    said = f"A release {curve.delay_s[last] / 60:.0f} min later lands {moved} from the planned landing{towards}."
    if not curve.permitted:
        return said
    if curve.leaves_after_s is None:
        return f"{said} It stays in {curve.permitted} as far as the curve goes."
    return f"{said} It leaves {curve.permitted} after {curve.leaves_after_s / 60:.0f} min."


def _say_lift_plan(curve: LiftCurve) -> str:
    return (
        f"Planned {say_lift(curve.planned_lift_n)} on the scale, within ±{say_lift(curve.tolerance_n)} (grey). "
        "Another lift changes climb, burst and landing."
    )


def _notes(moved_m: Array, when: str, permitted: str | None) -> list[str]:
    notes = ["distance from the middle of the planned landings; arrows say towards where, north is up"]
    missing = int(np.count_nonzero(np.isnan(moved_m[:, 2])))
    if missing:
        notes.append(f"◇ cannot tell where the curve has a gap: {when} no flight lands in the data ({missing} points)")
    if permitted is None and when == "later":
        notes.append("the plan names no permitted landing area: nothing is checked against one")
    return notes


def _chart(figure: Any, bottom_in: float, height_in: float = _CHART_IN) -> Any:
    axes = add_axes(figure, _LEFT_IN, bottom_in, _WIDTH_IN - _LEFT_IN - _RIGHT_IN, height_in)
    axes.grid(color=RULE, linewidth=0.7)
    return axes


def _draw_bands(axes: Any, x: Array, values: Array) -> list[tuple[Any, str]]:
    wide = axes.fill_between(x, values[:, 0], values[:, 4], color=AREA_FILLS[1], linewidth=0, zorder=1.5)
    narrow = axes.fill_between(x, values[:, 1], values[:, 3], color=AREA_FILLS[0], linewidth=0, zorder=1.6)
    for column in (0, 4):
        axes.plot(x, values[:, column], color=BLUE, linewidth=0.9, linestyle="dashed", zorder=1.7)
    (middle,) = axes.plot(x, values[:, 2], color=INK, linewidth=2.0, zorder=5)
    return [(middle, "middle of the flights"), (narrow, "50 % of flights"), (wide, "90 % of flights")]


def _top(moved_m: Array) -> float:
    known = moved_m[~np.isnan(moved_m)]
    return max(1.12 * float(known.max()), 1000.0) if len(known) else 1000.0


def _name_distance(axes: Any) -> None:
    axes.set_ylabel("landing moves [km]", fontsize=TEXT_PT, color=INK)
    miles = axes.secondary_yaxis("right", functions=(_to_miles, _to_kilometres))
    miles.set_ylabel("[mi]", fontsize=TEXT_PT, color=INK)
    quiet_frame(miles)


def _to_miles(km: Array) -> Array:
    return km * (1000.0 / mile_m)


def _to_kilometres(miles: Array) -> Array:
    return miles * (mile_m / 1000.0)


def _draw_directions(axes: Any, x: Array, y: Array, bearing_deg: Array) -> None:
    """Arrows on the middle line, as on a map with north up, and the bearing in figures beside them."""
    for index in _spread(np.flatnonzero(~(np.isnan(y) | np.isnan(bearing_deg)))):
        east, north = np.sin(np.radians(bearing_deg[index])), np.cos(np.radians(bearing_deg[index]))
        spot = (float(x[index]), float(y[index]))
        style = {"arrowstyle": "-|>", "color": INK, "linewidth": 1.6, "shrinkA": 0, "shrinkB": 0}
        axes.annotate(
            "", (9.0 * east, 26.0 + 9.0 * north), (-9.0 * east, 26.0 - 9.0 * north), xycoords=_above(axes, spot),
            textcoords=_above(axes, spot), arrowprops=style, zorder=8, annotation_clip=False,
        )  # fmt: skip
        axes.annotate(
            printable(f"{bearing_deg[index] % 360.0:03.0f}°"), spot, (0.0, 40.0), textcoords="offset points",
            fontsize=TEXT_PT, color=INK, ha="center", va="bottom", zorder=8, bbox=boxed(),
        )  # fmt: skip


def _above(axes: Any, spot: tuple[float, float]) -> Any:
    """Points of the paper, counted from a place in the data."""
    from matplotlib.transforms import Affine2D, ScaledTranslation

    points = Affine2D().scale(1.0 / 72.0) + axes.figure.dpi_scale_trans
    return points + ScaledTranslation(*spot, axes.transData)


def _spread(known: NDArray[np.intp]) -> Sequence[int]:
    """Evenly spaced ones, without the first and the last, whose arrows would stand outside."""
    inner = known[1:-1] if len(known) > 3 else known
    if len(inner) == 0:
        return []
    return [int(inner[k]) for k in np.unique(np.linspace(0, len(inner) - 1, min(len(inner), _MOST_ARROWS)).astype(int))]


def _draw_legend(figure: Any, bottom: float, samples: list[tuple[Any, str]]) -> None:
    box = add_axes(figure, MARGIN_IN, bottom, _WIDTH_IN - 2 * MARGIN_IN, _LEGEND_IN)
    add_legend(box, (0.65, 3.4, 5.6), [[sample] for sample in samples])
