"""Plan and wind files of a flight day are in its record, once each."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from pathlib import Path

from pappus.inflight import keep_given
from pappus.preflight import pack_folder, write_example
from pappus.store import FlightStore

NOW = datetime(2027, 2, 13, 12, tzinfo=UTC)


def test_each_content_is_kept_once(tmp_path: Path) -> None:
    plan = write_example(tmp_path)
    with FlightStore.open(tmp_path / "flight.record") as store:
        keep_given(store, plan, pack_folder(plan), NOW)
        keep_given(store, plan, pack_folder(plan), NOW.replace(hour=13))
        (kept,) = store.records("plan")
        assert kept.content == plan.read_text("utf-8")
        (winds,) = store.records("forecast")
        (file,) = list(pack_folder(plan).rglob("*.grib2"))
        assert winds.content["sha256"] == hashlib.sha256(file.read_bytes()).hexdigest()
        plan.write_text(plan.read_text("utf-8") + "\n# changed on the field\n", "utf-8")
        keep_given(store, plan, pack_folder(plan), NOW.replace(hour=14))
        assert len(list(store.records("plan"))) == 2
        assert len(list(store.records("forecast"))) == 1


def test_a_damaged_pack_keeps_no_crew_from_listening(tmp_path: Path) -> None:
    plan = write_example(tmp_path)
    for path in pack_folder(plan).glob("*.json"):
        path.write_text("{", "utf-8")
    with FlightStore.open(tmp_path / "flight.record") as store:
        keep_given(store, plan, pack_folder(plan), NOW)
        assert len(list(store.records("plan"))) == 1
        assert list(store.records("forecast")) == []
