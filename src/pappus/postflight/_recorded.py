"""What lies in folders of recorded flights: soundings, forecasts beside soundings, runs for one station."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from pappus.errors import BadFile, BadInput, Finding
from pappus.sources import (
    ForecastPairs,
    Sounding,
    looks_like_column_forecast,
    looks_like_forecast,
    looks_like_forecast_pairs,
    read_forecast,
    read_forecast_pairs,
    read_sounding,
)
from pappus.wind import WindField


@dataclass(frozen=True, eq=False)
class Recorded:
    """Everything that could be read, and a line for everything that could not."""

    soundings: tuple[Sounding, ...]
    pairs: tuple[ForecastPairs, ...]
    runs: tuple[WindField, ...]
    """Runs for one station."""
    left_out: tuple[str, ...]


def read_recorded(folders: Sequence[Path], step: Callable[[str], None]) -> Recorded:
    """Every file of the folders, by its content.

    Raises BadInput for a name that is no folder.
    """
    for folder in folders:
        if not folder.is_dir():
            raise BadInput(
                Finding("DIR", str(folder), "not a folder", "Give the folder that holds the recorded flights.")
            )
    soundings: list[Sounding] = []
    pairs: list[ForecastPairs] = []
    runs: list[WindField] = []
    left: list[str] = []
    for path in sorted(path for folder in folders for path in folder.iterdir() if path.is_file()):
        step(path.name)
        try:
            if looks_like_forecast_pairs(path):
                pairs.append(read_forecast_pairs(path))
            elif looks_like_column_forecast(path):
                runs += [forecast.field for forecast in read_forecast([path])]
            elif looks_like_forecast(path):
                left.append(f"{path.name}: a forecast; nothing here was measured at its place and time")
            else:
                soundings += read_sounding(path)
        except BadFile as error:
            left.append(f"{path.name}: {error.findings[0].reason}")
    return Recorded(tuple(soundings), tuple(pairs), tuple(runs), tuple(left))
