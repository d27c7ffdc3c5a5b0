"""The part of the earth that a map shows: what must be on it, in true proportions, with its scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pappus.earth import radii_of_curvature_m, require_range
from pappus.export._date_line import wrapped_deg
from pappus.export._look import INK, QUIET, RULE, TEXT_PT, Array, round_step, round_ticks
from pappus.landing import LandingArea
from pappus.trajectory import Flights
from pappus.units import mile_m

_LEAST_WIDTH_M = 4_000.0
_PAD = 1.12
_MOST_TICKS = 6
_LATITUDE_LIMIT_DEG = 85.0
"""Nearer to a pole a map of 100 km is 10 % too wide at one edge and too narrow at the other."""


@dataclass(frozen=True)
class MapFrame:
    """A box of latitude and longitude; longitudes run on past 180 where it lies over the date line."""

    south_deg: float
    north_deg: float
    west_deg: float
    east_deg: float
    metres_per_latitude_deg: float
    """At the middle of the box, as is the next."""
    metres_per_longitude_deg: float

    def longitude_deg(self, longitude_deg: ArrayLike) -> Array:
        """The same longitudes by the turn of the earth that lies nearest to the middle of the box."""
        middle = 0.5 * (self.west_deg + self.east_deg)
        return wrapped_deg(longitude_deg, middle)

    def holds(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> NDArray[np.bool_]:
        """Whether points lie on the map."""
        latitude, longitude = np.asarray(latitude_deg), self.longitude_deg(longitude_deg)
        inside = (self.south_deg <= latitude) & (latitude <= self.north_deg)
        return np.asarray(inside & (self.west_deg <= longitude) & (longitude <= self.east_deg))

    @property
    def width_m(self) -> float:
        """Ground that the map shows from west to east, at its middle latitude."""
        return (self.east_deg - self.west_deg) * self.metres_per_longitude_deg

    @property
    def height_m(self) -> float:
        """Ground that the map shows from south to north."""
        return (self.north_deg - self.south_deg) * self.metres_per_latitude_deg


def frame_around(
    area: LandingArea, flights: Flights, nominal: Flights, site_deg: tuple[float, float], *, width_over_height: float
) -> MapFrame:
    """The site, the nominal track, the areas and all but the farthest hundredth of the known ends of flights."""
    ends = np.column_stack((flights.end_latitude_deg, wrapped_deg(flights.end_longitude_deg, site_deg[1])))
    track = np.column_stack((
        nominal.track_latitude_deg.ravel(), wrapped_deg(nominal.track_longitude_deg.ravel(), site_deg[1])
    ))  # fmt: skip
    rings = [ring for part in area.parts for polygon in part.polygons for ring in polygon[:1]]
    outlines = [np.column_stack((ring[:, 0], wrapped_deg(ring[:, 1], site_deg[1]))) for ring in rings]
    points = np.concatenate([np.array([site_deg]), track, np.nanquantile(ends, (0.005, 0.995), axis=0), *outlines])
    (south, west), (north, east) = np.nanmin(points, axis=0), np.nanmax(points, axis=0)
    return _shaped(float(south), float(north), float(west), float(east), width_over_height)


def _shaped(south: float, north: float, west: float, east: float, width_over_height: float) -> MapFrame:
    """Grown about its middle until the shape on the ground is the shape on the paper."""
    middle = 0.5 * (south + north)
    require_range("middle latitude of a map", middle, -_LATITUDE_LIMIT_DEG, _LATITUDE_LIMIT_DEG, "deg")
    meridian_m, prime_vertical_m = radii_of_curvature_m(middle)
    per_latitude = float(np.radians(1.0) * meridian_m)
    per_longitude = float(np.radians(1.0) * prime_vertical_m * np.cos(np.radians(middle)))
    width = max(_PAD * (east - west) * per_longitude, _PAD * (north - south) * per_latitude * width_over_height)
    width = max(width, _LEAST_WIDTH_M)
    half_east, half_north = 0.5 * width / per_longitude, 0.5 * width / width_over_height / per_latitude
    centre = 0.5 * (west + east)
    return MapFrame(
        middle - half_north, middle + half_north, centre - half_east, centre + half_east, per_latitude, per_longitude
    )


def draw_graticule(axes: Any, frame: MapFrame) -> None:
    """Limits, proportions and the named parallels and meridians of a map."""
    axes.set(xlim=(frame.west_deg, frame.east_deg), ylim=(frame.south_deg, frame.north_deg))
    for axis, low, high, name in (
        (axes.xaxis, frame.west_deg, frame.east_deg, say_longitude),
        (axes.yaxis, frame.south_deg, frame.north_deg, say_latitude),
    ):
        digits = max(0, -int(np.floor(np.log10(round_step(high - low, _MOST_TICKS)) + 1e-9)))
        ticks = round_ticks(low, high, _MOST_TICKS)
        axis.set_ticks(ticks, labels=[name(float(tick), digits) for tick in ticks])
    axes.grid(color=RULE, linewidth=0.7)


def say_longitude(longitude_deg: float, digits: int) -> str:
    """``"64.5° W"``, with neither east nor west at 0 and 180."""
    wrapped = round(float(wrapped_deg(longitude_deg)), digits)
    if abs(wrapped) in (0.0, 180.0):
        return f"{abs(wrapped):.0f}°"
    return f"{abs(wrapped):.{digits}f}° {'E' if wrapped > 0 else 'W'}"


def say_latitude(latitude_deg: float, digits: int) -> str:
    """``"37.5° S"``, with neither north nor south on the equator."""
    rounded = round(latitude_deg, digits)
    return "0°" if rounded == 0.0 else f"{abs(rounded):.{digits}f}° {'N' if rounded > 0 else 'S'}"


def draw_scale(axes: Any, frame: MapFrame) -> None:
    """Bars in kilometres and statute miles, and north, on axes as wide as the map: it can cover nothing there."""
    axes.set(xlim=(0.0, frame.width_m), ylim=(-1.0, 1.0))
    axes.axis("off")
    for y, unit_m, unit in ((0.6, 1000.0, "km"), (-0.2, mile_m, "mi")):
        length = round_step(frame.width_m / unit_m, 4)
        ends = np.array([0.0, length * unit_m])
        axes.plot(ends, [y, y], color=INK, linewidth=2.0, solid_capstyle="butt")
        axes.plot(np.repeat(ends, 2), [y, y, y, y], color=INK, linewidth=0, marker="|", markersize=9)
        axes.annotate(
            f"{length:g} {unit}", (ends[1], y), (8, 0), textcoords="offset points",
            fontsize=TEXT_PT, color=INK, va="center_baseline",
        )  # fmt: skip
    axes.text(frame.width_m, 0.2, "▲ north is up", fontsize=TEXT_PT, color=QUIET, ha="right", va="center_baseline")
