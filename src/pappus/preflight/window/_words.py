"""The launch window as JSON, for programs: SI units and UTC."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import Any

from pappus.decision import Fact, Facts
from pappus.landing import Quantiles, Share
from pappus.preflight.window._cell import LaunchCell
from pappus.preflight.window._curves import AgainstDelay, AgainstLift
from pappus.preflight.window._window import LaunchWindow


def window_json(window: LaunchWindow) -> dict[str, object]:
    """Everything a window says: its axes, its limits and every cell."""
    options = window.options
    return {
        "releases_utc": list(options.releases),
        "sites": [asdict(site) for site in options.sites],
        "fills": [{"name": name, **asdict(wish)} for name, wish in options.fills],
        "balloons": [{"name": name, **asdict(balloon)} for name, balloon in options.balloons],
        "limits": asdict(window.limits),
        "flights": window.flights,
        "seconds": window.seconds,
        "notes": list(window.notes),
        "cells": [cell_json(cell) for cell in window.cells],
    }


def cell_json(cell: LaunchCell) -> dict[str, object]:
    """One cell: what was chosen, what its flights come to, every fact, and the decision."""
    option = cell.option
    return {
        "site": option.site.name,
        "release_utc": option.release,
        "fill": option.fill_name,
        "balloon": option.balloon_name,
        "answer": cell.decision.answer.value,
        "headline": cell.decision.headline,
        "why_not": list(cell.why_not),
        "outside_the_winds": cell.outside,
        "winds": list(cell.winds),
        "gas": None if cell.fill is None else asdict(cell.fill),
        "climb_m_s": cell.climb_m_s,
        "flights": cell.flights,
        "landed": cell.landed,
        "unknown": cell.unknown,
        "top_msl_m": _quantiles(cell.top_msl_m),
        "arrival_after_release_s": _quantiles(cell.arrival_s),
        "touchdown_m_s": _quantiles(cell.touchdown_m_s),
        "drift_m": _quantiles(cell.drift_m),
        "nominal_landing_deg": cell.landing_deg,
        "facts": _facts(cell.facts),
        "checks": [
            {
                "name": check.name, "question": check.question, "verdict": check.verdict.value, "number": check.number,
                "limit": check.limit_text, "limit_source": check.limit_source, "source": check.source,
                "age_s": check.age_s, "why": check.why, "mends": check.mends, "mend": check.mend,
                "place_deg": check.place_deg,
            }
            for check in cell.decision.checks
        ],
    }  # fmt: skip


def curve_json(against: AgainstDelay | AgainstLift) -> dict[str, object]:
    """A curve with its cells; numbers that are none are null."""
    curve = against.curve
    columns: dict[str, object] = {}
    for field in fields(curve):
        value = getattr(curve, field.name)
        columns[field.name] = _listed(value.tolist()) if hasattr(value, "tolist") else value
    return {**columns, "cells": [cell_json(cell) for cell in against.cells]}


def _listed(value: Any) -> Any:
    if isinstance(value, list):
        return [_listed(one) for one in value]
    return None if value != value else value


def _facts(facts: Facts) -> dict[str, object]:
    return {
        field.name: _fact(value) for field in fields(facts) if isinstance(value := getattr(facts, field.name), Fact)
    }


def _fact(fact: Fact) -> dict[str, object]:
    value = fact.value._asdict() if isinstance(fact.value, Share) else fact.value
    return {
        "value": value, "unit": fact.unit, "low": fact.low, "high": fact.high, "source": fact.source,
        "age_s": fact.age_s, "why_not": fact.why_not, "place_deg": fact.place_deg,
        "unknown": None if fact.unknown is None else fact.unknown._asdict(),
    }  # fmt: skip


def _quantiles(values: Quantiles | None) -> dict[str, float] | None:
    if values is None:
        return None
    return {f"p{round(100 * p):02d}": v for p, v in zip(values.probabilities, values.values, strict=True)}
