"""Put the flights of several model runs into one ensemble: no field mixes runs, the ensemble does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

import numpy as np

from pappus.trajectory._flights import Flights

_SINCE_RELEASE = frozenset({"top_time_s", "end_time_s", "track_time_s"})
_NOT_STACKED = frozenset({"release_time_s", "heights_msl_m", "seconds_above", "track_of"})


def join_flights(groups: Sequence[Flights]) -> Flights:
    """One ensemble from several; its times count from release, since every run has an epoch of its own.

    Raises ValueError when the groups were not asked for the same heights.
    """
    heights = groups[0].heights_msl_m
    if any(group.heights_msl_m != heights for group in groups):
        raise ValueError("flights that were asked for different heights do not join")
    above = [group.seconds_above for group in groups if group.seconds_above is not None]
    before = np.cumsum([0, *(len(group.outcome) for group in groups[:-1])])
    columns: dict[str, Any] = {
        "release_time_s": 0.0,
        "heights_msl_m": heights,
        "seconds_above": np.concatenate(above) if len(above) == len(groups) else None,
        "track_of": np.concatenate([group.tracked + first for group, first in zip(groups, before, strict=True)]),
    }
    steps = max(group.track_time_s.shape[1] for group in groups)
    for field in fields(Flights):
        if field.name in _NOT_STACKED:
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
    return Flights(**columns)
