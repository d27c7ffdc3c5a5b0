"""What the answer does not know or does not check, said in full sentences: unknown is never green."""

from __future__ import annotations

from pappus.plan import Plan
from pappus.trajectory import Flights, Outcome
from pappus.units import say_height
from pappus.wind import WindField


def cannot_tell(plan: Plan, known: WindField, flown: WindField, flights: Flights, lost: int) -> tuple[str, ...]:
    """One sentence for each thing that is missing, extrapolated, assumed or not looked at."""
    lines = [
        "People, buildings, roads, water and airspace under the flight are not checked: look at the map and the "
        "chart yourself.",
        "Surface wind, cloud and icing at the site are not in these winds.",
    ]
    if known.kind == "sounding":
        lines.append("The winds are one sounding, held in place and time: the error grows with distance and age.")
    if flown.extended_from_level is not None and bool((flights.top_height_msl_m > known.coverage.top_msl_m).any()):
        share = float((flights.top_height_msl_m > known.coverage.top_msl_m).mean())
        top = say_height(known.coverage.top_msl_m)
        lines.append(
            f"The winds end at {top}; {100 * share:.0f} % of the flights go higher, on the last wind held with an error "
            "that grows by 1 m/s per km."
        )
    if known.coverage.bottom_msl_m > flown.height_msl_m[0, 0, 0, 0, 0] + 150.0:
        lines.append(f"Below {say_height(known.coverage.bottom_msl_m)} the lowest wind is held.")
    if lost:
        aloft = int((flights.outcome == Outcome.STILL_ALOFT).sum())
        away = lost - aloft
        parts = [f"{aloft} still aloft after the longest flight of the plan"] if aloft else []
        parts += [f"{away} left what the winds cover"] if away else []
        lines.append(
            f"{lost} of {len(flights.outcome)} flights do not land in the data ({', '.join(parts)}); they stay "
            "in every chance as unknown."
        )
    if plan.limits.landing_ground_height_msl_m is None:
        lines.append("No terrain: the landing is taken at the height of the site.")
    else:
        ground = say_height(plan.limits.landing_ground_height_msl_m)
        lines.append(f"No terrain: the landing is taken at {ground}, as the plan says.")
    return (*lines, *plan.assumptions, *known.notes)
