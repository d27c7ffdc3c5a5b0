"""Which run, steps, members and octets a plan takes."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from oracle.centre_faults import AREA, CENTRES, NOW, RULES, RUN, run_of, wish_of
from oracle.centre_runs import Run
from oracle.centre_server import CentreServer, Fault
from pappus.errors import BadInput, OutOfRange
from pappus.sources import CENTRES as PUBLISHED
from pappus.sources import FetchPlan, FetchWish, NotFetched, plan_fetch
from pappus.sources.centres._plan import covering_steps, merge
from pappus.sources.centres._run_index import Record


class Clock:
    """Goes on only while somebody sleeps."""

    def __init__(self, now: datetime = NOW) -> None:
        self.time, self.slept = now, 0.0

    def now(self) -> datetime:
        return self.time

    def sleep(self, seconds: float) -> None:
        self.slept += seconds
        self.time += timedelta(seconds=seconds)


def planned(server: CentreServer, wish: FetchWish, clock: Clock | None = None, **how: Any) -> FetchPlan:
    clock = clock or Clock()
    return plan_fetch(wish, base_url=server.url + "/", rules=RULES, now=clock.now, sleep=clock.sleep, **how)


def runs_of(centre: str, *hours_before: int) -> list[Run]:
    """Whole runs that began so many hours before ``RUN``, all with the steps that valid times need."""
    return [
        Run(centre, RUN - timedelta(hours=h), (3 + h, 6 + h), decoys=1, levels_hpa=(1000, 500, 100))
        for h in hours_before
    ]


@pytest.mark.parametrize("centre", CENTRES)
def test_the_newest_run_is_planned_by_its_records(centre: str) -> None:
    with CentreServer([run_of(centre)]) as server:
        plan = planned(server, wish_of(centre))
        assert server.sent_bytes < 0.3 * plan.whole_bytes  # the files themselves have not been moved
    assert (plan.run, plan.steps_h) == (RUN, (3, 6))
    assert plan.whole_bytes == sum(file.size for file in run_of(centre).files.values())
    wanted = {key: place for file in run_of(centre).files.values() for key, place in file.keys.items()}
    found = {
        (r.name, r.level_pa, r.end_h, r.member): (r.offset, r.length)
        for file in plan.files for span in file.spans for r in span.records
    }  # fmt: skip
    assert found == wanted
    assert sum(length for _, length in found.values()) <= plan.bytes_to_move < plan.whole_bytes
    for file in plan.files:
        for span in file.spans:
            assert all(span.start <= r.offset and r.offset + r.length <= span.start + span.length for r in span.records)


def test_some_members_only() -> None:
    for centre in ("gefs", "ifs-ens"):
        with CentreServer([run_of(centre)]) as server:
            plan = planned(server, wish_of(centre, members=(1,)))
        assert {r.member for file in plan.files for span in file.spans for r in span.records} == {1}, centre


@pytest.mark.parametrize(
    ("first_h", "last_h", "flight_h", "every_h", "steps"),
    [
        (3.0, 3.0, 3.0, 3, (3, 6)),
        (4.5, 5.0, 3.2, 3, (3, 6, 9)),
        (0.0, 0.0, 0.0, 3, (0,)),
        (143.0, 143.0, 9.0, 3, (141, 144, 150, 156)),
        (6.0, 24.0, 6.0, 6, (6, 12, 18, 24, 30)),
        (6.0, 24.0, 3.0, 6, (6, 12, 18, 24, 27)),
        (-1.0, 4.0, 3.0, 3, ()),
        (230.0, 238.0, 3.0, 3, ()),
    ],
)
def test_steps_cover_release_and_flight(
    first_h: float, last_h: float, flight_h: float, every_h: int, steps: tuple[int, ...]
) -> None:
    run = datetime(2026, 3, 4, 12, tzinfo=UTC)
    first, last = run + timedelta(hours=first_h), run + timedelta(hours=last_h)
    wish = FetchWish("ifs", AREA, first, last, flight_h * 3600.0, step_every_h=every_h)
    assert covering_steps(wish, PUBLISHED["ifs"], run) == steps


def test_an_older_run_when_the_newest_is_not_there_or_not_complete() -> None:
    with CentreServer(runs_of("ifs", 6)) as server:
        plan = planned(server, wish_of("ifs"))
        assert plan.run == RUN - timedelta(hours=6)
        assert plan.notes[0] == ("run 2026-03-04 06 UTC is not published (20260304060000-6h-scda-fc.index is missing)")
        server.publish(run_of("ifs"))
        del server.files["/20260304/06z/ifs/0p25/scda/20260304060000-6h-scda-fc.grib2"]  # its index is there
        plan = planned(server, wish_of("ifs"))
        assert plan.run == RUN - timedelta(hours=6)
        assert "not complete yet" in plan.notes[0]


def test_an_older_run_when_an_index_of_the_newest_does_not_fit() -> None:
    with CentreServer([*runs_of("gfs", 6), run_of("gfs")]) as server:
        server.faults.append(Fault("changed", "/gfs.20260304/06/*f003.idx", value=lambda text: text[: len(text) // 2]))
        plan = planned(server, wish_of("gfs"))
        assert plan.run == RUN - timedelta(hours=6)
        assert "gfs.t06z.pgrb2.0p25.f003: its index cannot be used: its last line is cut short" in plan.notes[0]


def test_a_run_that_is_being_published_is_waited_for() -> None:
    with CentreServer(runs_of("gfs", 6)) as server:
        run = run_of("gfs")
        clock, lines = Clock(), list[str]()
        for place, (path, file) in enumerate(run.files.items()):
            if place == 0:
                server.put(path, file.size, file.octets)
                server.put(path + ".idx", len(run.indexes[path + ".idx"]), lambda text=run.indexes[path + ".idx"]: text)

        def step(words: str) -> None:
            lines.append(words)
            if clock.slept >= 180.0:
                server.publish(run)

        plan = planned(server, wish_of("gfs", wait_s=600.0), clock, step=step)
        assert plan.run == RUN
        assert 180.0 <= clock.slept <= 300.0
        waited = "run 2026-03-04 06 UTC is being published: gfs.t06z.pgrb2.0p25.f006.idx is missing"
        assert lines[0].startswith(waited)


def test_waiting_ends() -> None:
    with CentreServer(runs_of("gfs", 6)) as server:
        run = run_of("gfs")
        path = next(iter(run.indexes))
        server.put(path, len(run.indexes[path]), lambda: run.indexes[path])
        clock = Clock()
        plan = planned(server, wish_of("gfs", wait_s=600.0), clock)
        assert (plan.run, clock.slept) == (RUN - timedelta(hours=6), 600.0)


def test_no_run_at_all() -> None:
    with CentreServer() as server:
        with pytest.raises(NotFetched, match="no complete run can be had: run 2026-03-04 06 UTC is not published"):
            planned(server, wish_of("ifs"))
        with pytest.raises(NotFetched, match="run 2026-03-04 06 UTC is not published"):
            planned(server, wish_of("ifs", run=RUN))
        assert len(server.log) < 40


def test_a_flight_beyond_the_forecast() -> None:
    wish = FetchWish("gefs", AREA, RUN + timedelta(days=40), RUN + timedelta(days=40), 3600.0)
    with CentreServer() as server, pytest.raises(NotFetched, match="does not reach the times of the flight"):
        planned(server, wish)
    assert server.log == []


def test_the_ground_of_step_0() -> None:
    """Some centres publish the height of the ground at the start of the run only."""
    run = Run("ifs", RUN, (0, 3, 6), levels_hpa=(1000, 500, 100), decoys=0)
    with CentreServer([run]) as server:
        for hour in (3, 6):
            path = f"20260304/06z/ifs/0p25/scda/20260304060000-{hour}h-scda-fc.index"
            text = run.indexes[path].replace(b'"param": "z"', b'"param": "x"')
            server.put(path, len(text), lambda text=text: text)
        plan = planned(server, wish_of("ifs"))
        assert [(file.remote.step_h, len(file.spans)) for file in plan.files][-1] == (0, 1)
        assert [r.name for span in plan.files[-1].spans for r in span.records] == ["ground"]
        del server.files["/20260304/06z/ifs/0p25/scda/20260304060000-0h-scda-fc.index"]
        assert "the height of the model's ground is not published" in planned(server, wish_of("ifs")).notes


def test_a_field_that_one_step_lacks_is_looked_for_again_and_named() -> None:
    run = run_of("ifs")
    path = "/20260304/06z/ifs/0p25/scda/20260304060000-6h-scda-fc.index"
    text = run.indexes[path[1:]]
    wrong = text.replace(b'"levelist": "500", "param": "v"', b'"levelist": "500", "param": "w"')
    wrong = wrong.replace(b'"param": "10v"', b'"param": "1pv"')
    assert wrong != text
    with CentreServer([run]) as server:
        # its first reading only says whether it is there; the second is the one that counts
        server.faults.append(Fault("changed", path, 1, 1, lambda body: wrong))
        assert not [note for note in planned(server, wish_of("ifs")).notes if "+6 h" in note]
        server.faults[:] = [Fault("changed", path, value=lambda body: wrong)]
        notes = planned(server, wish_of("ifs")).notes
        assert "not published at +6 h: 10v (member 0), v at 500 hPa (member 0)" in notes


def test_records_are_merged_by_gap_and_size() -> None:
    records = [Record(at, 100, "u", 5e4, 3, 3, "instant", 0) for at in (0, 100, 250, 1000, 1100, 1200)]
    spans = merge(records, gap_bytes=100, largest_bytes=250)
    assert [(span.start, span.length) for span in spans] == [(0, 200), (250, 100), (1000, 200), (1200, 100)]
    assert [(span.start, span.length) for span in merge(records, 10_000, 10_000)] == [(0, 1300)]
    assert [record for span in spans for record in span.records] == records
    # two fields in one message stay together, whatever its size
    pair = [Record(0, 900, name, 5e4, 3, 3, "instant", 0) for name in ("u", "v")]
    assert [(span.length, len(span.records)) for span in merge(pair, 0, 500)] == [(900, 2)]


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"centre": "nobody"}, "there is no such centre"),
        ({"first_release": datetime(2026, 3, 4, 9)}, "it has no time zone"),  # noqa: DTZ001  # that is the fault
        ({"last_release": RUN}, "it is before the first release"),
        ({"members": (0, 77)}, "the centre does not publish them"),
        ({"members": ()}, "the centre does not publish them"),
        ({"area": (50.0, 40.0, 0.0, 1.0)}, "it is not south, north, west, east in degrees"),
        ({"run": RUN + timedelta(hours=1)}, "the centre has no run at that hour"),
    ],
)
def test_wishes_that_make_no_sense(change: dict[str, Any], reason: str) -> None:
    with pytest.raises(BadInput, match=reason):
        replace(wish_of("gefs"), **change)


def test_wishes_out_of_range() -> None:
    for change in ({"longest_flight_s": -1.0}, {"step_every_h": 0}, {"oldest_run_h": 0.0}, {"wait_s": 1e6}):
        with pytest.raises(OutOfRange):
            wish_of("gefs", **change)


def test_default_addresses_are_encrypted() -> None:
    assert all(centre.base_url.startswith("https://") for centre in PUBLISHED.values())


@pytest.mark.parametrize("address", ["centre.invalid", "ftp://centre.invalid", "https://", "https://a.invalid/?x=1"])
def test_an_address_that_is_none(address: str) -> None:
    with pytest.raises(BadInput, match=r"it is no address\. Begin it with https:"):
        plan_fetch(wish_of("ifs"), base_url=address)
