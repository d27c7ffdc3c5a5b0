"""Put the flights of several model runs into one ensemble: no field mixes runs, the ensemble does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

import numpy as np

from pappus.trajectory._flights import Flights

_SINCE_RELEASE = frozenset({"top_time_s", "end_time_s", "track_time_s"})


def join_flights(groups: Sequence[Flights]) -> Flights:
    """One ensemble from several; its times count from release, since every run has an epoch of its own."""
    steps = max(group.track_time_s.shape[1] for group in groups)
    columns: dict[str, np.ndarray] = {}
    for field in fields(Flights):
        if field.name == "release_time_s":
            continue
        parts = []
        for group in groups:
            values = getattr(group, field.name)
            if field.name in _SINCE_RELEASE:
                values = values - group.release_time_s
            if values.ndim == 2:
                padding = np.full((len(values), steps - values.shape[1]), np.nan)
                values = np.concatenate([values, padding], axis=1)
            parts.append(values)
        columns[field.name] = np.concatenate(parts)
    return Flights(**columns, release_time_s=0.0)
