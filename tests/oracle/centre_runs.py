"""Small runs of weather centres, laid out as the centres do: GRIB files, their indexes, names and folders.

The forms of names and indexes are from memory, like those they test; the messages are written by ecCodes. Every field
is global. One message is written for each field; its copies for other steps and members differ in the octets of time
and member and in the reference value of the packing, so that no two fields of a run have the same values.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from sources.grib_writer import height_gpm, message, sections

LEVELS_HPA = (1000, 850, 700, 500, 250, 100, 50, 10)
Key = tuple[str, float, int, int]
"""Our name, level in Pa, step in hours and member."""


class Made(NamedTuple):
    """A field as the index and the message name it."""

    name: str
    """Ours; empty for a field that nobody wants."""
    level_pa: float
    ncep: tuple[str, str]
    ecmwf: tuple[str, str]
    """``param`` and ``levtype``."""
    numbers: tuple[int, int, int]
    surface: tuple[int, int]
    is_sum: bool
    low: float
    high: float


def _fields(ncep: bool, levels_hpa: Sequence[int], decoys: int) -> list[Made]:
    made = []
    for level in levels_hpa:
        height = height_gpm(level)  # of isothermal air: a reader compares thickness and temperature
        for name, variable, numbers, low, high in (
            ("gh", "HGT", (0, 3, 5), height - 15.0, height + 15.0),
            ("t", "TMP", (0, 0, 0), 237.0, 243.0),
            ("u", "UGRD", (0, 2, 2), -20.0 - level / 100.0, 30.0),
            ("v", "VGRD", (0, 2, 3), -25.0 - level / 100.0, 25.0),
        ):
            where = f"{level} mb"
            made.append(
                Made(
                    name, level * 100.0, (variable, where), (name, "pl"), numbers, (100, level * 100), False, low, high
                )
            )
        for variable, param, numbers in (
            ("RH", "r", (0, 1, 1)), ("VVEL", "w", (0, 2, 8)), ("ABSV", "vo", (0, 2, 10)), ("SPFH", "q", (0, 1, 0)),
            ("CLMR", "clwc", (0, 1, 22)), ("O3MR", "o3", (0, 14, 192)),
        )[:decoys]:  # fmt: skip
            made.append(Made("", level * 100.0, (variable, f"{level} mb"), (param, "pl"), numbers, (100, level * 100),
                             False, 0.0, 1.0))  # fmt: skip
    surface = [
        ("10u", ("UGRD", "10 m above ground"), "10u", (0, 2, 2), (103, 10), False, -12.0, 15.0),
        ("10v", ("VGRD", "10 m above ground"), "10v", (0, 2, 3), (103, 10), False, -13.0, 14.0),
        ("2t", ("TMP", "2 m above ground"), "2t", (0, 0, 0), (103, 2), False, 250.0, 310.0),
        ("2d", ("DPT", "2 m above ground"), "2d", (0, 0, 6), (103, 2), False, 240.0, 290.0),
        ("ground", ("HGT", "surface"), "z", (0, 3, 5) if ncep else (0, 3, 4), (1, 0), False, 0.0, 3000.0),
        ("cape", ("CAPE", "surface"), "mucape", (0, 7, 6), (1, 0), False, 0.0, 2000.0),
        ("", ("PRES", "surface"), "sp", (0, 3, 0), (1, 0), False, 60_000.0, 102_000.0),
        ("", ("CIN", "surface"), "cin", (0, 7, 7), (1, 0), False, 0.0, 100.0),
    ]
    if ncep:
        surface += [
            ("gust", ("GUST", "surface"), "", (0, 2, 22), (1, 0), False, 0.0, 30.0),
            ("visibility", ("VIS", "surface"), "", (0, 19, 0), (1, 0), False, 100.0, 24_000.0),
            ("cloud", ("TCDC", "entire atmosphere"), "", (0, 6, 1), (10, 0), False, 0.0, 60.0),
            ("low cloud", ("LCDC", "low cloud layer"), "", (0, 6, 3), (214, 0), False, 0.0, 60.0),
            ("rain", ("APCP", "surface"), "", (0, 1, 8), (1, 0), True, 0.0, 20.0),
        ]
    else:
        surface += [
            ("gust", ("", ""), "10fg", (0, 2, 22), (103, 10), False, 0.0, 30.0),
            ("cloud", ("", ""), "tcc", (0, 6, 192), (1, 0), False, 0.0, 0.3),
            ("rain", ("", ""), "tp", (0, 1, 193), (1, 0), True, 0.0, 0.02),
        ]
    made += [Made(name, 0.0, ncep_name, (param, "sfc"), *rest) for name, ncep_name, param, *rest in surface]
    return made


class RunFile(NamedTuple):
    """One remote file: octets are made when they are asked for."""

    size: int
    octets: Callable[[], bytes]
    keys: dict[Key, tuple[int, int]]
    """Where the message of each wanted field begins and how long it is."""


class Run:
    """Files of one run by their path, and the octets of any message that was laid out."""

    def __init__(
        self,
        centre: str,
        run: datetime,
        steps_h: Sequence[int],
        members: Sequence[int] = (0,),
        *,
        step_deg: float = 10.0,
        levels_hpa: Sequence[int] = LEVELS_HPA,
        decoys: int = 3,
        seed: int = 1,
        packing: str | None = None,
        shift: float = 0.0,
    ) -> None:
        self.centre, self.run, self.shift = centre, run, shift
        self.is_ncep, self.is_ensemble = centre in ("gfs", "gefs"), centre in ("gefs", "ifs-ens")
        packing = packing or ("grid_complex_spatial_differencing" if self.is_ncep else "grid_ccsds")
        self._fields = _fields(self.is_ncep, levels_hpa, decoys)
        self._templates = _templates(self.is_ncep, self.is_ensemble, tuple(levels_hpa), decoys, step_deg, seed, packing)
        self._at = [{number: at for number, (at, _) in sections(one).items()} for one in self._templates]
        self.files: dict[str, RunFile] = {}
        self.indexes: dict[str, bytes] = {}
        for hour in steps_h:
            for path, index_path, who, part in self._paths(hour, members):
                self._lay_out(path, index_path, hour, who, part)

    def truth(self, key: Key) -> bytes:
        """The message of a wanted field, as the centre has it."""
        name, level, hour, member = key
        place = next(i for i, one in enumerate(self._fields) if (one.name, one.level_pa) == (name, level))
        return self._stamped(place, hour, member)

    def _paths(self, hour: int, members: Sequence[int]) -> list[tuple[str, str, list[int], str]]:
        run = self.run
        if self.centre == "gfs":
            path = f"gfs.{run:%Y%m%d}/{run:%H}/atmos/gfs.t{run:%H}z.pgrb2.0p25.f{hour:03d}"
            return [(path, path + ".idx", [0], "ab")]
        if self.centre == "gefs":
            found = []
            for member in members:
                for part in "ab":
                    who = f"gep{member:02d}" if member else "gec00"
                    path = (
                        f"gefs.{run:%Y%m%d}/{run:%H}/atmos/pgrb2{part}p5/{who}.t{run:%H}z.pgrb2{part}.0p50.f{hour:03d}"
                    )
                    found.append((path, path + ".idx", [member], part))
            return found
        stream, kind = ("enfo", "ef") if self.is_ensemble else ("oper" if run.hour in (0, 12) else "scda", "fc")
        path = f"{run:%Y%m%d}/{run:%H}z/ifs/0p25/{stream}/{run:%Y%m%d%H}0000-{hour}h-{stream}-{kind}"
        return [(path + ".grib2", path + ".index", list(members) if self.is_ensemble else [0], "ab")]

    def _lay_out(self, path: str, index_path: str, hour: int, members: Sequence[int], part: str) -> None:
        lines, pieces, keys, at = [], [], {}, 0
        for member in members:
            for place, one in enumerate(self._fields):
                if one.is_sum and hour == 0:
                    continue
                if part != "ab" and (int(one.level_pa) // 100 in (850, 250, 50)) != (part == "b"):
                    continue
                length = len(self._templates[place])
                lines.append(self._line(len(lines) + 1, at, length, one, hour, member))
                pieces.append((place, member))
                if one.name:
                    keys[one.name, one.level_pa, hour, member] = (at, length)
                at += length

        def octets() -> bytes:
            return b"".join(self._stamped(place, hour, member) for place, member in pieces)

        self.files[path] = RunFile(at, octets, keys)
        self.indexes[index_path] = ("\n".join(lines) + "\n").encode("ascii")

    def _line(self, number: int, at: int, length: int, one: Made, hour: int, member: int) -> str:
        if self.is_ncep:
            when = f"0-{hour} hour acc fcst" if one.is_sum else (f"{hour} hour fcst" if hour else "anl")
            who = "" if not self.is_ensemble else (f"ENS=+{member}" if member else "ENS=low-res ctl")
            return f"{number}:{at}:d={self.run:%Y%m%d%H}:{one.ncep[0]}:{one.ncep[1]}:{when}:{who}"
        kind = "fc" if not self.is_ensemble else ("pf" if member else "cf")
        entry = {
            "domain": "g", "date": f"{self.run:%Y%m%d}", "time": f"{self.run:%H%M}", "expver": "0001", "class": "od",
            "type": kind, "stream": "enfo" if self.is_ensemble else "oper", "step": str(hour), "levtype": one.ecmwf[1],
        }  # fmt: skip
        if one.level_pa:
            entry["levelist"] = f"{one.level_pa / 100.0:g}"
        if kind == "pf":
            entry["number"] = str(member)
        return json.dumps({**entry, "param": one.ecmwf[0], "_offset": at, "_length": length})

    def _stamped(self, place: int, hour: int, member: int) -> bytes:
        one, octets = self._fields[place], bytearray(self._templates[place])
        at = self._at[place]
        octets[at[1] + 12 : at[1] + 19] = struct.pack(">HBBBBB", *self.run.timetuple()[:6])
        octets[at[4] + 18 : at[4] + 22] = (0 if one.is_sum else hour).to_bytes(4, "big")
        if self.is_ensemble:
            octets[at[4] + 34 : at[4] + 36] = bytes([3 if member else 1, member])
        if one.is_sum:
            length_at = at[4] + (52 if self.is_ensemble else 49)
            octets[length_at : length_at + 4] = hour.to_bytes(4, "big")
        reference = struct.unpack_from(">f", octets, at[5] + 11)[0]
        shift = (one.high - one.low) * (0.01 * member + 0.0003 * hour + self.shift)
        struct.pack_into(">f", octets, at[5] + 11, reference + shift)
        return bytes(octets)


@lru_cache(maxsize=8)
def _templates(
    ncep: bool, ensemble: bool, levels: tuple[int, ...], decoys: int, step_deg: float, seed: int, packing: str
) -> list[bytes]:
    latitudes = np.arange(90.0, -90.1, -step_deg)
    longitudes = np.arange(0.0, 359.99, step_deg) + (0.0 if ncep else 180.0)
    rng = np.random.default_rng(seed)
    y, x = np.radians(latitudes)[:, None], np.radians(longitudes)[None, :]
    templates = []
    for one in _fields(ncep, levels, decoys):
        phase = rng.uniform(0.0, 2.0 * np.pi, 2)
        wave = 0.4 * np.sin(3.0 * x + phase[0]) * np.cos(y) + 0.3 * np.sin(4.0 * y + phase[1])
        share = np.clip(0.5 + wave + rng.normal(0.0, 0.05, wave.shape), 0.0, 1.0)
        numbers = dict(zip(("discipline", "parameterCategory", "parameterNumber"), one.numbers, strict=True))
        keys = {**numbers, "typeOfFirstFixedSurface": one.surface[0], "scaledValueOfFirstFixedSurface": one.surface[1]}
        values = one.low + (one.high - one.low) * share
        templates.append(
            message(
                "u", values, latitudes=latitudes, longitudes=longitudes, packing=packing, bits=12,
                window=1 if one.is_sum else 0, hour=1, member=1 if ensemble else None,
                keys=keys | {"centre": 7 if ncep else 98},
            )
        )  # fmt: skip
    return templates
