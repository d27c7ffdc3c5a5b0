"""What the answer does not know or does not check, said in full sentences: unknown is never green."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from pappus.ground import Terrain, TerrainGrid
from pappus.plan import Plan
from pappus.preflight.winds import HOLD, Winds
from pappus.trajectory import Flights, Outcome
from pappus.units import say_height
from pappus.wind import WindField

NOT_JUDGED = (
    "People, buildings, roads, water and airspace under the flight are not checked: look at the map and the chart "
    "yourself."
)


def cannot_tell(
    plan: Plan, flown: Sequence[Winds], field: WindField, flights: Flights, ground: Terrain
) -> tuple[str, ...]:
    """One sentence for each thing that is missing, extrapolated, assumed or not looked at."""
    newest = flown[0].field
    lines = [
        NOT_JUDGED,
        *_winds(newest, flown[0]),
        *_above_and_below(newest, field, flights),
        *_not_landed(flights),
        *_ground(ground, flights),
    ]
    notes = [note for one in flown for note in one.field.notes]
    return (*lines, *plan.assumptions, *dict.fromkeys(notes))


def _winds(newest: WindField, winds: Winds) -> list[str]:
    if newest.kind == "sounding":
        return [
            "The winds are one sounding, held in place and time: its error grows with distance and age.",
            "Surface wind, cloud and icing at the site are not in these winds.",
        ]
    lines = []
    if len(newest.time_s) == 1:
        lines.append(
            f"The forecast holds one valid time only, {newest.coverage.first_valid + HOLD:%Y-%m-%d %H:%MZ}: it is held "
            f"{HOLD.total_seconds() / 3600:.0f} h either way with a growing error."
        )
    if newest.members == 1:
        lines.append("The forecast has one member: its error is our own prior for the lead time.")
    if newest.coverage.centre_deg is not None:
        lines.append("The forecast is one column, held around its station: its error grows with distance.")
    if winds.surface is None:
        lines.append("Surface wind, cloud and icing at the site are not in these winds.")
    else:
        lines.append("Icing is not checked.")
    return lines


def _above_and_below(newest: WindField, field: WindField, flights: Flights) -> list[str]:
    lines = []
    top = newest.coverage.top_msl_m
    above = float((flights.top_height_msl_m > top).mean())
    if above > 0.0:
        lines.append(
            f"The winds end at {say_height(top)}; {100 * above:.0f} % of the flights go higher, on the last wind held "
            "with an error that grows by 1 m/s per km."
        )
    if newest.coverage.bottom_msl_m > float(field.height_msl_m[:, :, 0].max()) + 150.0:
        lines.append(f"Below {say_height(newest.coverage.bottom_msl_m)} the lowest wind is held.")
    return lines


def _not_landed(flights: Flights) -> list[str]:
    lost = int((~flights.landed).sum())
    if not lost:
        return []
    aloft = int((flights.outcome == Outcome.STILL_ALOFT).sum())
    parts = [f"{aloft} still aloft after the longest flight of the plan"] if aloft else []
    parts += [f"{lost - aloft} left what the winds cover"] if lost > aloft else []
    return [
        f"{lost} of {len(flights.outcome)} flights do not land in the data ({', '.join(parts)}); they stay in every "
        "chance as unknown."
    ]


def _ground(ground: Terrain, flights: Flights) -> list[str]:
    if not isinstance(ground, TerrainGrid):
        return [f"No terrain: the landing is taken at {say_height(ground.ground_msl_m)}, {ground.name}."]
    lines = [f"The landing is taken on {ground.name}; trees, buildings and what lies between its points are not in it."]
    latitude, longitude = flights.end_latitude_deg[flights.landed], flights.end_longitude_deg[flights.landed]
    left = np.ones(latitude.size, dtype=bool)
    beneath: Terrain = ground
    while isinstance(beneath, TerrainGrid) and left.any():
        left &= ~beneath.holds(latitude, longitude)
        beneath = beneath.beneath
        if left.any():
            lines.append(f"{100.0 * float(left.mean()):.0f} % of the landings lie outside it: there, {beneath.name}.")
    return lines
