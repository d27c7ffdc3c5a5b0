"""The field pack from the command line: made at home, checked, and flown from with no network at all."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from cli.plans import plan_at
from oracle.centre_runs import Run as CentreRun
from oracle.centre_server import CentreServer
from pappus.plan import example_plan_text
from pappus.sources import invented_sounding_csv

Run = Callable[..., "subprocess.CompletedProcess[str]"]
Shared = Callable[[str], Path]
NO_NETWORK = """
import socket
def refuse(*_, **__): raise OSError("the network is unplugged")
socket.socket.connect = socket.socket.connect_ex = socket.create_connection = socket.getaddrinfo = refuse
"""


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """An invented plan and sounding, as a crew has them at home."""
    (tmp_path / "flight.toml").write_text(example_plan_text())
    (tmp_path / "sounding.csv").write_text(invented_sounding_csv())
    (tmp_path / "zones.geojson").write_text(
        json.dumps(
            {
                "type": "FeatureCollection",
                "features": [
                    {
                        "type": "Feature",
                        "properties": {"name": "invented school", "role": "keep-out"},
                        "geometry": {
                            "type": "Polygon",
                            "coordinates": [[[-64.2, -37.4], [-64.1, -37.4], [-64.1, -37.3], [-64.2, -37.4]]],
                        },
                    }
                ],
            }
        )
    )
    return tmp_path


def test_brief_flies_from_the_pack_with_the_network_unplugged(home: Path, pappus: Run) -> None:
    made = pappus("fetch", "flight.toml", "--winds", "sounding.csv", "--zones", "zones.geojson", "--json")
    assert made.returncode == 0, made.stderr
    assert {file["kind"] for file in json.loads(made.stdout)["files"]} == {"plan", "winds", "zones"}
    for name in ("sounding.csv", "zones.geojson"):
        (home / name).unlink()
    moved = home / "stick"
    moved.mkdir()
    shutil.move(home / "flight.pack", moved / "flight.pack")
    shutil.copy(home / "flight.toml", moved / "flight.toml")
    (home / "offline").mkdir()
    (home / "offline" / "sitecustomize.py").write_text(NO_NETWORK)
    path = os.pathsep.join([str(home / "offline"), *(place for place in sys.path if place)])
    command = [sys.executable, "-m", "pappus.cli", "brief", "flight.toml", "--out", "briefing"]
    result = subprocess.run(
        command, cwd=moved, capture_output=True, text=True, timeout=300, check=False,
        env=os.environ | {"PYTHONPATH": path, "COLUMNS": "110"},
    )  # fmt: skip
    assert result.returncode == 0, result.stderr
    assert "Reaches 31.0 km" in result.stdout
    assert (moved / "briefing" / "map.png").stat().st_size > 10_000


def test_check_says_the_worst_first_and_stops_a_brief_from_damaged_winds(home: Path, pappus: Run) -> None:
    assert pappus("fetch", "flight.toml", "--winds", "sounding.csv").returncode == 0
    fine = pappus("pack", "check", "flight.toml", "--json")
    assert fine.returncode == 0, fine.stderr
    assert [lack["what"] for lack in json.loads(fine.stdout)["lacks"]] == ["terrain", "map", "airspace", "zones"]
    winds = home / "flight.pack" / "winds" / "sounding.csv"
    content = bytearray(winds.read_bytes())
    content[len(content) // 2] ^= 1
    winds.write_bytes(bytes(content))
    hurt = pappus("pack", "check", "flight.toml", "--json")
    assert hurt.returncode == 2
    lacks = json.loads(hurt.stdout)["lacks"]
    assert (lacks[0]["weight"], lacks[0]["what"]) == ("stops the brief", "winds/sounding.csv")
    brief = pappus("brief", "flight.toml")
    assert brief.returncode == 2
    assert "changed since it was packed" in brief.stderr


def test_a_changed_plan_and_a_far_site_are_seen(home: Path, pappus: Run) -> None:
    assert pappus("fetch", "flight.toml", "--winds", "sounding.csv").returncode == 0
    plan = home / "flight.toml"
    text = plan.read_text()
    for clock in ("11:00", "12:30", "16:00"):
        text = text.replace(f"2027-02-13T{clock}:00Z", f"2027-02-16T{clock}:00Z")
    plan.write_text(text)
    checked = pappus("pack", "check", "flight.toml")
    assert checked.returncode == 2
    said = " ".join(checked.stdout.split())
    assert "the plan was changed after the pack was made" in said
    assert "the window is 02-16 11:00Z to 02-16 16:00Z" in said


def test_newer_files_take_the_place_of_older_ones_and_a_failed_fetch_of_none(home: Path, pappus: Run) -> None:
    assert pappus("fetch", "flight.toml", "--winds", "sounding.csv").returncode == 0
    manifest = (home / "flight.pack" / "manifest.json").read_bytes()
    (home / "torn.csv").write_text("pressure,height\n1000,")
    failed = pappus("fetch", "flight.toml", "--winds", "sounding.csv", "--winds", "torn.csv")
    assert failed.returncode == 2
    assert (home / "flight.pack" / "manifest.json").read_bytes() == manifest
    assert pappus("pack", "check", "flight.toml").returncode == 0
    sounding = home / "sounding.csv"
    sounding.write_text(sounding.read_text().replace("\n", "\n", 1) + "\n")
    assert pappus("fetch", "flight.toml", "--winds", "sounding.csv").returncode == 0
    assert pappus("pack", "check", "flight.toml").returncode == 0
    packed = [path.name for path in (home / "flight.pack" / "winds").iterdir()]
    assert len(packed) == 1


def test_nothing_to_fetch_and_no_such_centre(home: Path, pappus: Run) -> None:
    nothing = pappus("fetch", "flight.toml")
    assert nothing.returncode == 2
    assert "gefs" in nothing.stderr
    nowhere = pappus("fetch", "flight.toml", "--centre", "moon")
    assert nowhere.returncode == 2
    assert "no such centre" in nowhere.stderr
    assert not (home / "flight.pack" / "manifest.json").exists()


def test_a_forecast_is_fetched_from_a_centre_and_flown(tmp_path: Path, pappus: Run) -> None:
    """A loopback centre with an ensemble of three members in the layout of the real one; invented fields."""
    now = datetime.now(UTC)
    run = (now - timedelta(hours=8)).replace(minute=0, second=0, microsecond=0)
    run = run.replace(hour=run.hour // 6 * 6)
    release = now + timedelta(hours=3)
    plan = plan_at(46.5, 8.0, "600 m", f"{release:%Y-%m-%dT%H:%M:%SZ}", "UTC")
    plan = plan.replace(f"{release:%Y-%m-%d}T00:00:00Z", f"{release - timedelta(hours=1):%Y-%m-%dT%H:%M:%SZ}")
    plan = plan.replace(f"{release:%Y-%m-%d}T23:00:00Z", f"{release + timedelta(hours=2):%Y-%m-%dT%H:%M:%SZ}")
    (tmp_path / "flight.toml").write_text(plan)
    published = CentreRun("gefs", run, tuple(range(0, 31, 3)), range(3), step_deg=4.0)
    with CentreServer([published]) as server:
        made = pappus("fetch", "flight.toml", "--centre", "gefs", "--members", "3", "--address", server.url, "--json")
        assert made.returncode == 0, made.stderr
        files = [file for file in json.loads(made.stdout)["files"] if file["kind"] == "winds"]
        assert files
        assert len(files) == 1
        assert files[0]["origin"].startswith(server.url)
        again = pappus("fetch", "flight.toml", "--centre", "gefs", "--members", "3", "--address", server.url, "--json")
        assert again.returncode == 0, again.stderr
    checked = pappus("pack", "check", "flight.toml", "--json")
    lacks = json.loads(checked.stdout)["lacks"]
    assert not [lack for lack in lacks if lack["weight"] == "stops the brief"], lacks
    assert any("rain rate is not published" in lack["why"] for lack in lacks)  # what the centre lacks is said
    flown = pappus("brief", "flight.toml", "--json")  # the server is gone
    assert flown.returncode == 0, flown.stderr
    assert json.loads(flown.stdout)["winds"][0]["members"] == 3


def test_winds_that_hold_the_planned_release_but_not_the_window_weaken_it(home: Path, pappus: Run) -> None:
    plan = home / "flight.toml"
    plan.write_text(plan.read_text().replace('# sounding_age = "12 h"', 'sounding_age = "2 h"'))
    assert pappus("fetch", "flight.toml", "--winds", "sounding.csv").returncode == 0
    checked = pappus("pack", "check", "flight.toml", "--json")
    assert checked.returncode == 0
    worst = json.loads(checked.stdout)["lacks"][0]
    assert (worst["weight"], worst["what"]) == ("weakens it", "winds")
    assert pappus("brief", "flight.toml").returncode == 0
