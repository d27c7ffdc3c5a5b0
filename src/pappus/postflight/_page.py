"""The verification as a page: each check with its tables, then what could not be used and why."""

from __future__ import annotations

from dataclasses import asdict

from pappus.export import Grid, Page, Section, Sentences
from pappus.postflight._learn import Learned
from pappus.postflight._verify import Verification
from pappus.postflight.climb_and_fall import ascent_sections, descent_sections
from pappus.postflight.drift import drift_sections
from pappus.postflight.forecasts import forecast_sections, run_shift_section
from pappus.postflight.held_winds import persistence_sections, station_hour_sections


def verification_page(result: Verification) -> Page:
    """The tables of real-data errors."""
    sections: list[Section] = []
    if result.drift:
        sections += drift_sections(result.drift)
    sections += ascent_sections(result.ascents)
    sections += descent_sections(result.descents)
    sections += persistence_sections(result.persistence)
    if result.station_hour is not None:
        sections += station_hour_sections(result.station_hour)
    for check in result.forecasts:
        sections.append(Sentences("Forecasts against radiosondes", (f"{check.pairs:,} pairs of {check.file}.",)))
        sections += forecast_sections(check)
    for place, shifts in result.run_shifts:
        grid = run_shift_section(shifts)
        sections.append(Grid(f"{grid.title}, at {place}", grid.columns, grid.rows, grid.note))
    if result.left_out:
        sections.append(Sentences("Not used", result.left_out))
    lead = (
        f"{len(result.drift)} flights along their own winds, {len(result.ascents.law)} ascents, "
        f"{len(result.descents.prior)} descents, {len(result.persistence.pairs)} later balloons on earlier winds, "
        f"{sum(check.pairs for check in result.forecasts):,} forecasts against radiosondes; "
        f"{len(result.left_out)} lines of what was not used.",
        f"Judged with the prior {result.prior.name!r}; nothing was tuned.",
    )
    return Page(lead, "", tuple(sections), "")


def verification_json(result: Verification, learned: Learned | None) -> dict[str, object]:
    """The same as numbers, in SI units."""
    held = result.persistence
    return {
        "prior": result.prior.name,
        "drift": [asdict(row) for row in result.drift],
        "ascents": [asdict(row) for row in result.ascents.law],
        "ascents_bent_law": [asdict(row) for row in result.ascents.bent],
        "descents": [asdict(row) for row in result.descents.prior],
        "descents_prior_of_others": [asdict(row) for row in result.descents.others],
        "later_balloons": {
            "pairs": len(held.pairs),
            "age_factor": None if held.age_factor is None else held.age_factor.factor,
            "heights": [asdict(row) for row in held.heights],
        },
        "station_hour": None if result.station_hour is None else asdict(result.station_hour),
        "forecasts": [{"file": one.file, "errors": [asdict(row) for row in one.errors]} for one in result.forecasts],
        "run_shifts": {place: [asdict(row) for row in shifts] for place, shifts in result.run_shifts},
        "not_used": list(result.left_out),
        "not_learned": None if learned is None else list(learned.not_learned),
    }
