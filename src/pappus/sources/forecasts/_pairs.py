"""Forecast winds beside the winds that radiosondes measured at the same place, level and hour: one pair a line of CSV.

A heading names the columns: ``model``, ``member`` (whole; the control is 0 or less), ``run`` and ``valid`` (UTC,
``2019-02-17 06:00:00``), ``lead_h``, ``station`` (whole), ``lat``, ``lon``, ``p_hPa``, and the pairs ``fc_`` / ``obs_``
of ``z_m`` (geopotential), ``T_K``, ``dir_deg`` (where the wind comes from) and ``speed_ms``. -99 stands for a missing
height or temperature. Other columns are not read.
"""

from __future__ import annotations

import csv
import gzip
import zlib
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from pappus.errors import BadFile
from pappus.sources._files import bad_file, read_file
from pappus.sources.soundings import wind_components
from pappus.wind import SourceFile

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_PAIRED = ("z_m", "T_K", "dir_deg", "speed_ms")
_NUMBERS = ("member", "lead_h", "station", "lat", "lon", "p_hPa", *(f"{a}_{b}" for a in ("fc", "obs") for b in _PAIRED))
_COLUMNS = ("model", "run", "valid", *_NUMBERS)
_MISSING = -99.0
# Wider than anything measured below 40 km, narrower than what slips of units give (common practice, no source).
_RANGES = {
    "member": (-1000.0, 1000.0),
    "lead_h": (0.0, 1000.0),
    "station": (0.0, 1e9),
    "lat": (-90.0, 90.0),
    "lon": (-180.0, 360.0),
    "p_hPa": (1.0, 1100.0),
    "fc_dir_deg": (0.0, 360.0),
    "obs_dir_deg": (0.0, 360.0),
    "fc_speed_ms": (0.0, 200.0),
    "obs_speed_ms": (0.0, 200.0),
}
_MAY_BE_MISSING = {
    "fc_z_m": (-1500.0, 40_000.0),
    "obs_z_m": (-1500.0, 40_000.0),
    "fc_T_K": (130.0, 340.0),
    "obs_T_K": (130.0, 340.0),
}
_STEPS_DEG = (10.0, 5.0, 1.0, 0.1)
_STEPS_M_S = (1.0, 0.5, 0.1)
FEWEST_LEVELS_FOR_STEP = 5
"""With fewer directions than this, all of them being multiples of 5 may be chance."""


@dataclass(frozen=True, eq=False)
class ForecastPairs:
    """N pairs of a forecast and a measured wind; arrays of shape (N,) where nothing else is said."""

    source: SourceFile
    notes: tuple[str, ...]
    """What was left out, and why."""
    epoch: datetime
    """``run_s`` and ``valid_s`` count from here; UTC-aware."""
    models: tuple[str, ...]
    model: Index
    """Into ``models``."""
    member: Index
    """Number of the ensemble member; the control is 0 or less."""
    run_s: Array
    valid_s: Array
    lead_s: Array
    stations: tuple[str, ...]
    station: Index
    """Into ``stations``."""
    latitude_deg: Array
    longitude_deg: Array
    pressure_pa: Array
    forecast_u_m_s: Array
    forecast_v_m_s: Array
    observed_u_m_s: Array
    observed_v_m_s: Array
    forecast_height_geopotential_m: Array
    """Missing where NaN, as the next three."""
    observed_height_geopotential_m: Array
    forecast_temperature_k: Array
    observed_temperature_k: Array
    forecast_rounding_m2_s2: Array
    """Variance per component that rounding in the report gives: step squared over 12, along and across the wind."""
    observed_rounding_m2_s2: Array

    def __len__(self) -> int:
        return len(self.lead_s)


def looks_like_forecast_pairs(path: str | Path) -> bool:
    """Whether the first line of a file, packed with gzip or not, names the columns of pairs."""
    try:
        with open(path, "rb") as file:
            head = file.read(4096)
        if head.startswith(b"\x1f\x8b"):
            with gzip.open(path) as packed:
                head = packed.read(4096)
    except (OSError, EOFError, ValueError, zlib.error):
        return False
    named = head.decode("latin-1").lstrip("\ufeff").split("\n", 1)[0].strip().split(",")
    return {"fc_speed_ms", "obs_speed_ms", "lead_h"} <= set(named)


def read_forecast_pairs(path: str | Path) -> ForecastPairs:
    """Every pair of a file; a model whose lines repeat those of another is left out with a note.

    Raises BadFile when the file cannot be read, lacks a column, or a line holds what cannot be.
    """
    file = read_file(path)
    try:
        text = file.content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise bad_file(file.name, "this is not text", "Name a CSV file of forecast and observed winds.") from None
    rows = csv.reader(text.rstrip().splitlines())
    head = next(rows)
    absent = [column for column in _COLUMNS if column not in head]
    if absent:
        raise bad_file(file.name, f"the heading does not name {', '.join(absent)}", "Get a file with all columns.")
    table: list[list[str]] = []
    for number, row in enumerate(rows, 2):
        if not row:
            raise _bad_line(file.name, number, "the line is empty", "")
        if len(row) != len(head):
            raise _bad_line(file.name, number, f"there are {len(row)} values under {len(head)} columns", "")
        table.append(row)
    if not table:
        raise bad_file(file.name, "there is no line under the heading", "Get the file again.")
    text_of = dict(zip(head, zip(*table, strict=True), strict=True))
    values = {column: _numbers(file.name, column, text_of[column]) for column in _NUMBERS}
    run, valid = (_times(file.name, column, text_of[column]) for column in ("run", "valid"))
    late = np.flatnonzero(np.abs(valid - run - 3600.0 * values["lead_h"]) > 1.0)
    if late.size:
        raise _bad_line(file.name, int(late[0]) + 2, "the run and lead_h do not give the valid hour", "")

    models, model = np.unique(np.array(text_of["model"]), return_inverse=True)
    _require_once(file.name, model, run, values)
    kept, notes = _without_repeats(models, model, run, values)
    stations, station = np.unique(values["station"].astype(np.int64), return_inverse=True)
    epoch_s = float(run.min())
    forecast = wind_components(values["fc_dir_deg"], values["fc_speed_ms"])
    observed = wind_components(values["obs_dir_deg"], values["obs_speed_ms"])
    known = {name: np.where(values[name] == _MISSING, np.nan, values[name]) for name in _MAY_BE_MISSING}
    sounding = np.unique(station * 1e6 + (valid - epoch_s) / 3600.0, return_inverse=True)[1]
    return ForecastPairs(
        source=SourceFile(file.name, file.sha256, f"{int(kept.sum())} pairs of forecast and measured winds"),
        notes=tuple(notes),
        epoch=datetime.fromtimestamp(epoch_s, UTC),
        models=tuple(str(name) for name in models),
        model=model[kept],
        member=values["member"].astype(np.intp)[kept],
        run_s=(run - epoch_s)[kept],
        valid_s=(valid - epoch_s)[kept],
        lead_s=3600.0 * values["lead_h"][kept],
        stations=tuple(f"{number:05d}" for number in stations),
        station=station[kept],
        latitude_deg=values["lat"][kept],
        longitude_deg=values["lon"][kept],
        pressure_pa=100.0 * values["p_hPa"][kept],
        forecast_u_m_s=forecast[0][kept],
        forecast_v_m_s=forecast[1][kept],
        observed_u_m_s=observed[0][kept],
        observed_v_m_s=observed[1][kept],
        forecast_height_geopotential_m=known["fc_z_m"][kept],
        observed_height_geopotential_m=known["obs_z_m"][kept],
        forecast_temperature_k=known["fc_T_K"][kept],
        observed_temperature_k=known["obs_T_K"][kept],
        forecast_rounding_m2_s2=_rounding_m2_s2(model, "fc", values)[kept],
        observed_rounding_m2_s2=_rounding_m2_s2(sounding, "obs", values)[kept],
    )


def _bad_line(name: str, number: int, reason: str, value: str) -> BadFile:
    return bad_file(f"{name}, line {number}", reason, "Correct the line or take it out.", value=value)


def _numbers(name: str, column: str, texts: tuple[str, ...]) -> Array:
    """The numbers of a column, all of them possible."""
    try:
        values = np.array(texts, dtype=np.float64)
    except ValueError:
        number, text = next((n, text) for n, text in enumerate(texts, 2) if not _is_number(text))
        raise _bad_line(name, number, f"{column} is not a number", text) from None
    low, high = (_RANGES | _MAY_BE_MISSING)[column]
    good = (values >= low) & (values <= high)
    if column in _MAY_BE_MISSING:
        good |= values == _MISSING
    if column in ("member", "station"):
        good &= values == np.round(values)
    if not good.all():
        at = int(np.flatnonzero(~good)[0])
        raise _bad_line(name, at + 2, f"{column} cannot be that (wanted {low:g} to {high:g})", texts[at])
    return values


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _times(name: str, column: str, texts: tuple[str, ...]) -> Array:
    """Seconds after 1970 UTC; each text is read once."""
    known: dict[str, float] = {}
    for number, text in enumerate(texts, 2):
        if text not in known:
            try:
                known[text] = datetime.strptime(text, "%Y-%m-%d %H:%M:%S").replace(tzinfo=UTC).timestamp()
            except ValueError:
                raise _bad_line(name, number, f"{column} is no time of the form 2019-02-17 06:00:00", text) from None
    return np.array([known[text] for text in texts])


def _require_once(name: str, model: Index, run: Array, values: dict[str, Array]) -> None:
    """Every forecast of a member stands in one line; a second one would count its error twice."""
    keys = np.column_stack([model, run, *(values[column] for column in ("member", "lead_h", "station", "p_hPa"))])
    _, first, count = np.unique(keys, axis=0, return_index=True, return_counts=True)
    if bool((count > 1).any()):
        where = int(first[count > 1].min())
        again = int(np.flatnonzero((keys == keys[where]).all(axis=1))[1])
        raise _bad_line(name, again + 2, f"it is the same forecast as in line {where + 2}", "")


def _without_repeats(
    models: NDArray[np.str_], model: Index, run: Array, values: dict[str, Array]
) -> tuple[NDArray[np.bool_], list[str]]:
    """Rows to keep: two names for one forecast would count its errors twice."""
    columns = ("lead_h", "station", "p_hPa", "fc_z_m", "fc_T_K", "fc_dir_deg", "fc_speed_ms")
    rows = np.column_stack([run, *(values[column] for column in columns)])
    sets = [{tuple(row) for row in rows[model == index].tolist()} for index in range(len(models))]
    kept = np.ones(len(model), dtype=bool)
    notes = []
    for later in range(1, len(models)):
        twin = next((first for first in range(later) if sets[later] <= sets[first]), None)
        if twin is not None:
            kept &= model != later
            notes.append(f"{len(sets[later])} pairs of {models[later]} repeat those of {models[twin]}: left out")
    return kept, notes


def _rounding_m2_s2(group: Index, side: str, values: dict[str, Array]) -> Array:
    """Mean of both components: a step s gives s^2 / 12 along the wind, a step d of angle (speed d)^2 / 12 across it.

    Steps are the coarsest that fit all values; directions are looked at in each group (a sounding, a model) that has
    levels enough.
    """
    direction, speed = values[f"{side}_dir_deg"], values[f"{side}_speed_ms"]
    step_deg = np.full(len(group), _step(direction, _STEPS_DEG))
    order = np.argsort(group, kind="stable")
    for rows in np.split(order, np.flatnonzero(np.diff(group[order])) + 1):
        if np.unique(values["p_hPa"][rows]).size >= FEWEST_LEVELS_FOR_STEP:
            step_deg[rows] = _step(direction[rows], _STEPS_DEG)
    return np.asarray(0.5 * (_step(speed, _STEPS_M_S) ** 2 + (speed * np.radians(step_deg)) ** 2) / 12.0)


def _step(values: Array, steps: tuple[float, ...]) -> float:
    """The coarsest step that all values are multiples of; zero for none."""
    for step in steps:
        if bool(np.all(np.abs(values / step - np.round(values / step)) < 1e-6)):
            return step
    return 0.0
