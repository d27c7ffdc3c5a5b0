"""What every question before a flight starts from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from pappus.flight_train import FillWish
from pappus.ground import PlaceIndex, TerrainGrid
from pappus.plan import Plan, Site
from pappus.preflight.winds import Winds
from pappus.sources import Prior


@dataclass(frozen=True, eq=False)
class Given:
    """The plan and what is known around it, and the time at which that is asked."""

    plan: Plan
    winds: Sequence[Winds]
    places: PlaceIndex | None
    prior: Prior
    terrain: tuple[TerrainGrid, ...]
    now: datetime
    """UTC-aware; dates the data."""


@dataclass(frozen=True)
class Asked:
    """One release."""

    site: Site
    release: datetime
    fill_wish: FillWish
