"""The cells of one site, from their flights to their decisions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from pappus.decision import GoLimits
from pappus.plan import Site
from pappus.preflight.window._around import Around, Drives, airspace_facts, ground_facts
from pappus.preflight.window._cell import LaunchCell, cell_of, decided, sun_facts, with_facts
from pappus.preflight.window._fly import CellFlights, NotFlown
from pappus.preflight.window._low import congested_below, surface_area_around
from pappus.preflight.window._rules import rule_verdicts
from pappus.preflight.window._weather import WindowWeather
from pappus.preflight.winds import Winds


class SiteCells:
    """Takes flights of one site, keeps what they come to and lets them go; what many cells share is asked once."""

    def __init__(
        self, winds: Sequence[Winds], around: Around, site: Site, releases: Sequence[datetime], now: datetime
    ) -> None:
        self._around, self._now = around, now
        self._weather = WindowWeather(winds, site, releases, now)
        self._drives = Drives(around, site)
        self._low = {
            "congested_area_low": congested_below(around, site),
            "surface_area_low": surface_area_around(around, site),
        }
        self._cells: list[LaunchCell] = []

    def take(self, flown: CellFlights | NotFlown) -> None:
        """The next cell."""
        cell = with_facts(cell_of(flown), self._weather.facts(flown))
        if isinstance(flown, CellFlights):
            airspace, restricted = airspace_facts(flown, self._around)
            wind = cell.facts.surface_wind_m_s.value
            ground = ground_facts(flown, self._around, wind if isinstance(wind, float) else None)
            cell = with_facts(cell, {**ground, "airspace": airspace})
            law = self._around.law
            if law is not None:
                chances = {**self._low, "restricted_area": restricted}
                verdicts = rule_verdicts(flown, cell.facts, chances, law, self._now)
                cell = replace(cell, facts=replace(cell.facts, rules=verdicts))
        self._cells.append(cell)
        self._drives.take(flown)

    def decide(self, limits: GoLimits) -> list[LaunchCell]:
        """All cells taken, in that order, judged."""
        found = zip(self._cells, sun_facts(self._cells), self._drives.facts(), strict=True)
        return [
            decided(with_facts(cell, {"sun_elevation_deg": sun, "drive_time_s": drive}), limits)
            for cell, sun, drive in found
        ]
