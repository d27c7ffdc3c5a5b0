"""The wind that the balloon itself measured: how far it drifted while it was in a layer, over how long that took."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal, NamedTuple

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
height. Common practice, no source; on the recorded Barbados descent thinned to a fix in 30 s it misses by 0.5."""
GUST_SD_M_S, GUST_PIECES = 1.0, 10.0
"""Scatter taken for a layer before it shows its own, and how many pieces that weighs. Common practice, no source."""
LEAST_RATE_M_S = 0.5
"""On the way up or down a drift without a change of height may be a box that has landed and was not called so yet."""
LONGEST_PIECE_S = 180.0
"""Across a longer silence the drift says too little of any one layer."""
_LEGS: dict[Phase, Leg] = {Phase.ASCENT: "up", Phase.DESCENT: "down", Phase.FLOAT: "float"}


LayerKey = tuple[Leg, int]


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


class Part(NamedTuple):
    """What of a piece lies in one layer."""

    key: LayerKey
    share: float
    middle_s: float
    """When it passed the middle of this part."""
    wind_u_m_s: float
    wind_v_m_s: float


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

    def add(self, piece: Piece, part: Part) -> None:
        """Add the part of a piece that lies in this layer."""
        whole = piece.end_s - piece.start_s
        seconds = whole * part.share
        variance = _position_variance(piece.step_m)
        self.seconds += seconds
        self.east += part.wind_u_m_s * seconds
        self.north += part.wind_v_m_s * seconds
        self.squares += 0.5 * (part.wind_u_m_s**2 + part.wind_v_m_s**2) * seconds
        self.noise += 2.0 * variance / (whole * whole) * seconds
        self.weight += variance * seconds
        self.touched += whole
        self.pieces += part.share
        self.moment += part.middle_s * seconds
        self.extent += (piece.high_msl_m - piece.low_msl_m) * seconds
        self.low, self.high = min(self.low, piece.low_msl_m), max(self.high, piece.high_msl_m)


def _position_variance(step_m: float) -> float:
    return POSITION_SD_M**2 + SWING_SD_M**2 + step_m * step_m / 12.0


def _leg(piece: Piece) -> Leg | None:
    """None on the ground, over a long silence, and where the height says too little."""
    leg, seconds = _LEGS.get(piece.phase), piece.end_s - piece.start_s
    if seconds > LONGEST_PIECE_S:
        return None
    slow = piece.high_msl_m - piece.low_msl_m < LEAST_RATE_M_S * seconds
    return None if slow and leg != "float" else leg


def _mean(piece: Piece) -> tuple[float, float, float]:
    """Middle height, and the wind along the whole piece."""
    seconds = piece.end_s - piece.start_s
    return 0.5 * (piece.start_msl_m + piece.end_msl_m), piece.east_m / seconds, piece.north_m / seconds


def _goes_on(first: Piece | None, second: Piece | None) -> bool:
    """Whether one piece begins where another ends and goes the same way."""
    if first is None or second is None or first.end_s != second.start_s:
        return False
    leg = _leg(first)
    rises = (first.end_msl_m - first.start_msl_m) * (second.end_msl_m - second.start_msl_m)
    return leg is not None and leg == _leg(second) and rises > 0.0


def _shear(before: Piece | None, piece: Piece, after: Piece | None) -> tuple[float, float]:
    """By how much the wind changes with each metre of height across a piece, told by those beside it.

    Drifts as short as a gust tell nothing of it.
    """
    if piece.end_s - piece.start_s <= GUST_S:
        return 0.0, 0.0
    first = before if before is not None and _goes_on(before, piece) else piece
    last = after if after is not None and _goes_on(piece, after) else piece
    if first is last:
        return 0.0, 0.0
    (height0, u0, v0), (height1, u1, v1) = _mean(first), _mean(last)
    return (u1 - u0) / (height1 - height0), (v1 - v0) / (height1 - height0)


def parts(before: Piece | None, piece: Piece, after: Piece | None) -> list[Part]:
    """What of a piece lies in each layer that it crosses; none where it tells of no wind.

    Between two fixes the height goes straight with time, and the wind with height as ``before`` and ``after`` have it:
    the parts add up to the whole drift.
    """
    leg = _leg(piece)
    if leg is None:
        return []
    seconds, span = piece.end_s - piece.start_s, piece.end_msl_m - piece.start_msl_m
    middle, u, v = _mean(piece)
    first, last = math.floor(piece.low_msl_m / LAYER_M), math.floor(piece.high_msl_m / LAYER_M)
    if first == last:
        return [Part((leg, first), 1.0, 0.5 * (piece.start_s + piece.end_s), u, v)]
    shear_u, shear_v = _shear(before, piece, after)
    found = []
    for index in range(first, last + 1):
        low, high = max(piece.low_msl_m, index * LAYER_M), min(piece.high_msl_m, (index + 1) * LAYER_M)
        if high > low:
            at, off = (0.5 * (low + high) - piece.start_msl_m) / span, 0.5 * (low + high) - middle
            passed_s = piece.start_s + at * seconds
            found.append(Part((leg, index), (high - low) / abs(span), passed_s, u + shear_u * off, v + shear_v * off))
    return found


def _in_turn(before: Piece | None, pieces: Sequence[Piece], after: Piece | None) -> Iterator[tuple[Piece, Part]]:
    row = [before, *pieces, after]
    for index, piece in enumerate(pieces):
        for part in parts(row[index], piece, row[index + 2]):
            yield piece, part


def add_pieces(
    sums: dict[LayerKey, LayerSums], before: Piece | None, pieces: Sequence[Piece], after: Piece | None
) -> set[LayerKey]:
    """Add pieces to sums in place, in the order given; the layers that were touched.

    :param before: the piece before the first of them, and ``after`` the one behind the last, where there is one.
    """
    touched = set()
    for piece, part in _in_turn(before, pieces, after):
        if part.key not in sums:
            sums[part.key] = LayerSums()
        sums[part.key].add(piece, part)
        touched.add(part.key)
    return touched


def with_pieces(
    settled: dict[LayerKey, LayerSums], before: Piece | None, pieces: Sequence[Piece]
) -> dict[LayerKey, LayerSums]:
    """Only the layers that the pieces touch, their settled sums included."""
    touched: dict[LayerKey, LayerSums] = {}
    for piece, part in _in_turn(before, pieces, None):
        if part.key not in touched:
            touched[part.key] = settled[part.key].copy() if part.key in settled else LayerSums()
        touched[part.key].add(piece, part)
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
