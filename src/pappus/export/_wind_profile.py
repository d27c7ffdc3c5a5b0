"""The winds of a flight against height: speed, direction, temperature, and how wrong they may be."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

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
    INK,
    RULE,
    TEXT_PT,
    VERMILLION,
    Array,
    add_axes,
    new_sheet,
    quiet_frame,
    round_ticks,
    save,
)
from pappus.export._tracks import top_word
from pappus.trajectory import Flights
from pappus.units import knot_m_s, say_height, zero_celsius_k
from pappus.wind import Sampler, WindField

_LEFT_IN, _PANEL_IN, _GAP_IN, _FEET_IN, _WORDS_IN = 0.95, 2.25, 0.5, 0.85, 2.45
_CHART_IN, _ABOVE_IN, _BELOW_IN = 6.2, 0.65, 0.7
_BAND = 0.9
_BAND_SD = float(np.sqrt(-2.0 * np.log(1.0 - _BAND)))
"""The circle of this many standard deviations holds 90 % of a normal error of two like components."""
_BAND_FILL = "#bfdcee"
_MEMBER: dict[str, Any] = {"linewidths": 0.7, "alpha": 0.4}
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

    Each level is shown as the mean of the members at the place and moment of release, a firm line, with each of several
    members as a thin line. The band of the error about the mean is the circle about the tip of the wind vector that
    holds the true one with 90 %: speed and direction of its points. Where the circle holds the calm, any direction may
    be.

    :param field: as flown, extended levels included; they are marked as extrapolated.
    :param nominal: one flight, for its site and its top.
    :param known_top_msl_m: highest wind that is known.
    :param wind_sd_m_s: standard deviation of each wind component, shape (levels of the field,); None when nobody knows
        it, and the picture says so.
    """
    if wind_sd_m_s is not None and wind_sd_m_s.shape != (field.levels,):
        raise ValueError(f"wind_sd_m_s has shape {wind_sd_m_s.shape}, the field {field.levels} levels")
    members = _members(field, nominal)
    mean = _mean(members)
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
    top_says = top_word(nominal) or "flight,\nlast known"
    heights = {
        known_top_msl_m: ("winds end,\nextrapolated above", WINDS_END),
        top_msl_m: (f"nominal {top_says}", _TOP_LINE),
        ground_msl_m: ("ground at release", _GROUND_LINE),
    }
    lowest_known_m = 1000.0 * float(mean.height_km[field.extended_below_level])
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
    thin = members if len(members) > 1 else []
    _draw_speed(panels[0], mean, thin, wind_sd_m_s)
    _draw_direction(panels[1], mean, thin, wind_sd_m_s)
    _draw_temperature(panels[2], mean, thin)
    _write_heights(panels[2], heights)
    save(figure, path)


@dataclass(frozen=True)
class _Column:
    """The air over the place of release, arrays over levels."""

    height_km: Array
    u_m_s: Array
    v_m_s: Array
    temperature_k: Array

    @property
    def speed_m_s(self) -> Array:
        return np.hypot(self.u_m_s, self.v_m_s)

    @property
    def celsius(self) -> Array:
        return self.temperature_k - zero_celsius_k

    def turns_deg(self) -> Iterator[Array]:
        """Where the wind comes from, without a jump at north: as often as one turn of the compass holds a part of it.

        A line that runs out of the picture at one side so comes in at the other, and none runs back across it.
        """
        wind_from = np.degrees(np.unwrap(np.arctan2(-self.u_m_s, -self.v_m_s)))
        for turn in range(-int(wind_from.max() // 360.0) - 1, 2 - int(wind_from.min() // 360.0)):
            yield wind_from + 360.0 * turn

    def seen(self, axes: Any) -> NDArray[np.bool_]:
        """Levels that the picture shows, with one beyond each edge."""
        low, high = axes.get_ylim()
        inside = (self.height_km >= low) & (self.height_km <= high)
        return np.asarray(np.convolve(inside, np.ones(3), "same") > 0.0)


def _members(field: WindField, nominal: Flights) -> list[_Column]:
    levels, members = np.meshgrid(np.arange(field.levels, dtype=float), np.arange(field.members), indexing="ij")
    place = (nominal.track_latitude_deg, nominal.track_longitude_deg, nominal.track_time_s)
    air = Sampler(field).at(members.ravel(), levels.ravel(), *(np.full(levels.size, at[0, 0]) for at in place))
    values = (air.height_msl_m / 1000.0, air.wind_u_m_s, air.wind_v_m_s, air.temperature_k)
    return [_Column(*member) for member in zip(*(value.reshape(levels.shape).T for value in values), strict=True)]


def _mean(members: list[_Column]) -> _Column:
    return _Column(*(np.mean([getattr(one, value.name) for one in members], axis=0) for value in fields(_Column)))


def _say_field(field: WindField) -> str:
    """The name, which says of what kind the winds are and of when, and how many members a forecast has."""
    members = f", {field.members} {'member' if field.members == 1 else 'members'}"
    return field.name + (members if field.kind == "forecast" else "")


def _notes(field: WindField, known_top_msl_m: float, high_km: float, wind_sd_m_s: Array | None) -> list[str]:
    if wind_sd_m_s is None:
        notes = ["the error of these winds is not known: no band is drawn"]
    else:
        notes = [f"pale band: holds the true wind with {100 * _BAND:.0f} %; across the full width, any direction"]
    if field.members > 1:
        notes.append(f"thin lines: {field.members} forecast members; firm line: their mean")
    return [*notes, *say_winds_beyond(known_top_msl_m, high_km), *field.notes]


def _draw_members(axes: Any, lines: Iterable[tuple[Array, Array]], color: str) -> None:
    """Thin lines of value and height, under the firm one."""
    from matplotlib.collections import LineCollection

    shapes = [np.column_stack(line) for line in lines]
    axes.add_collection(LineCollection(shapes, colors=color, zorder=_OVER_BAND, **_MEMBER), autolim=False)


def _draw_speed(axes: Any, mean: _Column, members: list[_Column], wind_sd_m_s: Array | None) -> None:
    speed = mean.speed_m_s
    reach = 0.0 * speed if wind_sd_m_s is None else _BAND_SD * wind_sd_m_s
    axes.fill_betweenx(
        mean.height_km, np.maximum(speed - reach, 0.0), speed + reach, color=_BAND_FILL, linewidth=0, zorder=3
    )
    _draw_members(axes, ((one.speed_m_s, one.height_km) for one in members), BLUE)
    axes.plot(speed, mean.height_km, color=BLUE, linewidth=2.0, zorder=4)
    shown = np.concatenate([(speed + reach)[mean.seen(axes)], *(one.speed_m_s[one.seen(axes)] for one in members)])
    _two_units(axes, 0.0, 1.05 * float(shown.max()), "wind speed, m/s", "kt", 1.0 / knot_m_s)


def _draw_direction(axes: Any, mean: _Column, members: list[_Column], wind_sd_m_s: Array | None) -> None:
    """One turn of the compass; what runs over north comes in again at the other side."""
    _draw_members(axes, ((wind_from, one.height_km) for one in members for wind_from in one.turns_deg()), BLUE)
    for wind_from in mean.turns_deg():
        if wind_sd_m_s is not None:
            half = _half_angle_deg(_BAND_SD * wind_sd_m_s, mean.speed_m_s)
            axes.fill_betweenx(
                mean.height_km, wind_from - half, wind_from + half, color=_BAND_FILL, linewidth=0, zorder=3
            )
        axes.plot(wind_from, mean.height_km, color=BLUE, linewidth=2.0, zorder=4)
    axes.set_xlim(0.0, 360.0)
    axes.set_xticks(np.arange(0.0, 361.0, 90.0), labels=["0", "90", "180", "270", "360"])
    axes.set_xlabel("wind from, ° true", fontsize=TEXT_PT, color=INK)
    axes.grid(axis="x", color=RULE, linewidth=0.7)
    compass = axes.secondary_xaxis("top")
    compass.set_xticks(np.arange(0.0, 361.0, 90.0), labels=["N", "E", "S", "W", "N"])
    quiet_frame(compass)


def _half_angle_deg(reach_m_s: Array, speed_m_s: Array) -> Array:
    """Half the angle under which a circle of error about the tip of the wind is seen from the calm.

    More than half a turn where the circle holds the calm, so that no seam shows where the band meets itself.
    """
    inside = reach_m_s >= speed_m_s
    ratio = np.divide(reach_m_s, speed_m_s, out=np.ones_like(speed_m_s), where=~inside)
    return np.where(inside, 181.0, np.degrees(np.arcsin(ratio)))


def _draw_temperature(axes: Any, mean: _Column, members: list[_Column]) -> None:
    _draw_members(axes, ((one.celsius, one.height_km) for one in members), VERMILLION)
    axes.plot(mean.celsius, mean.height_km, color=VERMILLION, linewidth=2.0, zorder=4)
    shown = np.concatenate([one.celsius[one.seen(axes)] for one in (mean, *members)])
    low, high = float(shown.min()), float(shown.max())
    _two_units(axes, low - 4.0, high + 4.0, "temperature, °C", "°F", 1.8, 32.0)


def _two_units(axes: Any, low: float, high: float, name: str, other: str, factor: float, offset: float = 0.0) -> None:
    """A horizontal axis with the other unit above: ``other = factor * value + offset``."""
    axes.set_xlim(low, high)
    axes.set_xlabel(name, fontsize=TEXT_PT, color=INK)
    axes.grid(axis="x", color=RULE, linewidth=0.7)
    above = axes.secondary_xaxis("top", functions=(lambda x: factor * x + offset, lambda y: (y - offset) / factor))
    above.set_xlabel(other, fontsize=TEXT_PT, color=INK)
    quiet_frame(above)
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
