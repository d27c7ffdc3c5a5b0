"""Rehearsals over real sockets of this computer: the example by command, and one that is stopped early."""

from __future__ import annotations

import json
import threading
import time
from datetime import timedelta
from pathlib import Path

from typer.testing import CliRunner

from columns import EPOCH, PRIOR
from oracle.forecasts import forecast_field
from pappus.cli._commands import app
from pappus.inflight import (
    InFlightModel,
    LiesAround,
    Moment,
    Stage,
    planned_of,
    rehearse,
    score_lines,
    score_of,
    stopped_lines,
)
from pappus.plan import example_plan_text, load_plan
from pappus.preflight import write_example
from pappus.store import FlightStore


def test_the_example_is_rehearsed_from_the_command_line(tmp_path: Path) -> None:
    plan = write_example(tmp_path)
    kept = tmp_path / "rehearsal.flight"
    asked = ["rehearse", str(plan), "--speed", "200", "--seed", "3", "--faults", "early-burst,fouled-canopy", "--json",
             "--store", str(kept)]  # fmt: skip
    result = CliRunner().invoke(app, asked)
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    truth = told["truth"]
    assert truth["released_s"] < truth["top_s"] < truth["landed_s"]
    assert told["faults"] == ["early-burst", "fouled-canopy"]
    # three stations, a fix every ten seconds; what is not kept was damaged and refused, or still on its way
    assert told["packets_sent"] > 300
    assert 0.95 * told["packets_sent"] < told["packets_kept"] <= told["packets_sent"]
    with FlightStore.open(kept) as store:
        assert store.count() == told["packets_kept"]
        assert {one.receiver for one in store.packets()} == {"rehearsed mast", "rehearsed car", "rehearsed helper"}
    due = {one["kind"]: one["raised_utc"] for one in told["warnings_due"]}
    assert due["early burst"] is not None
    assert due["fast or fouled descent"] is not None
    assert told["landings"][-1]["error_m"] < told["landings"][0]["error_m"]
    again = CliRunner().invoke(app, asked)
    assert again.exit_code != 0
    assert "never mixed" in str(again.exception)


def test_a_speed_or_a_fault_that_is_none_is_refused(tmp_path: Path) -> None:
    plan = tmp_path / "flight.toml"
    assert CliRunner().invoke(app, ["plan", "new", str(plan)]).exit_code == 0
    result = CliRunner().invoke(app, ["rehearse", str(plan), "--faults", "gremlins"])
    assert result.exit_code != 0
    assert "gremlins" in str(result.exception)
    assert CliRunner().invoke(app, ["rehearse", str(plan), "--speed", "201"]).exit_code != 0


def test_stopped_early_its_record_is_whole(tmp_path: Path) -> None:
    """Told to stop from another thread, as a page or a signal does it, some minutes into the flight."""
    path = tmp_path / "flight.toml"
    path.write_text(example_plan_text(), encoding="utf-8")
    plan = load_plan(path)
    field = forecast_field(points=13, times=13, step_deg=1.0)
    model = InFlightModel.prepare(plan, field, PRIOR, plan.sites[0], EPOCH + timedelta(hours=2))
    stopping, told, asked_s = threading.Event(), list[Moment](), list[float]()

    def stop() -> None:
        asked_s.append(time.monotonic())
        stopping.set()

    def tell(moment: Moment) -> None:
        told.append(moment)
        if moment.estimate is not None and moment.estimate.packets > 30 and not asked_s:
            threading.Thread(target=stop).start()

    with FlightStore.open(tmp_path / "rehearsal.flight") as store:
        done = rehearse(
            Stage(model, planned_of(model)), store, [], LiesAround(volumes=(), zones_given=True), None,
            seed=3, speed=100.0, flights=100, tell=tell, stopping=stopping,
        )  # fmt: skip
        assert time.monotonic() - asked_s[0] < 5.0
        # what is not kept was damaged and refused; nothing came after that
        assert 30 < store.count() == done.kept <= len(done.sent)
        assert done.kept > 0.9 * len(done.sent)
    assert done.stopped_utc is not None
    last = told[-1]
    assert done.stopped_utc <= last.now
    assert last.done < 0.5
    assert last.prediction is done.predictions[-1]
    assert last.why_not == ""
    score = score_of(done)
    assert all(one.due_utc <= done.stopped_utc or one.raised_utc is not None for one in score.answers)
    assert {one.moment for one in score.landings} <= {"release"}
    assert stopped_lines(done) == [f"Stopped at {done.stopped_utc:%H:%M:%S}Z: what was due later is left out."]
    assert any(line.startswith("Packets: ") for line in score_lines(score, done.log))
