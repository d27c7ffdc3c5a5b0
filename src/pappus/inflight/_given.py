"""What a flight day stands on: kept beside the packets, so that the record tells later what was known."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from pappus.errors import BadFile
from pappus.sources import PackFile, read_pack
from pappus.store import FlightStore


def keep_given(store: FlightStore, plan: Path, pack: Path, now: datetime) -> None:
    """Keep the text of the plan and which wind files were at hand, each content once however often a watch begins.

    :param pack: folder of the field pack; the digest of a file stands for its content. A watch begins without one too.
    :raises NotSafe: when the disk does not take it.
    """
    plan_text = plan.read_text("utf-8")
    held = [record.content for record in store.records("plan", "forecast")]
    if plan_text not in held:
        store.put_plan(plan_text, now)
    for file in _winds_in(pack):
        used = _used(file)
        if used not in held:
            store.put_forecast(used, now)


def _winds_in(pack: Path) -> tuple[PackFile, ...]:
    try:
        return read_pack(pack).of_kind("winds")
    except BadFile:  # none, or damaged, which is said elsewhere: it must not keep the crew from hearing the balloon
        return ()


def _used(file: PackFile) -> dict[str, Any]:
    times = {name: getattr(file, name) for name in ("issued", "valid_from", "valid_until")}
    return {
        "name": file.path, "origin": file.origin, "sha256": file.sha256,
        **{name: None if time is None else time.isoformat() for name, time in times.items()},
    }  # fmt: skip
