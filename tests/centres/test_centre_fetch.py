"""From a loopback centre to files that a reader reads: right, little moved, and never half of one."""

from __future__ import annotations

import hashlib
import json
import os
import time
from pathlib import Path

import numpy as np
import pytest

from oracle.centre_arms import ARMS
from oracle.centre_faults import (
    AREA,
    CENTRES,
    NOW,
    RULES,
    RUN,
    full_disk,
    killed,
    missing_on_disk,
    on_disk,
    planned,
    run_of,
    wish_of,
    wrong_on_disk,
)
from oracle.centre_measure import measure
from oracle.centre_server import CentreServer, Fault
from pappus.errors import BadFile
from pappus.sources import NotFetched, fetch, join_fetched, plan_fetch, read_forecast


@pytest.mark.parametrize("centre", CENTRES)
def test_what_is_fetched_is_what_the_centre_has(centre: str, tmp_path: Path) -> None:
    lines: list[str] = []
    with CentreServer([run_of(centre)]) as server:
        plan = planned(centre, server.url, RULES)
        fetched = fetch(plan, tmp_path, rules=RULES, step=lines.append, now=lambda: NOW)
    assert wrong_on_disk(tmp_path, centre) == missing_on_disk(tmp_path, centre) == ""
    assert lines[0].startswith(f"fetching {len(plan.files)} files, ")
    assert lines[-1].startswith(f"{len(plan.files)} of {len(plan.files)}: ")
    assert fetched.moved_bytes == plan.bytes_to_move + sum(file.index_bytes for file in plan.files)
    assert fetched.whole_bytes == plan.whole_bytes
    for file in fetched.files:
        content = file.path.read_bytes()
        assert hashlib.sha256(content).hexdigest() == file.sha256
        assert (file.run, file.fetched) == (RUN, NOW)
        assert file.url.startswith(server.url)
        record = json.loads(file.path.with_suffix(".json").read_text())
        assert (record["sha256"], record["url"], record["run"]) == (file.sha256, file.url, RUN.isoformat())
        assert content.count(b"7777") >= file.fields
    assert not list(tmp_path.glob(".unfinished-*"))
    assert not list((tmp_path / ".parts").iterdir())


@pytest.mark.parametrize("centre", CENTRES)
def test_a_reader_reads_it_as_it_reads_the_whole_files(centre: str, tmp_path: Path) -> None:
    run = run_of(centre)
    with CentreServer([run]) as server:
        fetched = fetch(planned(centre, server.url, RULES), tmp_path / "fetched", rules=RULES)
    whole = []
    for number, file in enumerate(run.files.values()):
        whole.append(tmp_path / f"{number}.grib2")
        whole[-1].write_bytes(file.octets())
    (ours,), (theirs,) = read_forecast(fetched.paths, area=AREA), read_forecast(whole, area=AREA)
    # from a whole globe a reader takes a column or two more beside the area
    columns = np.isin(theirs.field.longitude_deg.round(6), ours.field.longitude_deg.round(6))
    assert columns.sum() == len(ours.field.longitude_deg) >= 5
    assert np.array_equal(ours.field.latitude_deg, theirs.field.latitude_deg)
    for name in ("wind_u_m_s", "wind_v_m_s", "temperature_k", "height_msl_m", "pressure_pa"):
        assert np.array_equal(getattr(ours.field, name), getattr(theirs.field, name)[..., columns]), name
    assert ours.ground_height_msl_m is not None
    assert theirs.ground_height_msl_m is not None
    assert np.array_equal(ours.ground_height_msl_m, theirs.ground_height_msl_m[:, columns])
    assert ours.surface is not None
    assert theirs.surface is not None
    assert ours.surface.fields.keys() == theirs.surface.fields.keys()
    for name, values in ours.surface.fields.items():
        assert np.array_equal(values, theirs.surface.fields[name][..., columns], equal_nan=True), name


def test_files_are_joined_to_one(tmp_path: Path) -> None:
    with CentreServer([run_of("gefs")]) as server:
        fetched = fetch(planned("gefs", server.url, RULES), tmp_path, rules=RULES)
    one = tmp_path / "joined" / "all.grib2"
    digest = join_fetched(fetched, one)
    assert hashlib.sha256(one.read_bytes()).hexdigest() == digest
    assert one.stat().st_size == sum(path.stat().st_size for path in fetched.paths)
    (many,), (single,) = read_forecast(fetched.paths, area=AREA), read_forecast([one], area=AREA)
    assert np.array_equal(many.field.wind_u_m_s, single.field.wind_u_m_s)
    victim = fetched.files[1].path
    victim.write_bytes(victim.read_bytes()[:-1])
    with pytest.raises(NotFetched, match=f"{victim.name}: it is no longer the file that was fetched"):
        join_fetched(fetched, tmp_path / "joined" / "other.grib2")
    assert list(one.parent.iterdir()) == [one]


def test_a_second_call_moves_nothing(tmp_path: Path) -> None:
    with CentreServer([run_of("gefs")]) as server:
        plan = planned("gefs", server.url, RULES)
        first = fetch(plan, tmp_path, rules=RULES)
        before = server.sent_bytes
        second = fetch(planned("gefs", server.url, RULES), tmp_path, rules=RULES)
        assert (second.moved_bytes, second.whole_bytes) == (0, first.whole_bytes)
        assert second.paths == first.paths
        # damage on disk is seen, and only that file is moved again
        path = first.files[0].path
        path.write_bytes(path.read_bytes()[:-100])
        third = fetch(plan, tmp_path, rules=RULES)
        assert [file.path for file in third.files if file.moved_bytes] == [path]
    assert wrong_on_disk(tmp_path, "gefs") == missing_on_disk(tmp_path, "gefs") == ""
    assert before > 0


def test_another_area_is_another_file(tmp_path: Path) -> None:
    with CentreServer([run_of("ifs")]) as server:
        first = fetch(planned("ifs", server.url, RULES), tmp_path, rules=RULES)
        wish = wish_of("ifs", area=(-20.0, -5.0, 100.0, 130.0))
        plan = plan_fetch(wish, base_url=server.url, rules=RULES, now=lambda: NOW)
        second = fetch(plan, tmp_path, rules=RULES)
    assert not set(first.paths) & set(second.paths)
    assert wrong_on_disk(tmp_path, "ifs") == ""


def test_a_replaced_file_is_fetched_again(tmp_path: Path) -> None:
    with CentreServer([run_of("ifs")]) as server:
        fetch(planned("ifs", server.url, RULES), tmp_path, rules=RULES)
        server.publish(run_of("ifs", 2), "2")
        again = fetch(planned("ifs", server.url, RULES), tmp_path, rules=RULES)
    assert all(file.moved_bytes for file in again.files)
    assert wrong_on_disk(tmp_path, "ifs", (2,)) == ""


def test_a_broken_fetch_goes_on_where_it_ended(tmp_path: Path) -> None:
    with CentreServer([run_of("gfs")]) as server:
        plan = planned("gfs", server.url, RULES)
        server.faults.append(Fault("cut", "*f00?", skip=4))
        with pytest.raises(NotFetched, match="the connection ended early"):
            fetch(plan, tmp_path, rules=RULES, sleep=lambda seconds: None)
        kept = len(list((tmp_path / ".parts").glob("*.part")))
        assert kept == 4
        assert not list(tmp_path.glob("*.grib2"))
        server.faults.clear()
        server.log.clear()
        fetch(plan, tmp_path, rules=RULES)
        assert len(server.log) == sum(len(file.spans) for file in plan.files) - kept
    assert wrong_on_disk(tmp_path, "gfs") == missing_on_disk(tmp_path, "gfs") == ""


def test_a_damaged_part_is_moved_again(tmp_path: Path) -> None:
    with CentreServer([run_of("gfs")]) as server:
        plan = planned("gfs", server.url, RULES)
        server.faults.append(Fault("forbidden", "*f00?", skip=4))
        with pytest.raises(NotFetched):
            fetch(plan, tmp_path, rules=RULES)
        for path in (tmp_path / ".parts").glob("*.part"):
            octets = bytearray(path.read_bytes())
            octets[-50] ^= 1
            path.write_bytes(octets[: len(octets) // 2] if path.stat().st_size % 2 else octets)
        server.faults.clear()
        fetch(plan, tmp_path, rules=RULES)
    assert wrong_on_disk(tmp_path, "gfs") == missing_on_disk(tmp_path, "gfs") == ""


def test_a_process_killed_in_the_middle(tmp_path: Path) -> None:
    with CentreServer([run_of("gefs")]) as server:
        plan = planned("gefs", server.url, RULES)
        killed(plan, tmp_path, RULES, server, np.random.default_rng(3))
        assert wrong_on_disk(tmp_path, "gefs") == ""
        assert list(tmp_path.iterdir())
        server.log.clear()
        fetch(plan, tmp_path, rules=RULES)
        assert len(server.log) < sum(len(file.spans) for file in plan.files)
    assert wrong_on_disk(tmp_path, "gefs") == missing_on_disk(tmp_path, "gefs") == ""


def test_a_full_disk(tmp_path: Path) -> None:
    with CentreServer([run_of("ifs")]) as server:
        plan = planned("ifs", server.url, RULES)
        with full_disk(tmp_path), pytest.raises(NotFetched, match="the disk does not take the file") as error:
            fetch(plan, tmp_path, rules=RULES)
        assert "what was fetched is kept" in str(error.value)
        assert not list(tmp_path.rglob(".unfinished-*"))
        assert not list(on_disk(tmp_path))
        fetch(plan, tmp_path, rules=RULES)
    assert wrong_on_disk(tmp_path, "ifs") == missing_on_disk(tmp_path, "ifs") == ""


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    with CentreServer([run_of("ifs")]) as server, pytest.raises(NotFetched, match="the disk does not take the file"):
        fetch(planned("ifs", server.url, RULES), tmp_path / "file" / "below", rules=RULES)


def test_no_more_connections_than_allowed_at_a_time(tmp_path: Path) -> None:
    with CentreServer([run_of("gefs")]) as server:
        plan = planned("gefs", server.url, RULES)
        server.pause_s = 0.005
        fetch(plan, tmp_path, rules=RULES)
        assert 1 < server.most_at_once <= RULES.connections


def test_old_leftovers_are_swept(tmp_path: Path) -> None:
    old, young = tmp_path / ".unfinished-old", tmp_path / ".unfinished-young"
    for path in (old, young):
        path.write_text("x")
    os.utime(old, (time.time() - 7200.0,) * 2)
    with CentreServer([run_of("ifs")]) as server:
        fetch(planned("ifs", server.url, RULES), tmp_path, rules=RULES)
    assert (old.exists(), young.exists()) == (False, True)


def test_an_area_that_the_grid_does_not_hold_is_refused_in_one_line(tmp_path: Path) -> None:
    run = run_of("ifs")
    with CentreServer([run]) as server:
        wish = wish_of("ifs", area=(-90.0, -85.0, 0.0, 5.0))
        fetched = fetch(plan_fetch(wish, base_url=server.url, rules=RULES, now=lambda: NOW), tmp_path, rules=RULES)
    assert fetched.files  # the globe holds every area
    with pytest.raises(BadFile):
        read_forecast(fetched.paths, area=AREA)


def test_every_fault_has_a_name_of_its_own() -> None:
    assert len({arm.name for arm in ARMS}) == len(ARMS) > 40


def test_little_is_moved_kept_and_held_in_memory() -> None:
    """Two members and half a day; the full measure is part of ``benchmarks/fault_runs.py``."""
    cost = measure(members=2, hours=12, step_deg=10.0)
    assert cost.files == 2 * 2 * 5
    assert cost.moved_bytes < 0.5 * cost.whole_bytes
    assert cost.moved_bytes <= cost.sent_bytes < 1.02 * cost.moved_bytes
    assert cost.disk_bytes < 0.1 * cost.whole_bytes
    assert cost.peak_bytes < 15e6
