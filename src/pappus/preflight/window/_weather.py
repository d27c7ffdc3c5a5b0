"""The weather near the ground over one site at many launch times, while the balloon is filled and when it leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pappus.decision import Fact, missing
from pappus.plan import Site
from pappus.preflight.window._fly import CellFlights, NotFlown
from pappus.preflight.winds import Winds
from pappus.weather import SurfaceWeather

Array = NDArray[np.float64]

FILLING_S = 2700.0
"""A crew fills for so long before the release, in the wind of that time (common practice, no source)."""
_LOOKS = 4
"""Times in it at which the wind is read; forecasts have one value an hour at most."""
NEAR_GROUND = ("surface_wind_m_s", "gust_m_s", "cloud_fraction", "visibility_m", "rain")
NO_FIELDS = "the winds hold no weather near the ground: bring a forecast that does"


class WindowWeather:
    """The weather over one site from whichever winds a cell is flown on, and how old they are."""

    def __init__(self, winds: Sequence[Winds], site: Site, releases: Sequence[datetime], now: datetime) -> None:
        self._winds, self._site, self._releases, self._now = winds, site, tuple(releases), now
        self._read: dict[int, SiteWeather] = {}

    def facts(self, cell: CellFlights | NotFlown) -> dict[str, Fact]:
        """By the names of ``Facts``; a cell that is not flown has the weather of the newest source."""
        if isinstance(cell, NotFlown):
            newest = max(self._winds, key=lambda one: one.field.issued, default=None)
        else:
            newest = cell.winds[0]
        if newest is None:
            return {name: missing(NO_FIELDS) for name in (*NEAR_GROUND, "forecast_age_s")}
        age_s = max((self._now - newest.field.issued).total_seconds(), 0.0)
        index = next(index for index, one in enumerate(self._winds) if one is newest)
        if index not in self._read:
            self._read[index] = site_weather(newest.surface, self._site, self._releases, newest.field.name, age_s)
        row = self._releases.index(cell.option.release)
        found = {name: getattr(self._read[index], name)[row] for name in NEAR_GROUND}
        return {**found, "forecast_age_s": Fact(age_s, "s", newest.field.name, age_s)}


@dataclass(frozen=True, eq=False)
class SiteWeather:
    """Facts by launch time, one row each."""

    surface_wind_m_s: tuple[Fact, ...]
    gust_m_s: tuple[Fact, ...]
    """Both the strongest while the balloon is filled and leaves."""
    cloud_fraction: tuple[Fact, ...]
    visibility_m: tuple[Fact, ...]
    rain: tuple[Fact, ...]
    """At the release, as are the two before it."""


def site_weather(
    surface: SurfaceWeather | None, site: Site, releases: Sequence[datetime], source: str, age_s: float
) -> SiteWeather:
    """What one source says; with members the middle one, and the lowest and highest as the interval."""
    if surface is None:
        none = (missing(NO_FIELDS, source),) * len(releases)
        return SiteWeather(none, none, none, none, none)
    release_s = np.array([(release - surface.epoch).total_seconds() for release in releases])
    filling_s = release_s[:, None] - np.linspace(FILLING_S, 0.0, _LOOKS)

    def read(name: str, times_s: Array) -> Array | None:
        """Every member at those times; None where the source lacks the field."""
        if name not in surface.fields:
            return None
        members = range(len(surface.fields[name]))
        values = [surface.at(name, site.latitude_deg, site.longitude_deg, times_s, member) for member in members]
        return np.stack([value for value in values if value is not None])

    def facts(values: Array | None, what: str, unit: str) -> tuple[Fact, ...]:
        if values is None:
            return (missing(f"the forecast holds no {what}", source),) * len(releases)
        return tuple(_fact(column, what, unit, source, age_s) for column in values.T)

    east, north = read("eastward_wind", filling_s), read("northward_wind", filling_s)
    whole = east is not None and north is not None and len(east) == len(north)
    wind = np.hypot(east, north).max(axis=2) if whole else None  # type: ignore[arg-type]  # both are there then
    gust = read("wind_speed_of_gust", filling_s)
    return SiteWeather(
        facts(wind, "wind at 10 m", "m s-1"),
        facts(None if gust is None else gust.max(axis=2), "gusts", "m s-1"),
        facts(read("cloud_area_fraction", release_s), "cloud", "1"),
        facts(read("visibility_in_air", release_s), "visibility", "m"),
        facts(read("precipitation_flux", release_s), "rain", "kg m-2 s-1"),
    )


def _fact(members: Array, what: str, unit: str, source: str, age_s: float) -> Fact:
    """A member that holds nothing there makes the whole unknown: the others may be the calm ones."""
    if not np.isfinite(members).all():
        return missing(f"the forecast holds no {what} at this place and time", source)
    value, low, high = (float(number) for number in (np.median(members), members.min(), members.max()))
    if len(members) == 1:
        return Fact(value, unit, source, age_s)
    return Fact(value, unit, f"{source}, {len(members)} members", age_s, low=low, high=high)
