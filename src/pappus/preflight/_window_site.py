"""The cells of one site, from their flights to their decisions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from pappus.decision import GoLimits
from pappus.plan import Site
from pappus.preflight._gather import Winds
from pappus.preflight._window_around import Around, Drives, ground_facts
from pappus.preflight._window_cell import LaunchCell, cell_of, decided, sun_facts, with_facts
from pappus.preflight._window_fly import CellFlights, NotFlown
from pappus.preflight._window_weather import WindowWeather


class SiteCells:
    """Takes flights of one site, keeps what they come to and lets them go; what many cells share is asked once."""

    def __init__(
        self, winds: Sequence[Winds], around: Around, site: Site, releases: Sequence[datetime], now: datetime
    ) -> None:
        self._around = around
        self._weather = WindowWeather(winds, site, releases, now)
        self._drives = Drives(around, site)
        self._cells: list[LaunchCell] = []

    def take(self, flown: CellFlights | NotFlown) -> None:
        """The next cell."""
        facts = self._weather.facts(flown)
        if isinstance(flown, CellFlights):
            facts |= ground_facts(flown, self._around)
        self._cells.append(with_facts(cell_of(flown), facts))
        self._drives.take(flown)

    def decide(self, limits: GoLimits) -> list[LaunchCell]:
        """All cells taken, in that order, judged."""
        found = zip(self._cells, sun_facts(self._cells), self._drives.facts(), strict=True)
        return [
            decided(with_facts(cell, {"sun_elevation_deg": sun, "drive_time_s": drive}), limits)
            for cell, sun, drive in found
        ]
