"""One rehearsal of the example at 200 times life, by command, over real sockets of this computer."""

from __future__ import annotations

import json
from pathlib import Path

from typer.testing import CliRunner

from pappus.cli._commands import app
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
