"""Forecasts in GRIB editions 1 and 2: from the fields of some files to one run after the other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.errors import BadFile, Finding
from pappus.sources._files import bad_file
from pappus.sources.forecasts._choice import Choice, Place, choose_complete
from pappus.sources.forecasts._cube import RawForecast, refuse_large
from pappus.sources.forecasts._heights import model_levels, pressure_level_heights, virtual_temperature_k
from pappus.sources.grib import (
    HYBRID,
    PRESSURE,
    SURFACE,
    Area,
    Bytes,
    Field,
    Grid,
    Unreadable,
    decode,
    ibm_floats,
    message_of,
    read_fields,
    read_grid,
    read_surface,
)
from pappus.units import standard_gravity_m_s2

Array = NDArray[np.float64]
MOST_FINDINGS = 5
CENTRES = {
    7: "NCEP Washington",
    54: "Montreal",
    74: "Exeter",
    78: "Offenbach",
    85: "Toulouse",
    88: "Oslo",
    98: "ECMWF",
    255: "an unnamed centre",
}
"""The commonest of WMO common code table C-11 (from memory); others are said by their number."""
Key = tuple[str, int, int, float]
"""Name, member, valid time and level of a field."""


@dataclass(eq=False)
class Run:
    """Fields of one run on one grid; two runs, two centres or two grids never share one."""

    name: str
    issued: datetime
    files: Sequence[str]
    contents: Sequence[Bytes]
    by_kind: dict[str, dict[Key, Field]] = field(default_factory=lambda: {PRESSURE: {}, HYBRID: {}, SURFACE: {}})
    surface: list[Field] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def add(self, found: Field) -> None:
        """Take one field; a second one that says otherwise about the same thing is refused."""
        product = found.product
        if product.kind == SURFACE:
            self.surface.append(found)
        if product.statistic != "instant":
            return
        fields = self.by_kind[product.kind]
        key = (product.name, product.member, product.end_s, product.level)
        other = fields.setdefault(key, found)
        if other is not found and product.kind != SURFACE and self.octets(other) != self.octets(found):
            what = f"{product.name} on level {product.level:g} at +{product.end_s / 3600:g} h"
            raise bad_file(self.name, f"two different fields give {what}", "Leave one of the files out.")

    def octets(self, found: Field) -> bytes:
        """The message of a field."""
        return message_of(found, self.contents[found.file])

    def decode(self, fields: Sequence[Field], grid: Grid) -> Array:
        """Values of fields on the grid, shape (field, latitude, longitude)."""
        return decode(fields, self.contents, self.files, grid.cut)


def find_runs(files: Sequence[tuple[str, Bytes]]) -> list[Run]:
    """Every run of some GRIB files, in the order of their issue; raises BadFile when a file is damaged."""
    runs: dict[tuple[datetime, int, bytes], Run] = {}
    damaged: Counter[str] = Counter()
    names, contents = [name for name, _ in files], [content for _, content in files]
    for index, (name, content) in enumerate(files):
        for found in read_fields(name, index, content):
            if isinstance(found, Unreadable):
                product = found.product
                damaged[f"{product.name} on {product.kind} level {product.level:g} left out: {found.reason}"] += 1
                continue
            key = (found.issued, found.centre, found.grid)
            if key not in runs:
                centre = CENTRES.get(found.centre, f"centre {found.centre}")
                title = f"forecast of {centre}, run {found.issued:%Y-%m-%d %H:%M} UTC"
                runs[key] = Run(title, found.issued, names, contents)
            runs[key].add(found)
    for run in runs.values():
        run.notes.extend(f"{what} ({count} times)" if count > 1 else what for what, count in damaged.items())
    return sorted(runs.values(), key=lambda run: run.issued)


def read_grib(files: Sequence[tuple[str, Bytes]], area: Area | None) -> list[RawForecast]:
    """Every run that holds winds, the others in their notes; raises BadFile when none does."""
    runs = find_runs(files)
    title = ", ".join(name for name, _ in files[:3])
    if not runs:
        raise bad_file(title, "no field of wind, temperature or height is in it", "Get a file with u, v, t and gh.")
    read: list[RawForecast] = []
    refused: list[Finding] = []
    for run in runs:
        try:
            read.append(_read_run(run, area))
        except BadFile as error:
            refused.extend(error.findings)
    if not read:
        raise BadFile(*refused[:MOST_FINDINGS])
    for raw in read:
        raw.notes.extend(f"not used: {finding}" for finding in refused[:MOST_FINDINGS])
    return read


def _read_run(run: Run, area: Area | None) -> RawForecast:
    kinds = []
    for kind, find in ((PRESSURE, _usable_pressures), (HYBRID, _usable_model_levels)):
        if run.by_kind[kind]:
            kinds.append((kind, find(run)))
    kind, choice = max(kinds, key=lambda pair: len(pair[1].levels), default=(PRESSURE, Choice([], [], [], [])))
    if not choice.levels:
        why = "; ".join([*choice.notes, *run.notes][:4]) or "there are only fields near the ground"
        reason = f"no level has wind u and v, temperature and height ({why})"
        raise bad_file(run.name, reason, "Get u, v, t and gh on pressure levels, or u, v, t, q, lnsp on model levels.")
    run.notes.extend(choice.notes)
    if len(kinds) > 1:
        run.notes.append(f"only the {kind} levels are used; the file holds both kinds")
    first = next(iter(run.by_kind[kind].values()))
    edition = 1 if first.discipline < 0 else 2
    grid = read_grid(run.name, first.grid, edition, first.points, area)
    run.notes.extend(grid.notes)
    points = len(grid.latitude_deg) * len(grid.longitude_deg)
    refuse_large(run.name, len(choice.members), len(choice.times_s), len(choice.levels), points)
    ground = _ground(run, grid)
    read = _pressure_run if kind == PRESSURE else _model_run
    raw = read(run, choice, grid, ground)
    raw.wind_u_m_s, raw.wind_v_m_s = grid.earth_wind(raw.wind_u_m_s, raw.wind_v_m_s)
    raw.ground_geopotential_m = ground
    raw.surface, raw.units, notes = read_surface(run.surface, choice.members, choice.times_s, grid, run.decode)
    raw.notes = [*run.notes, *notes]
    raw.files = frozenset(found.file for fields in run.by_kind.values() for found in fields.values())
    return raw


def _places(run: Run, kind: str) -> list[Place]:
    return sorted({(member, time) for _, member, time, _ in run.by_kind[kind]})


def _usable_pressures(run: Run) -> Choice:
    fields = run.by_kind[PRESSURE]
    heights = [name for name in ("gh", "z") if any(key[0] == name for key in fields)]
    levels = {level for *_, level in fields}
    usable: dict[Place, frozenset[float]] = {}
    lacking: dict[float, str] = {}
    for member, time in _places(run, PRESSURE):
        good = set()
        for level in levels:
            missing = [name for name in ("u", "v", "t") if (name, member, time, level) not in fields]
            if heights and not any((name, member, time, level) in fields for name in heights):
                missing.append("height")
            if missing:
                lacking[level / 100.0] = " ".join(missing)
            else:
                good.add(level / 100.0)
        if heights or _surface_pressure(run, member, time) is not None:
            usable[(member, time)] = frozenset(good)
    if not heights and not (usable and _ground_field(run)):
        return Choice([], [], [], ["there is no gh, no z, and no surface pressure with height to start from"])
    choice = choose_complete(usable, lacking, "hPa")
    choice.levels.reverse()
    return choice


def _usable_model_levels(run: Run) -> Choice:
    fields = run.by_kind[HYBRID]
    levels = sorted({level for name, *_, level in fields if name in ("u", "v", "t")})
    coefficients = next((found.coefficients for found in fields.values() if found.coefficients), b"")
    bottom = len(coefficients) // 8 - 1
    usable: dict[Place, frozenset[float]] = {}
    lacking: dict[float, str] = {}
    humid = any(name == "q" for name, *_ in fields)
    for member, time in _places(run, HYBRID):
        good: set[float] = set()
        if _surface_pressure(run, member, time) is None:
            usable[(member, time)] = frozenset()
            continue
        broken = not levels or levels[-1] != bottom
        for number in reversed(levels):
            # heights are summed from the ground up: above a gap in temperature there are none
            column = ["t", "q"] if humid else ["t"]
            missing = [name for name in column if (name, member, time, number) not in fields]
            broken |= bool(missing)
            missing += [name for name in ("u", "v") if (name, member, time, number) not in fields]
            missing += [] if not broken or missing else ["complete column below it"]
            if missing:
                lacking[number] = " ".join(missing)
            else:
                good.add(number)
            broken |= number - 1 not in levels
        usable[(member, time)] = frozenset(good)
    if _ground_field(run) is None:
        return Choice([], [], [], ["there is no height of the surface to start from"])
    if not any(usable.values()) and not lacking:
        return Choice([], [], [], ["there is no surface pressure to start from"])
    choice = choose_complete(usable, lacking, "(model level)")
    choice.levels.reverse()
    return choice


def _surface_pressure(run: Run, member: int, time: int) -> Field | None:
    for kind, level in ((HYBRID, 1.0), (HYBRID, 0.0), (SURFACE, 0.0)):
        for name in ("lnsp", "sp"):
            found = run.by_kind[kind].get((name, member, time, level))
            if found is not None:
                return found
    return None


def _ground_field(run: Run) -> Field | None:
    """The height of the model's ground; it does not change during a run, so one is enough."""
    for name in ("gh", "z"):
        for key, found in run.by_kind[SURFACE].items():
            if key[0] == name:
                return found
    # centre 98 files the height of the ground under model level 1; on all levels it is that of the levels themselves
    model = {key[3]: found for key, found in run.by_kind[HYBRID].items() if key[0] == "z"}
    return model.get(1.0) if len(model) == 1 else None


def _ground(run: Run, grid: Grid) -> Array | None:
    found = _ground_field(run)
    if found is None:
        return None
    values = run.decode([found], grid)[0]
    return np.asarray(values / standard_gravity_m_s2) if found.product.name == "z" else values


def _cube(run: Run, kind: str, name: str, choice: Choice, levels: Sequence[float], grid: Grid) -> Array:
    fields = run.by_kind[kind]
    chosen = [fields[name, m, time, level] for m in choice.members for time in choice.times_s for level in levels]
    values = run.decode(chosen, grid)
    return values.reshape(len(choice.members), len(choice.times_s), len(levels), *values.shape[1:])


def _pressures_at_surface(run: Run, choice: Choice, grid: Grid) -> Array:
    fields = [_surface_pressure(run, member, time) for member in choice.members for time in choice.times_s]
    found = [one for one in fields if one is not None]
    values = run.decode(found, grid)
    for index, one in enumerate(found):
        if one.product.name == "lnsp":
            values[index] = np.exp(values[index])
    return values.reshape(len(choice.members), len(choice.times_s), *values.shape[1:])


def _raw(run: Run, choice: Choice, grid: Grid, **cubes: Any) -> RawForecast:
    time_s = np.array(choice.times_s, dtype=np.float64)
    return RawForecast(run.name, run.issued, time_s, grid.latitude_deg, grid.longitude_deg, **cubes)


def _pressure_run(run: Run, choice: Choice, grid: Grid, ground: Array | None) -> RawForecast:
    levels_pa = [level * 100.0 for level in choice.levels]
    fields = run.by_kind[PRESSURE]

    def cube(name: str) -> Array:
        return _cube(run, PRESSURE, name, choice, levels_pa, grid)

    temperature = cube("t")
    column = np.array(levels_pa)
    places = [(m, time, level) for m in choice.members for time in choice.times_s for level in levels_pa]
    if all(("gh", *place) in fields for place in places):
        geopotential = cube("gh")
    elif all(("z", *place) in fields for place in places):
        geopotential = cube("z") / standard_gravity_m_s2
    elif any(name in ("gh", "z") for name, *_ in fields):
        found = [fields.get(("gh", *place)) or fields["z", *place] for place in places]
        values = run.decode(found, grid)
        values[[one.product.name == "z" for one in found]] /= standard_gravity_m_s2
        geopotential = values.reshape(temperature.shape)
    else:
        assert ground is not None
        humidity = cube("q") if all(("q", *place) in fields for place in places) else None
        surface_pa = _pressures_at_surface(run, choice, grid)
        geopotential = pressure_level_heights(column, virtual_temperature_k(temperature, humidity), surface_pa, ground)
        air = "temperature and humidity" if humidity is not None else "temperature alone (humid air: up to 1 % more)"
        run.notes.append(f"heights worked out from the surface pressure and the {air}")
    return _raw(
        run,
        choice,
        grid,
        pressure_pa=column[None, None, :, None, None],
        geopotential_m=geopotential,
        temperature_k=temperature,
        wind_u_m_s=cube("u"),
        wind_v_m_s=cube("v"),
    )


def _model_run(run: Run, choice: Choice, grid: Grid, ground: Array | None) -> RawForecast:
    assert ground is not None
    fields = run.by_kind[HYBRID]
    coefficients = next(found for found in fields.values() if found.coefficients)
    numbers = _coefficients(coefficients)
    count = len(numbers) // 2
    # all levels below the highest chosen one carry the air that lifts it, even those whose wind is not known
    column = [float(number) for number in range(count - 1, int(min(choice.levels)) - 1, -1)]
    half = np.arange(count - 1, int(min(choice.levels)) - 2, -1)
    temperature = _cube(run, HYBRID, "t", choice, column, grid)
    humid = any(name == "q" for name, *_ in fields)
    humidity = _cube(run, HYBRID, "q", choice, column, grid) if humid else None
    virtual = virtual_temperature_k(temperature, humidity)
    surface_pa = _pressures_at_surface(run, choice, grid)
    pressure, geopotential = model_levels(numbers[:count][half], numbers[count:][half], surface_pa, ground, virtual)
    if not humid:
        run.notes.append("no humidity: heights worked out for dry air (humid air: up to 1 % more)")
    taken: slice | list[int] = [column.index(level) for level in choice.levels]
    if len(choice.levels) == len(column):
        taken = slice(None)
    run.notes.append("heights worked out from surface pressure, temperature and humidity of the model levels")
    return _raw(
        run,
        choice,
        grid,
        pressure_pa=pressure[:, :, taken],
        geopotential_m=geopotential[:, :, taken],
        temperature_k=temperature[:, :, taken],
        wind_u_m_s=_cube(run, HYBRID, "u", choice, choice.levels, grid),
        wind_v_m_s=_cube(run, HYBRID, "v", choice, choice.levels, grid),
    )


def _coefficients(found: Field) -> Array:
    octets = np.frombuffer(found.coefficients, np.uint8)
    if found.discipline < 0:
        return ibm_floats(octets)
    return octets.view(">f4").astype(np.float64)
