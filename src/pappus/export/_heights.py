"""Height as the vertical axis of a picture: kilometres and feet, the ground and the end of the winds."""

from __future__ import annotations

from typing import Any

from pappus.export._look import GROUND, HATCH, INK, RULE, TEXT_PT, Array, quiet_frame, round_ticks
from pappus.units import foot_m, say_height

KFT_PER_KM = 1.0 / foot_m
"""Thousand feet in a kilometre, which is feet in a metre."""
_HEADROOM, _GROUND_SHARE = 0.08, 0.075
_WINDS_SHOWN = 1.3
"""Winds that end higher than so many times the highest flight would squeeze the flights: a note says where they end."""
_MOST_TICKS = 8
WINDS_END: dict[str, Any] = {"color": INK, "linewidth": 1.4, "linestyle": (0, (6, 2, 1, 2))}
"""A line where the known winds end."""


def height_limits_km(ground_msl_m: float, top_msl_m: float, winds_top_msl_m: float | None) -> tuple[float, float]:
    """From a strip of ground that can hold a line of text to some air above everything that is drawn."""
    ground, top = ground_msl_m / 1000.0, max(top_msl_m, ground_msl_m + 100.0) / 1000.0
    high = top + _HEADROOM * (top - ground)
    if winds_top_msl_m is not None and winds_top_msl_m / 1000.0 < ground + _WINDS_SHOWN * (top - ground):
        high = max(high, winds_top_msl_m / 1000.0 + _HEADROOM * (top - ground))
    return ground - _GROUND_SHARE * (high - ground), high


def say_winds_beyond(winds_top_msl_m: float, high_km: float) -> list[str]:
    """A note where the winds end above the picture, so that no line shows their end."""
    if winds_top_msl_m <= 1000.0 * high_km:
        return []
    return [f"the winds reach {say_height(winds_top_msl_m)}, higher than this picture"]


def add_height_axes(axes: Any, *, left: bool, right: bool) -> None:
    """Kilometres on the left and thousand feet on the right; the limits of ``axes`` are already set."""
    low, high = axes.get_ylim()
    axes.set_yticks(_ticks(low, high), labels=None if left else [])
    axes.grid(axis="y", color=RULE, linewidth=0.7)
    if left:
        axes.set_ylabel("height above mean sea level, km", fontsize=TEXT_PT, color=INK)
    if right:
        feet = axes.secondary_yaxis("right", functions=(lambda km: km * KFT_PER_KM, lambda kft: kft / KFT_PER_KM))
        feet.set_yticks(_ticks(low * KFT_PER_KM, high * KFT_PER_KM))
        quiet_frame(feet)
        feet.set_ylabel("thousand ft", fontsize=TEXT_PT, color=INK)


def _ticks(low: float, high: float) -> Array:
    """Round heights, none of them below both sea level and the ground."""
    ticks = round_ticks(low, high, _MOST_TICKS)
    return ticks[(ticks >= 0.0) | (ticks > low + 0.1 * (high - low))]


def draw_ground(axes: Any, ground_msl_m: float) -> None:
    """The ground as a strip of earth."""
    ground = ground_msl_m / 1000.0
    axes.axhspan(axes.get_ylim()[0], ground, facecolor=GROUND, edgecolor="none", zorder=5)
    axes.axhline(ground, color=INK, linewidth=1.0, zorder=5)


def draw_extrapolated(axes: Any, low_msl_m: float, high_msl_m: float | None = None, *, zorder: float = 0.7) -> None:
    """Hatch the heights, up to the top of the picture, where no wind was measured or computed."""
    low, high = axes.get_ylim()
    bottom, top = max(low_msl_m / 1000.0, low), high if high_msl_m is None else high_msl_m / 1000.0
    if bottom < top:
        axes.axhspan(bottom, top, facecolor="none", edgecolor=HATCH, hatch="//", linewidth=0, zorder=zorder)
