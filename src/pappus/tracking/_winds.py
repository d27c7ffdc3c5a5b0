"""The wind that the balloon itself measured: how far it drifted while it was in a layer, over how long that took."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

from pappus.tracking._gate import Piece
from pappus.tracking._phase import Phase

Leg = Literal["up", "down", "float"]

LAYER_M = 250.0
POSITION_SD_M = 5.0
"""Noise of one position along one axis (satellite navigation under open sky; from memory)."""
SWING_SD_M = 3.0
"""The box swings under its line: about 0.1 rad on 20 to 30 m (common practice, no source)."""
GUST_S = 20.0
"""Drifts measured closer together than this tell of the same gust. Common practice, no source."""
SHEAR_SD_M_S = 1.5
"""By how much the mean over one kilometre more than the layer misses the mean of the layer; grows with the root of the
height. Common practice, no source; on the recorded Barbados descent thinned to a fix in 30 s it misses by 0.8."""
GUST_SD_M_S, GUST_PIECES = 1.0, 10.0
"""Scatter taken for a layer before it shows its own, and how many pieces that weighs. Common practice, no source."""
LEAST_RATE_M_S = 0.5
"""On the way up or down a drift without a change of height may be a box that has landed and was not called so yet."""
LONGEST_PIECE_S = 180.0
"""Across a longer silence the drift says too little of any one layer."""
_LEGS: dict[Phase, Leg] = {Phase.ASCENT: "up", Phase.DESCENT: "down", Phase.FLOAT: "float"}


@dataclass(frozen=True)
class WindLayer:
    """Mean wind of one layer on one leg, as drifted through by one tracker."""

    leg: Leg
    low_msl_m: float
    high_msl_m: float
    wind_u_m_s: float
    """Eastward."""
    wind_v_m_s: float
    """Northward."""
    wind_sd_m_s: float
    """One standard deviation of either component as a mean of the layer: position noise at both ends, and gusts and
    shear within the layer over the number of independent pieces."""
    within_sd_m_s: float
    """Scatter of the wind inside the layer, of one component, noise taken off."""
    seconds: float
    """Spent in the layer."""
    smoothed_over_m: float
    """Height over which the mean was really taken: more than the layer's own where fixes are far apart."""
    time_utc: datetime
    """Middle of the stay."""
    tracker: str


class LayerSums:
    """Running sums of one layer; drifts add up, so the noise of the fixes in between drops out of the mean."""

    __slots__ = (
        "east", "extent", "high", "low", "moment", "noise",
        "north", "pieces", "seconds", "squares", "touched", "weight",
    )  # fmt: skip

    def __init__(self) -> None:
        self.seconds = self.east = self.north = self.squares = self.noise = self.weight = 0.0
        self.touched = self.moment = self.extent = self.pieces = 0.0
        self.low, self.high = math.inf, -math.inf

    def copy(self) -> LayerSums:
        """The same sums, to be added to."""
        other = LayerSums()
        for name in self.__slots__:
            setattr(other, name, getattr(self, name))
        return other

    def add(self, piece: Piece, share: float) -> None:
        """Add the share of a piece that lies in this layer."""
        whole = piece.end_s - piece.start_s
        u, v = piece.east_m / whole, piece.north_m / whole
        part = whole * share
        variance = _position_variance(piece.step_m)
        self.seconds += part
        self.east += u * part
        self.north += v * part
        self.squares += 0.5 * (u * u + v * v) * part
        self.noise += 2.0 * variance / (whole * whole) * part
        self.weight += variance * part
        self.touched += whole
        self.pieces += share
        self.moment += 0.5 * (piece.start_s + piece.end_s) * part
        self.extent += (piece.high_msl_m - piece.low_msl_m) * part
        self.low, self.high = min(self.low, piece.low_msl_m), max(self.high, piece.high_msl_m)


LayerKey = tuple[Leg, int]


def _position_variance(step_m: float) -> float:
    return POSITION_SD_M**2 + SWING_SD_M**2 + step_m * step_m / 12.0


def shares(piece: Piece) -> list[tuple[LayerKey, float]]:
    """The layers that a piece crosses and how much of it lies in each; none on the ground or over a long silence."""
    leg = _LEGS.get(piece.phase)
    seconds = piece.end_s - piece.start_s
    if leg is None or seconds > LONGEST_PIECE_S:
        return []
    if leg != "float" and piece.high_msl_m - piece.low_msl_m < LEAST_RATE_M_S * seconds:
        return []
    first, last = math.floor(piece.low_msl_m / LAYER_M), math.floor(piece.high_msl_m / LAYER_M)
    if first == last:
        return [((leg, first), 1.0)]
    span = piece.high_msl_m - piece.low_msl_m
    parts = []
    for index in range(first, last + 1):
        low, high = max(piece.low_msl_m, index * LAYER_M), min(piece.high_msl_m, (index + 1) * LAYER_M)
        if high > low:
            parts.append(((leg, index), (high - low) / span))
    return parts


def add_pieces(sums: dict[LayerKey, LayerSums], pieces: Iterable[Piece]) -> None:
    """Add pieces to sums in place, in the order given."""
    for piece in pieces:
        for key, share in shares(piece):
            if key not in sums:
                sums[key] = LayerSums()
            sums[key].add(piece, share)


def with_pieces(settled: dict[LayerKey, LayerSums], pieces: Iterable[Piece]) -> dict[LayerKey, LayerSums]:
    """Only the layers that the pieces touch, their settled sums included."""
    touched: dict[LayerKey, LayerSums] = {}
    for piece in pieces:
        for key, share in shares(piece):
            if key not in touched:
                touched[key] = settled[key].copy() if key in settled else LayerSums()
            touched[key].add(piece, share)
    return touched


def wind_layer(key: LayerKey, sums: LayerSums, tracker: str) -> WindLayer:
    """The mean and its spread.

    The mean is the way from the first to the last position over the time, so position noise enters at the two ends
    only: 2 s^2 / T^2. The payload lags the wind by v/g, 0.5 s on the way up and up to 4 s in a fast fall (shear of
    0.01 per s at 30 m/s fall: 0.9 m/s); that is not taken off.
    """
    leg, index = key
    t = sums.seconds
    u, v = sums.east / t, sums.north / t
    scatter = max(0.0, sums.squares / t - 0.5 * (u * u + v * v) - sums.noise / t)
    # few pieces, noisy each, tell their scatter badly: it is drawn towards what is usual
    scatter = (sums.pieces * scatter + GUST_PIECES * GUST_SD_M_S**2) / (sums.pieces + GUST_PIECES)
    independent = max(1.0, sums.touched / GUST_S)
    ends = 2.0 * (sums.weight / t) / (sums.touched * sums.touched)
    beyond = max(0.0, sums.extent / t - LAYER_M) if leg != "float" else 0.0
    missed = SHEAR_SD_M_S**2 * beyond / 1000.0
    return WindLayer(
        leg,
        index * LAYER_M,
        (index + 1) * LAYER_M,
        u,
        v,
        math.sqrt(ends + scatter / independent + missed),
        math.sqrt(scatter),
        t,
        max(LAYER_M, sums.high - sums.low) if leg != "float" else LAYER_M,
        datetime.fromtimestamp(sums.moment / t, tz=UTC),
        tracker,
    )
