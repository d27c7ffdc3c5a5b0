"""The winds of a flight against height: speed, direction, temperature, and how wrong they may be."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.export._heights import WINDS_END, add_height_axes, draw_extrapolated, draw_ground, height_limits_km
from pappus.export._look import (
    BLUE,
    INK,
    QUIET,
    RULE,
    TEXT_PT,
    VERMILLION,
    Array,
    add_axes,
    new_sheet,
    round_ticks,
    save,
)
from pappus.export._tracks import END_WORDS
from pappus.trajectory import Flights
from pappus.units import knot_m_s, say_height, zero_celsius_k
from pappus.wind import Sampler, WindField

_LEFT_IN, _PANEL_IN, _GAP_IN, _FEET_IN, _WORDS_IN = 0.95, 2.25, 0.5, 0.85, 2.45
_CHART_IN, _ABOVE_IN, _BELOW_IN = 6.2, 0.65, 0.7
_BAND = 0.9
_BAND_SD = float(np.sqrt(-2.0 * np.log(1.0 - _BAND)))
"""The circle of this many standard deviations holds 90 % of a normal error of two like components."""
_BAND_FILL = "#bfdcee"
_LINE_PT = 17.0
_MOST_TICKS = 6
_OVER_BAND = 3.5
_WORTH_A_WORD_M = 100.0
"""A gap between ground and lowest wind that the scale of the picture can show."""
_TOP_LINE: dict[str, Any] = {"color": INK, "linewidth": 1.6, "linestyle": (0, (1, 1.5))}
_GROUND_LINE: dict[str, Any] = {"color": INK, "linewidth": 1.0}


def draw_wind_profile(
    path: str | Path,
    *,
    field: WindField,
    nominal: Flights,
    known_top_msl_m: float,
    wind_sd_m_s: Array | None,
    title: str,
    footer: str,
) -> None:
    """Write the winds that a climbing flight meets over the place of release; the suffix of ``path`` says the format.

    Each level is shown as the mean of the members at the place and moment of release. The band of the error is the
    circle about the tip of the wind vector that holds the true one with 90 %: speed and direction of its points. Where
    the circle holds the calm, any direction may be.

    :param field: as flown, extended levels included; they are marked as extrapolated.
    :param nominal: one flight, for its site and its top.
    :param known_top_msl_m: highest wind that is known.
    :param wind_sd_m_s: standard deviation of each wind component, shape (levels of the field,); None when nobody knows
        it, and the picture says so.
    """
    if wind_sd_m_s is not None and wind_sd_m_s.shape != (field.levels,):
        raise ValueError(f"wind_sd_m_s has shape {wind_sd_m_s.shape}, the field {field.levels} levels")
    column = _column(field, nominal)
    ground_msl_m, top_msl_m = float(nominal.track_height_msl_m[0, 0]), float(nominal.top_height_msl_m[0])
    limits_km = height_limits_km(ground_msl_m, top_msl_m, known_top_msl_m)
    figure, bottom = new_sheet(
        _LEFT_IN + 3 * _PANEL_IN + 2 * _GAP_IN + _FEET_IN + _WORDS_IN, _ABOVE_IN + _CHART_IN + _BELOW_IN, title=title,
        under_title=_say_field(field), notes=_notes(field, known_top_msl_m, limits_km[1], wind_sd_m_s), footer=footer,
    )  # fmt: skip
    panels = [
        add_axes(figure, _LEFT_IN + number * (_PANEL_IN + _GAP_IN), bottom + _BELOW_IN, _PANEL_IN, _CHART_IN)
        for number in range(3)
    ]
    top_word = END_WORDS.get(int(nominal.ascent_end[0]), "flight,\nlast known")
    heights = {
        known_top_msl_m: ("winds end,\nextrapolated above", WINDS_END),
        top_msl_m: (f"nominal {top_word}", _TOP_LINE),
        ground_msl_m: ("ground at release", _GROUND_LINE),
    }
    lowest_known_m = 1000.0 * float(column.height_km[field.extended_below_level])
    if lowest_known_m > ground_msl_m + _WORTH_A_WORD_M:
        heights[lowest_known_m] = ("winds begin,\nextrapolated below", WINDS_END)
    for panel in panels:
        panel.set_ylim(limits_km)
        add_height_axes(panel, left=panel is panels[0], right=panel is panels[2])
        draw_extrapolated(panel, known_top_msl_m, zorder=_OVER_BAND)
        if lowest_known_m in heights:
            draw_extrapolated(panel, ground_msl_m, lowest_known_m, zorder=_OVER_BAND)
        draw_ground(panel, ground_msl_m)
        for height, (_, style) in heights.items():
            panel.axhline(height / 1000.0, zorder=_OVER_BAND, **style)
    _draw_speed(panels[0], column, wind_sd_m_s)
    _draw_direction(panels[1], column, wind_sd_m_s)
    _draw_temperature(panels[2], column)
    _write_heights(panels[2], heights)
    save(figure, path)


@dataclass(frozen=True)
class _Column:
    """The air over the place of release, arrays over levels."""

    height_km: Array
    u_m_s: Array
    v_m_s: Array
    temperature_k: Array

    def seen(self, axes: Any) -> NDArray[np.bool_]:
        """Levels that the picture shows, with one beyond each edge."""
        low, high = axes.get_ylim()
        inside = (self.height_km >= low) & (self.height_km <= high)
        return np.asarray(np.convolve(inside, np.ones(3), "same") > 0.0)


def _column(field: WindField, nominal: Flights) -> _Column:
    levels, members = np.meshgrid(np.arange(field.levels, dtype=float), np.arange(field.members), indexing="ij")
    place = (nominal.track_latitude_deg, nominal.track_longitude_deg, nominal.track_time_s)
    air = Sampler(field).at(members.ravel(), levels.ravel(), *(np.full(levels.size, at[0, 0]) for at in place))
    values = (air.height_msl_m / 1000.0, air.wind_u_m_s, air.wind_v_m_s, air.temperature_k)
    return _Column(*(value.reshape(levels.shape).mean(axis=1) for value in values))


def _say_field(field: WindField) -> str:
    kind = "sounding released" if field.kind == "sounding" else f"forecast, {field.members} members, run"
    return f"{field.name}: {kind} {field.issued.astimezone(UTC):%Y-%m-%d %H:%M} UTC"


def _notes(field: WindField, known_top_msl_m: float, high_km: float, wind_sd_m_s: Array | None) -> list[str]:
    if wind_sd_m_s is None:
        notes = ["the error of these winds is not known: no band is drawn"]
    else:
        notes = [f"pale band: holds the true wind with {100 * _BAND:.0f} %; across the full width, any direction"]
    if known_top_msl_m > 1000.0 * high_km:
        notes.append(f"the winds reach {say_height(known_top_msl_m)}, higher than this picture")
    return notes + list(field.notes)


def _draw_speed(axes: Any, column: _Column, wind_sd_m_s: Array | None) -> None:
    speed = np.hypot(column.u_m_s, column.v_m_s)
    reach = 0.0 * speed if wind_sd_m_s is None else _BAND_SD * wind_sd_m_s
    axes.fill_betweenx(
        column.height_km, np.maximum(speed - reach, 0.0), speed + reach, color=_BAND_FILL, linewidth=0, zorder=3
    )
    axes.plot(speed, column.height_km, color=BLUE, linewidth=2.0, zorder=4)
    _two_units(
        axes, 0.0, 1.05 * float((speed + reach)[column.seen(axes)].max()), "wind speed, m/s", "kt", 1.0 / knot_m_s
    )


def _draw_direction(axes: Any, column: _Column, wind_sd_m_s: Array | None) -> None:
    """One turn of the compass; what runs over north comes in again at the other side."""
    speed = np.hypot(column.u_m_s, column.v_m_s)
    wind_from = np.degrees(np.unwrap(np.arctan2(-column.u_m_s, -column.v_m_s)))
    for turn in range(-int(wind_from.max() // 360.0) - 1, 2 - int(wind_from.min() // 360.0)):
        shifted = wind_from + 360.0 * turn
        if wind_sd_m_s is not None:
            half = _half_angle_deg(_BAND_SD * wind_sd_m_s, speed)
            axes.fill_betweenx(
                column.height_km, shifted - half, shifted + half, color=_BAND_FILL, linewidth=0, zorder=3
            )
        axes.plot(shifted, column.height_km, color=BLUE, linewidth=2.0, zorder=4)
    axes.set_xlim(0.0, 360.0)
    axes.set_xticks(np.arange(0.0, 361.0, 90.0), labels=["0", "90", "180", "270", "360"])
    axes.set_xlabel("wind from, ° true", fontsize=TEXT_PT, color=INK)
    axes.grid(axis="x", color=RULE, linewidth=0.7)
    compass = axes.secondary_xaxis("top")
    compass.set_xticks(np.arange(0.0, 361.0, 90.0), labels=["N", "E", "S", "W", "N"])
    compass.tick_params(labelsize=TEXT_PT, color=QUIET, labelcolor=INK)


def _half_angle_deg(reach_m_s: Array, speed_m_s: Array) -> Array:
    """Half the angle under which a circle of error about the tip of the wind is seen from the calm.

    More than half a turn where the circle holds the calm, so that no seam shows where the band meets itself.
    """
    inside = reach_m_s >= speed_m_s
    ratio = np.divide(reach_m_s, speed_m_s, out=np.ones_like(speed_m_s), where=~inside)
    return np.where(inside, 181.0, np.degrees(np.arcsin(ratio)))


def _draw_temperature(axes: Any, column: _Column) -> None:
    celsius = column.temperature_k - zero_celsius_k
    axes.plot(celsius, column.height_km, color=VERMILLION, linewidth=2.0, zorder=4)
    shown = celsius[column.seen(axes)]
    low, high = float(shown.min()), float(shown.max())
    _two_units(axes, low - 4.0, high + 4.0, "temperature, °C", "°F", 1.8, 32.0)


def _two_units(axes: Any, low: float, high: float, name: str, other: str, factor: float, offset: float = 0.0) -> None:
    """A horizontal axis with the other unit above: ``other = factor * value + offset``."""
    axes.set_xlim(low, high)
    axes.set_xlabel(name, fontsize=TEXT_PT, color=INK)
    axes.grid(axis="x", color=RULE, linewidth=0.7)
    above = axes.secondary_xaxis("top", functions=(lambda x: factor * x + offset, lambda y: (y - offset) / factor))
    above.set_xlabel(other, fontsize=TEXT_PT, color=INK)
    above.tick_params(labelsize=TEXT_PT, color=QUIET, labelcolor=INK)
    axes.set_xticks(round_ticks(low, high, _MOST_TICKS))
    above.set_xticks(round_ticks(factor * low + offset, factor * high + offset, _MOST_TICKS))


def _write_heights(axes: Any, heights: dict[float, tuple[str, dict[str, Any]]]) -> None:
    """What each level line is, beside the panels and pushed up where two would lie on each other."""
    low, high = axes.get_ylim()
    km_per_line = (high - low) / _CHART_IN * _LINE_PT / 72.0
    free = low
    for height_m, (words, style) in sorted(heights.items()):
        if height_m / 1000.0 > high:
            continue
        text = f"{words}\n{say_height(height_m)}"
        half = 0.5 * (text.count("\n") + 1) * km_per_line
        y = max(height_m / 1000.0, free + half)
        free = y + half + 0.5 * km_per_line
        axes.plot(
            [1.0 + _FEET_IN / _PANEL_IN, 1.0 + (_FEET_IN + 0.25) / _PANEL_IN], [y, y],
            transform=axes.get_yaxis_transform(), clip_on=False, **style,
        )  # fmt: skip
        axes.text(
            1.0 + (_FEET_IN + 0.32) / _PANEL_IN, y, text, transform=axes.get_yaxis_transform(), fontsize=TEXT_PT,
            color=INK, va="center", linespacing=1.3,
        )  # fmt: skip
