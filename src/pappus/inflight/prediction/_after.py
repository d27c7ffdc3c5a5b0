"""When the balloon is silent or down: where it may be by now, and where to look first."""

from __future__ import annotations

from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pappus.earth import LocalPlane
from pappus.errors import BadInput, Finding, NoSolution
from pappus.inflight.prediction._prediction import Prediction, SearchArea, Whereabouts
from pappus.inflight.prediction._repredict import LEVELS, QUANTILES
from pappus.landing import landing_area, quantiles, share
from pappus.tracking import Estimate
from pappus.trajectory import Outcome

Array = NDArray[np.float64]

TRACKED = 1_000
"""So many tracks of a prediction tell well enough where a silent balloon is."""
CELL_M = 250.0
MOST_CELLS = 250_000
NEAR_M = 300_000.0


def whereabouts(prediction: Prediction, estimate: Estimate, now: datetime, *, seed: int = 1) -> Whereabouts:
    """Where the balloon is now, dead-reckoned from the newest position; the area grows with the silence.

    The climb goes on to a burst that nobody heard, the fall goes on to the ground.

    :param prediction: of this estimate. The area holds the flights that keep tracks; let ``TRACKED`` of them do so.

    Raises BadInput when there is no position to go on from, it is from after ``now``, or no flight has a track.
    """
    if estimate.position is None:
        raise BadInput(Finding("position", "none", "nothing was heard from the balloon", "Use the plan's prediction."))
    silent_s = (now - estimate.position.time_utc).total_seconds()
    if silent_s < 0.0:
        raise BadInput(Finding("now", now.isoformat(), "is before the newest position", "Give the present time."))
    flown, now_s = prediction.flights, (now - prediction.epoch).total_seconds()
    count = len(flown.track_time_s)
    if not count:
        raise BadInput(Finding("prediction", "none", "no flight of it has a track", "Predict with tracks."))
    over = flown.end_time_s[:count] <= now_s
    down = over & flown.landed[:count]
    known = ~over | down
    latitude, longitude, height = np.empty(count), np.empty(count), np.empty(count)
    for row in range(count):
        finite = np.isfinite(flown.track_time_s[row])
        time = flown.track_time_s[row, finite]
        for into, track in (
            (latitude, flown.track_latitude_deg),
            (longitude, flown.track_longitude_deg),
            (height, flown.track_height_msl_m),
        ):
            into[row] = np.interp(now_s, time, track[row, finite])
    # those on the ground lie where they ended, with the noise of the position that they began at
    latitude[down], longitude[down] = flown.end_latitude_deg[:count][down], flown.end_longitude_deg[:count][down]
    unknown = int((~known).sum())
    return Whereabouts(
        prediction=prediction,
        silent_s=silent_s,
        area=landing_area(latitude[known], longitude[known], unknown=unknown, levels=LEVELS, rng_seed=seed),
        height_msl_m=quantiles(height[known], QUANTILES, unknown) if known.any() else None,
        down=share(int(down.sum()), count),
    )


def search_area(prediction: Prediction, estimate: Estimate, *, cell_m: float = CELL_M) -> SearchArea:
    """Squares where the payload may lie, the most likely first, down to those that hold 99 % of the landed flights.

    Shares of the flights are smoothed over their own scatter (Scott 1992, rule of thumb for two dimensions).

    :param cell_m: edge of a square, 10 to 5,000.

    Raises BadInput for another edge, NoSolution when no flight lands in the data.
    """
    if not 10.0 <= cell_m <= 5_000.0:
        raise BadInput(Finding("cell_m", f"{cell_m:g}", "expected 10 to 5,000 m", "Give the edge of a search square."))
    flown, position = prediction.flights, estimate.position
    if not flown.landed.any() or position is None:
        raise NoSolution("no flight lands in the data: there is nothing to rank")
    latitude, longitude = flown.end_latitude_deg[flown.landed], flown.end_longitude_deg[flown.landed]
    plane = LocalPlane(float(np.median(latitude)), float(np.median(longitude)))
    near = np.hypot(latitude - plane.latitude_deg, (longitude - plane.longitude_deg + 180.0) % 360.0 - 180.0) < 2.5
    east, north = plane.to_east_north_m(latitude[near], longitude[near])
    notes = []
    low_e, high_e, low_n, high_n = (float(np.quantile(v, q)) for v in (east, north) for q in (0.001, 0.999))
    while ((high_e - low_e) / cell_m + 10) * ((high_n - low_n) / cell_m + 10) > MOST_CELLS:
        cell_m *= 2.0
        notes = [f"The area is large: squares of {cell_m:g} m."]
    width = len(east) ** (-1.0 / 6.0) * np.array([_spread(east), _spread(north)])
    edges = [
        np.arange(low - 3.0 * w - cell_m, high + 3.0 * w + cell_m, cell_m)
        for low, high, w in ((low_e, high_e, width[0]), (low_n, high_n, width[1]))
    ]
    counted, _, _ = np.histogram2d(east, north, bins=edges)
    chance = _smoothed(counted, width / cell_m) / len(flown.outcome)
    order = np.argsort(-chance, axis=None, kind="stable")
    total = np.cumsum(chance.ravel()[order])
    last = int(np.searchsorted(total, 0.99 * total[-1])) + 1
    kept = order[:last]
    middle = [0.5 * (edge[1:] + edge[:-1]) for edge in edges]
    at_east, at_north = np.meshgrid(*middle, indexing="ij")
    at_latitude, at_longitude = plane.to_latitude_longitude_deg(at_east.ravel()[kept], at_north.ravel()[kept])
    return SearchArea(
        latitude_deg=at_latitude,
        longitude_deg=at_longitude,
        chance=chance.ravel()[kept],
        up_to_here=total[:last],
        edge_m=cell_m,
        heard_utc=position.time_utc,
        heard_msl_m=position.height_msl_m,
        heard_deg=(position.latitude_deg, position.longitude_deg),
        unknown=share(int((flown.outcome != Outcome.LANDED).sum()), len(flown.outcome)),
        notes=tuple(notes),
    )


def _spread(values: Array) -> float:
    """Standard deviation, or that of a normal with the same quartiles where that is less; a metre at least."""
    low, high = np.quantile(values, (0.25, 0.75))
    return max(min(float(values.std()), float(high - low) / 1.349), 1.0)


def _smoothed(counted: Array, width: Array) -> Array:
    """Counts in squares under a Gaussian of these widths, in squares; the sum stays."""
    for axis in (0, 1):
        reach = max(int(np.ceil(4.0 * width[axis])), 1)
        bell = np.exp(-0.5 * (np.arange(-reach, reach + 1) / max(width[axis], 1e-3)) ** 2)
        bell /= bell.sum()
        counted = np.apply_along_axis(lambda row, bell=bell: np.convolve(row, bell, mode="full"), axis, counted)
        keep = slice(reach, counted.shape[axis] - reach)
        counted = counted[keep] if axis == 0 else counted[:, keep]
    return counted
