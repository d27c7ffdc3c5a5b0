"""The built-in example on disk: an invented flight with its field pack, over real geography."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from pappus.plan import example_plan_text, load_plan
from pappus.preflight.pack._make import make_pack, pack_folder
from pappus.sources import (
    INVENTED_FORECAST_NAME,
    invented_sounding_csv,
    load_places,
    write_invented_forecast,
    write_invented_maps,
)


def write_example(folder: Path) -> Path:
    """Write plan, winds, map, airspace, zones and the pack of them; returns the plan file. All of it is invented.

    Files that stand there from an earlier time are written again, but for the forecast, which takes seconds.
    """
    folder.mkdir(parents=True, exist_ok=True)
    plan, winds = folder / "flight.toml", folder / INVENTED_FORECAST_NAME
    plan.write_text(example_plan_text(), encoding="utf-8")
    (folder / "invented-sounding.csv").write_text(invented_sounding_csv(), encoding="utf-8")
    if not winds.exists():
        part = winds.with_suffix(".part")
        write_invented_forecast(part)
        part.replace(winds)
    map_file, airspace, zones = write_invented_maps(folder, load_places())
    brought = {"winds": [winds], "map": [map_file], "airspace": [airspace], "zones": [zones]}
    make_pack(
        load_plan(plan), plan, pack_folder(plan), (), brought, now=datetime.now(UTC), step=lambda _: None
    )  # fmt: skip
    return plan
