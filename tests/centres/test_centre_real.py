"""A real file of NCEP served from loopback: its own packing, order and messages with two fields, not of our making."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import eccodes
import numpy as np
import pytest

from oracle.centre_faults import RULES
from oracle.centre_server import CentreServer
from pappus.sources import FetchWish, fetch, plan_fetch, read_forecast
from pappus.sources.centres._fields import WANTED

# what the text index calls the fields, by their short names in ecCodes (from memory)
VARIABLES = {
    "u": "UGRD",
    "v": "VGRD",
    "t": "TMP",
    "gh": "HGT",
    "10u": "UGRD",
    "10v": "VGRD",
    "2t": "TMP",
    "cape": "CAPE",
}
VARIABLES |= {"tp": "APCP", "orog": "HGT", "r": "RH", "w": "VVEL", "absv": "ABSV", "prate": "PRATE", "tcc": "TCDC"}
SURFACES = {1: "surface", 10: "entire atmosphere", 214: "low cloud layer", 224: "middle cloud layer"}
SURFACES |= {234: "high cloud layer"}


def text_index(path: Path) -> bytes:
    """The index of a file as NCEP would write it, from what ecCodes reads in its headers."""
    lines, messages, before = [], 0, -1
    eccodes.codes_grib_multi_support_on()
    try:
        with open(path, "rb") as file:
            fields: list[tuple[int, str]] = []
            while (handle := eccodes.codes_grib_new_from_file(file)) is not None:
                offset = eccodes.codes_get_long(handle, "offset")
                fields.append((offset, _described(handle)))
                eccodes.codes_release(handle)
    finally:
        eccodes.codes_grib_multi_support_off()
    for place, (offset, words) in enumerate(fields):
        shared = fields.count((offset, words)) or 1
        same = [other for other in fields if other[0] == offset]
        if offset != before:
            messages, before = messages + 1, offset
        number = f"{messages}" if len(same) == 1 else f"{messages}.{same.index(fields[place]) + 1}"
        assert shared == 1, words
        lines.append(f"{number}:{offset}:{words}:")
    return ("\n".join(lines) + "\n").encode("ascii")


def _described(handle: int) -> str:
    name = eccodes.codes_get(handle, "shortName")
    kind = eccodes.codes_get_long(handle, "typeOfFirstFixedSurface")
    level = eccodes.codes_get(handle, "level")
    if eccodes.codes_get(handle, "typeOfLevel") == "isobaricInhPa":
        where = f"{level} mb"
    elif kind == 103:
        where = f"{level} m above ground"
    else:
        where = SURFACES.get(kind, f"surface of kind {kind}")
    if eccodes.codes_get_long(handle, "typeOfSecondFixedSurface") not in (255, 8):
        where = f"layer below {where}"
    run = f"{eccodes.codes_get(handle, 'dataDate')}{eccodes.codes_get(handle, 'dataTime') // 100:02d}"
    first, _, last = str(eccodes.codes_get(handle, "stepRange")).partition("-")
    process = {"accum": "acc", "avg": "ave"}.get(
        eccodes.codes_get(handle, "stepType"), eccodes.codes_get(handle, "stepType")
    )
    when = f"{first}-{last} hour {process} fcst" if last else f"{first} hour fcst"
    number = "".join(
        f" {eccodes.codes_get_long(handle, key)}" for key in ("discipline", "parameterCategory", "parameterNumber")
    )
    return f"d={run}:{VARIABLES.get(name, f'OTHER{number}')}:{where}:{when}"


@pytest.mark.parametrize(
    ("name", "run", "step_h"),
    [
        ("nwp/gfs_2p5deg_2011011012_f120.grib2", datetime(2011, 1, 10, 12, tzinfo=UTC), 120),
        ("nwp/gfs_2p5deg_2011100800_f072.grib2", datetime(2011, 10, 8, 0, tzinfo=UTC), 72),
    ],
)
def test_real_messages_come_through_unchanged(
    name: str, run: datetime, step_h: int, shared_data: Callable[[str], Path], tmp_path: Path
) -> None:
    path, area = shared_data(name), (40.0, 55.0, -10.0, 20.0)
    octets, text = path.read_bytes(), text_index(path)
    remote = f"gfs.{run:%Y%m%d}/{run:%H}/atmos/gfs.t{run:%H}z.pgrb2.0p25.f{step_h:03d}"
    release = run + timedelta(hours=step_h)
    with CentreServer() as server:
        server.put(remote, len(octets), lambda: octets)
        server.put(remote + ".idx", len(text), lambda: text)
        wish = FetchWish("gfs", area, release, release, 0.0, run=run)
        plan = plan_fetch(wish, base_url=server.url, rules=RULES)
        fetched = fetch(plan, tmp_path, rules=RULES)
    assert 0.2 < fetched.moved_bytes / len(octets) < 0.75
    found = {record.name for file in plan.files for span in file.spans for record in span.records}
    assert {"u", "v", "t", "gh", "10u", "10v", "2t", "ground", "cape"} <= found
    assert found <= {wanted.name for wanted in WANTED}
    (ours,), (theirs,) = read_forecast(fetched.paths, area=area), read_forecast([path], area=area)
    columns = np.isin(theirs.field.longitude_deg.round(6), ours.field.longitude_deg.round(6))
    assert columns.sum() == len(ours.field.longitude_deg)
    assert len(ours.field.pressure_pa[0, 0]) == 26
    for one in ("wind_u_m_s", "wind_v_m_s", "temperature_k", "height_msl_m", "pressure_pa"):
        assert np.array_equal(getattr(ours.field, one), getattr(theirs.field, one)[..., columns]), one
    assert ours.ground_height_msl_m is not None
    assert theirs.ground_height_msl_m is not None
    assert np.array_equal(ours.ground_height_msl_m, theirs.ground_height_msl_m[:, columns])
