"""When the fall began: a line, a fall that settles, and the moment between them, fitted to the heights."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from pappus.tracking._climb import HEIGHT_SD_M

Array = NDArray[np.float64]

BEFORE_S = 60.0
AFTER_S = 30.0
"""Heights used; in more time the fall speed changes with the air."""
SETTLED_S = 45.0
"""After this long no more fixes change the answer."""
MODEL_SD_S = 1.5
"""What the model itself does not know: on the recorded Barbados flight of 2019-02-10 the answer wandered over 2 s as
later heights came in."""
SILENCE_SHARE = 0.3
"""Part of a silence across the start of the fall that stays unknown: there the fall is not seen to settle."""
_TERMINAL_M_S = np.geomspace(4.0, 120.0, 18)
THICKER_M = 16_000.0
"""Scale height of the air, 6.5 km, over the power of the density that the speed goes with: 0.35 (recorded small sondes)
to 0.5 (constant drag area)."""
_FINER, _FINE_STEPS = 1.25, 23
_STEPS = 81
_MOST_HEIGHTS = 120
_G_M_S2 = 9.80665


@dataclass(frozen=True)
class FallStart:
    """The end of the ascent or of the float. A burst and a cut-down look the same from their heights."""

    time_utc: datetime
    time_sd_s: float
    height_msl_m: float
    height_sd_m: float
    fixes_after: int
    """Heights after it on which the answer stands."""


def fit_fall_start(heights: Sequence[tuple[float, float]], about_s: float) -> FallStart | None:
    """The start of a fall from (time, height) in order of time.

    Model: a constant rate up to t_b, then a fall from rest against drag of the square of the speed,
    D = (w^2/g) ln cosh(g (t - t_b)/w) with terminal speed w (textbook), which becomes L ln(1 + D/L) as the air below is
    denser. Every t_b and w of a grid is fitted by least squares, then of a finer one about the best w; the answer is
    the mean over that, weighted with exp(-residuals / 2 s^2), and its spread.

    :param about_s: time of the last height that was not yet falling.
    :returns: None where fewer than two heights lie on either side.
    """
    before = [row for row in heights if row[0] <= about_s]
    after = [row for row in heights if row[0] > about_s]
    near = [row for row in before if row[0] >= about_s - BEFORE_S]
    soon = [row for row in after if row[0] <= about_s + AFTER_S]
    # fixes far apart, or a silence at the burst: two or three on either side must do
    before = near if len(near) >= 3 else before[-3:]
    after = soon if len(soon) >= 2 else after[:2]
    if len(before) < 2 or len(after) < 2:
        return None
    data = np.array([*before, *after], dtype=np.float64)
    if len(data) > _MOST_HEIGHTS:
        data = data[:: -(-len(data) // _MOST_HEIGHTS)]
    t, h = data[:, 0] - about_s, data[:, 1]
    gap = float(np.median(np.diff(t)))
    moment = np.linspace(max(-max(16.0, 2.0 * gap), t[0]), min(max(8.0, after[0][0] - about_s), t[-1]), _STEPS)
    terminal = _TERMINAL_M_S
    for _ in range(2):
        square, constant, rate = _residuals(t, h, moment, terminal)
        best_w = float(terminal[int(square.min(axis=0).argmin())])
        terminal = np.geomspace(best_w / _FINER, best_w * _FINER, _FINE_STEPS)
    best = float(square.min())
    # the spread of the heights about the fit, where there are enough of them to tell
    variance = max(HEIGHT_SD_M**2 / 4.0, best / max(1, len(t) - 4))
    weight = np.exp(-0.5 * (square - best) / variance)
    weight /= weight.sum()
    by_moment = weight.sum(axis=1)
    mean = float(by_moment @ moment)
    spacing = float(moment[1] - moment[0])
    model_sd = math.hypot(MODEL_SD_S, SILENCE_SHARE * (after[0][0] - before[-1][0]))
    time_sd = math.sqrt(float(by_moment @ (moment - mean) ** 2) + spacing**2 / 12.0 + model_sd**2)
    top = float((weight * constant).sum())
    climb = float((weight * rate).sum())
    height_sd = math.sqrt(float((weight * (constant - top) ** 2).sum()) + variance / max(1, int((t < mean).sum())))
    # the height turns with the moment: a second of doubt is a second of climb
    height_sd = math.hypot(height_sd, climb * model_sd)
    return FallStart(datetime.fromtimestamp(about_s + mean, tz=UTC), time_sd, top, height_sd, int((t > mean).sum()))


def _residuals(t: Array, h: Array, moment: Array, terminal: Array) -> tuple[Array, Array, Array]:
    """Sum of squares, height and rate at the end of the ascent for each (moment, terminal speed)."""
    since = np.maximum(t[None, :] - moment[:, None], 0.0)
    ratio = _G_M_S2 * since[:, None, :] / terminal[None, :, None]
    # ln cosh x without overflow
    drop = (terminal**2 / _G_M_S2)[None, :, None] * (ratio + np.log1p(np.exp(-2.0 * ratio)) - math.log(2.0))
    drop = THICKER_M * np.log1p(drop / THICKER_M)
    y = h[None, None, :] + drop
    x = np.minimum(t[None, :] - moment[:, None], 0.0)[:, None, :]
    n = len(t)
    x_mean, y_mean = x.mean(axis=2, keepdims=True), y.mean(axis=2, keepdims=True)
    x_off, y_off = x - x_mean, y - y_mean
    xx = np.maximum((x_off * x_off).sum(axis=2), 1e-9)
    xy = (x_off * y_off).sum(axis=2)
    rate = xy / xx
    square = np.maximum((y_off * y_off).sum(axis=2) - rate * xy, 0.0)
    # before the fall there is a climb or a float, no other fall
    square = square + np.where(rate < -1.0, n * HEIGHT_SD_M**2, 0.0)
    return square, (y_mean[:, :, 0] - rate * x_mean[:, :, 0]), rate
