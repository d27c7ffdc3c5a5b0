"""After the landing or the loss: cells to search, the likeliest first."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import LocalPlane, distance_m, require_range
from pappus.errors import NoSolution, OutOfRange
from pappus.ground import GroundFeatures, RoadNetwork
from pappus.recovery._landings import Array, Landings, Mask

CELL_SIZES_M = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)
FARTHEST_M = 300_000.0
"""Landings farther than this from the middle of all lie in no cell."""
LEAST_SPREAD_M = 10.0
"""Narrower than the noise of satellite positions no search area gets."""
_MOST_CELLS = 1_000_000
_REACH = 4.0
"""A kernel is cut off at so many of its standard deviations, and made to sum to one."""


@dataclass(frozen=True)
class LastHeard:
    """The last position that was heard."""

    latitude_deg: float
    longitude_deg: float
    height_msl_m: float
    above_ground_m: float
    """0 when it was heard from the ground."""
    age_s: float


@dataclass(frozen=True, eq=False)
class SearchCells:
    """Squares of a grid, north up, ranked by the chance that the payload lies in them; one entry a cell."""

    cell_m: float
    """Side of a cell."""
    latitude_deg: Array
    """Of the middle."""
    longitude_deg: Array
    probability: Array
    """Of all flights: unknown ones lie in no cell."""
    probability_sd: Array
    """Sampling error: another ensemble of the same size would give another number."""
    cumulative: Array
    """Of this cell and all before it."""
    road_m: Array
    """Straight from the middle to the nearest road for cars; NaN where no map of roads is given."""
    in_water: Mask
    """The middle lies in water or sea of the map; False also where the map cannot tell."""
    wanted: float
    """Share of all flights that the cells were to hold."""
    why_less: str
    """Why they hold less than that; empty when they hold it."""
    last: LastHeard | None
    notes: tuple[str, ...]

    @property
    def area_km2(self) -> float:
        """Of all cells together."""
        return len(self.probability) * self.cell_m**2 / 1e6


def loss_offset_m(
    height_above_ground_m: ArrayLike, sink_m_s: ArrayLike, wind_m_s: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far downwind of where it was last heard a payload lands [m], and how long it falls on [s].

    wind x h / v: constant wind and sink. Height 0 to 50 km, sink above 0 to 100 m/s; a wind component may be
    negative. The arguments broadcast.

    :raises OutOfRange: outside those ranges.
    """
    height = require_range("height above the ground", height_above_ground_m, 0.0, 50_000.0, "m")
    sink = require_range("sink", sink_m_s, 0.0, 100.0, "m/s")
    if not (sink > 0.0).all():
        raise OutOfRange("sink", float(sink.min()), 0.0, 100.0, "m/s")
    seconds = height / sink
    return np.asarray(seconds * np.asarray(wind_m_s, dtype=np.float64)), np.asarray(seconds)


def search_cells(
    landings: Landings,
    *,
    last: LastHeard | None = None,
    cell_m: float | None = None,
    share: float = 0.95,
    roads: RoadNetwork | None = None,
    features: GroundFeatures | None = None,
) -> SearchCells:
    """The fewest cells that hold a share of all flights, ranked; give landings that already know the last fix.

    Each landing is spread by a normal kernel of Silverman's width (Density Estimation, 1986, eq. 4.14, from memory),
    so that neighbouring cells do not differ by the luck of the draw; the mass stays what it is.

    :param cell_m: side of a cell; without it about a third of the spread, from 10 m to 5 km.
    :param share: above 0, below 1.
    :raises OutOfRange: a share or cell outside its range, or so small that the grid has over a million cells.
    :raises NoSolution: no flight landed.
    """
    require_range("share of the flights", share, 1e-6, 1.0 - 1e-6, "")
    if not landings.landed:
        raise NoSolution(f"no flight landed in the data ({landings.unknown} unknown): there is nothing to rank")
    plane = LocalPlane(float(np.median(landings.latitude_deg)), float(np.median(landings.longitude_deg)))
    away = distance_m(plane.latitude_deg, plane.longitude_deg, landings.latitude_deg, landings.longitude_deg)
    near = away <= FARTHEST_M
    points = np.column_stack(plane.to_east_north_m(landings.latitude_deg[near], landings.longitude_deg[near]))
    spread = np.maximum(_spread_m(points), LEAST_SPREAD_M)
    if cell_m is None:
        third = float(spread.min()) / 3.0
        cell_m = max((size for size in CELL_SIZES_M if size <= third), default=CELL_SIZES_M[0])
        while _grid(points, spread, cell_m)[1].prod() > _MOST_CELLS:
            cell_m *= 2.0
    require_range("side of a cell", cell_m, 1.0, 20_000.0, "m")
    width = spread * len(points) ** (-1.0 / 6.0)
    origin, shape = _grid(points, width, cell_m)
    if shape.prod() > _MOST_CELLS:
        raise OutOfRange("cells of the grid", int(shape.prod()), 1, _MOST_CELLS, "")
    mass, error = _density(points, width, origin, shape, cell_m, landings)
    order = np.argsort(-mass.ravel(), kind="stable")
    running = np.cumsum(mass.ravel()[order])
    held = float(running[-1])
    count = int(np.searchsorted(running, min(share, held) * (1.0 - 1e-12))) + 1
    kept = order[:count]
    row, column = np.unravel_index(kept, (int(shape[1]), int(shape[0])))
    east, north = origin[0] + (column + 0.5) * cell_m, origin[1] + (row + 0.5) * cell_m
    latitude, longitude = plane.to_latitude_longitude_deg(east, north)
    less = ""
    if held < share * (1.0 - 1e-12):
        less = f"only {held:.1%} of the flights landed in the data and near the others"
    return SearchCells(
        cell_m=cell_m,
        latitude_deg=latitude,
        longitude_deg=longitude,
        probability=mass.ravel()[kept],
        probability_sd=error.ravel()[kept],
        cumulative=running[:count],
        road_m=_road_m(roads, latitude, longitude),
        in_water=_in_water(features, latitude, longitude),
        wanted=share,
        why_less=less,
        last=last,
        notes=tuple(_notes(landings, int((~near).sum()), last, roads, features)),
    )


def after_search(cells: SearchCells, searched: ArrayLike, detection: float) -> SearchCells:
    """The cells ranked anew when some were searched and nothing was found there.

    Bayes' rule: what was searched keeps 1 - detection of its chance, and all shares are then of the flights that are
    still possible (Koopman's theory of search; from memory). Flights outside the cells keep theirs.

    :param searched: true for the cells that were searched, shape (cells,).
    :param detection: chance of seeing the payload in a cell where it lies, 0 up to below 1.
    :raises OutOfRange: a detection outside its range.
    """
    require_range("chance of detection", detection, 0.0, 1.0 - 1e-9, "")
    mask = np.asarray(searched, dtype=np.bool_)
    if mask.shape != cells.probability.shape:
        raise ValueError(f"searched has shape {mask.shape}, the cells {cells.probability.shape}")
    factor = np.where(mask, 1.0 - detection, 1.0)
    left = 1.0 - float(cells.probability[mask].sum()) * detection
    probability = cells.probability * factor / left
    order = np.argsort(-probability, kind="stable")
    total = float(probability.sum())
    less = f"after the search they hold {total:.1%}" if total < cells.wanted else ""
    return replace(
        cells,
        latitude_deg=cells.latitude_deg[order],
        longitude_deg=cells.longitude_deg[order],
        probability=probability[order],
        probability_sd=(cells.probability_sd * factor / left)[order],
        cumulative=np.cumsum(probability[order]),
        road_m=cells.road_m[order],
        in_water=cells.in_water[order],
        why_less=less,
    )


def _spread_m(points: Array) -> Array:
    """Robust standard deviation east and north: of the middle half, where that is the narrower."""
    low, high = np.quantile(points, (0.25, 0.75), axis=0)
    middle = (high - low) / 1.349
    whole = points.std(axis=0)
    return np.asarray(np.where(middle > 0.0, np.minimum(middle, whole), whole))


def _grid(points: Array, width: Array, cell_m: float) -> tuple[Array, NDArray[np.int64]]:
    """South-west corner, and number of cells east and north, wide enough for the kernels of all landings."""
    reach = (np.ceil(_REACH * width / cell_m) + 1.0) * cell_m
    origin = np.floor((points.min(axis=0) - reach) / cell_m) * cell_m
    shape = np.ceil((points.max(axis=0) + reach - origin) / cell_m).astype(np.int64)
    return origin, shape


def _density(
    points: Array, width: Array, origin: Array, shape: NDArray[np.int64], cell_m: float, landings: Landings
) -> tuple[Array, Array]:
    """Chance of each cell and its sampling error, shape (north, east)."""
    from scipy.ndimage import correlate1d

    place = np.floor((points - origin) / cell_m).astype(np.int64)
    count = np.zeros((int(shape[1]), int(shape[0])))
    np.add.at(count, (place[:, 1], place[:, 0]), 1.0)
    mean, square = count, count
    for axis, sigma in ((0, width[1]), (1, width[0])):
        kernel = _kernel(float(sigma) / cell_m)
        mean = correlate1d(mean, kernel, axis=axis, mode="constant")
        square = correlate1d(square, kernel**2, axis=axis, mode="constant")
    mean, square = np.maximum(mean, 0.0) / landings.flights, np.maximum(square, 0.0) / landings.flights
    return mean, np.sqrt(np.maximum(square - mean**2, 0.0) / landings.flights)


def _kernel(sigma: float) -> Array:
    """Mass of a normal in each cell, for a centre anywhere in the middle cell, cut off at four sigma."""
    reach = math.ceil(_REACH * sigma)
    edges = np.arange(-reach, reach + 2) - 0.5
    below = np.array([0.5 * (1.0 + math.erf(edge / (sigma * math.sqrt(2.0)))) for edge in edges])
    kernel = np.diff(below)
    return np.asarray(kernel / kernel.sum())


def _road_m(roads: RoadNetwork | None, latitude_deg: Array, longitude_deg: Array) -> Array:
    if roads is None:
        return np.full(len(latitude_deg), np.nan)
    return roads.nearest(latitude_deg, longitude_deg, main_only=True).distance_m


def _in_water(features: GroundFeatures | None, latitude_deg: Array, longitude_deg: Array) -> Mask:
    wet = np.zeros(len(latitude_deg), dtype=np.bool_)
    if features is not None:
        for kind in ("water", "sea"):
            if kind in features.shapes:
                wet |= features.inside(kind, latitude_deg, longitude_deg)[0]
    return wet


def _notes(
    landings: Landings, far: int, last: LastHeard | None, roads: RoadNetwork | None, features: GroundFeatures | None
) -> list[str]:
    notes = []
    if landings.unknown:
        notes.append(f"{landings.unknown:,} of {landings.flights:,} flights did not land in the data: in no cell")
    if far:
        notes.append(f"{far:,} flights landed over {FARTHEST_M / 1000:.0f} km from the middle: in no cell")
    if last is None:
        notes.append("no last position is given: the cells are those of a prediction, not of a search")
    elif last.above_ground_m > 0.0:
        notes.append(
            f"last heard {last.above_ground_m:,.0f} m above the ground, {last.age_s / 60.0:.0f} min ago: what it did "
            "below that nobody heard"
        )
    if roads is None:
        notes.append("no map of roads: how far a cell is from one is not known")
    if features is None:
        notes.append("no map of water: cells in it are not marked")
    return notes
