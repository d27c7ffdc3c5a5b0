"""Recorded packets: written, read, played again."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pappus.sources.receivers import (
    ReceiverSetting,
    read_log,
    replay,
)
from pappus.store import FlightStore, Record, to_lines
from pappus.tracking import Heard, received
from receiving import Kept, Start, epoch, wait_for

LINE = b"N0CALL-11>APRS:!4530.00N/00715.50EO"
HEARD = [
    received("car-1", 7, datetime(2026, 6, 14, 10, 15, 0, 250_000, tzinfo=UTC), "aprs-text", LINE, role="vehicle"),
    received("mast", 3, datetime(2026, 6, 14, 10, 15, 2, tzinfo=UTC), "ax25", b"\xc0\x00\xdb\xdc\xc0", signal_db=-91.5),
    received("mast", 4, datetime(2026, 6, 14, 10, 15, 3, tzinfo=UTC), "nmea", epoch(1)),
]


class TestLog:
    SETTING = ReceiverSetting("old", "ground station", "aprs-text", "file:x")

    def test_the_export_of_a_store_round_trip(self, tmp_path: Path, start: Start, kept: Kept) -> None:
        path = tmp_path / "flight.log"
        path.write_bytes(b"".join(to_lines(HEARD)))
        receiver = start("nmea", f"file:{path}")
        assert receiver.wait(10)
        assert kept.heard == HEARD
        assert receiver.state().phase == "ended"

    def test_lines_with_times(self, tmp_path: Path) -> None:
        path = tmp_path / "old.log"
        path.write_bytes(
            b"2026-06-14T10:15:00.250Z " + LINE + b"\r\n\n2026-06-14 12:15:02+02:00 hex:" + LINE.hex().encode() + b"\n"
            b"no time at all\n2026-06-14T10:15:00 no zone\n2026-06-14T10:15:00Z hex:abc\n{\"kind\": 1}\n"
            b"2026-06-14T10:15:00Z " + b"x" * 60_000 + b"\n"
        )  # fmt: skip
        bad: list[int] = []
        found = list(read_log(path, self.SETTING, lambda number, why: bad.append(number)))
        assert [(heard.receiver, heard.counter, heard.raw) for heard in found] == [("old", 1, LINE), ("old", 3, LINE)]
        assert found[1].heard_utc == datetime(2026, 6, 14, 10, 15, 2, tzinfo=UTC)
        assert set(range(4, 8)) <= set(bad)

    def test_long_lines_and_records_are_passed_over(self, tmp_path: Path) -> None:
        path = tmp_path / "flight.jsonl"
        record = Record("decision", datetime(2026, 6, 14, tzinfo=UTC), "laptop", None, b"x" * 200_000)
        (long_record,) = to_lines([record])
        own = list(to_lines(HEARD))
        damaged = own[1].replace(b"c000", b"c001")
        path.write_bytes(own[0] + long_record + b"y" * 200_000 + b"\n" + damaged + own[2])
        bad: list[int] = []
        found = list(read_log(path, self.SETTING, lambda number, why: bad.append(number)))
        assert found == [HEARD[0], HEARD[2]]
        assert bad == [3, 4]

    def test_into_a_store_any_number_of_times(self, tmp_path: Path, start: Start) -> None:
        path = tmp_path / "flight.jsonl"
        path.write_bytes(b"".join(to_lines(HEARD)))
        with FlightStore.open(tmp_path / "flight.store", laptop="trial") as store:
            for name in ("first", "second"):
                receiver = start("nmea", f"file:{path}", name, take=store.take, last_counter=store.last_counter)
                assert receiver.wait(20)
                assert receiver.state().last_error == ""
            assert list(store.packets()) == HEARD

    def test_single_lines_of_nmea_are_joined_to_epochs(self, tmp_path: Path) -> None:
        path = tmp_path / "old.log"
        lines = [line for second in (1, 2) for line in epoch(second).splitlines()]
        path.write_bytes(
            b"".join(b"2026-06-14T10:15:0%dZ " % (1 + n // 2) + line + b"\n" for n, line in enumerate(lines))
        )
        setting = ReceiverSetting("old", "ground station", "nmea", "file:x")
        found = list(read_log(path, setting, lambda number, why: pytest.fail(why)))
        assert [(heard.counter, heard.raw) for heard in found] == [(1, epoch(1)), (3, epoch(2))]

    def test_epochs_in_one_second_of_the_log_stay_apart(self, tmp_path: Path) -> None:
        path = tmp_path / "old.log"
        lines = [line for second in (1, 2) for line in epoch(second).splitlines()]
        path.write_bytes(b"".join(b"2026-06-14T10:15:01.%dZ " % n + line + b"\n" for n, line in enumerate(lines)))
        setting = ReceiverSetting("old", "ground station", "nmea", "file:x")
        found = list(read_log(path, setting, lambda number, why: pytest.fail(why)))
        assert [heard.raw for heard in found] == [epoch(1), epoch(2)]

    def test_playing_twice_gives_the_same_packets(self, tmp_path: Path) -> None:
        path = tmp_path / "old.log"
        path.write_bytes(b"2026-06-14T10:15:00Z " + LINE + b"\n")
        first, second = (list(read_log(path, self.SETTING, lambda number, why: None)) for _ in range(2))
        assert [heard.identity for heard in first] == [heard.identity for heard in second]

    @pytest.mark.parametrize(("speed", "pauses"), [(1.0, [1.75, 1.0]), (10.0, [0.175, 0.1]), (None, [])])
    def test_pauses(self, speed: float | None, pauses: list[float]) -> None:
        waited: list[float] = []
        taken: list[Heard] = []
        count = replay(HEARD, taken.append, speed=speed, wait=lambda seconds: waited.append(seconds))
        assert (count, taken) == (3, HEARD)
        assert [seconds for seconds in waited if seconds] == pytest.approx(pauses)

    def test_a_step_back_makes_no_pause(self) -> None:
        waited: list[float] = []
        replay(HEARD[::-1], lambda heard: None, speed=1.0, wait=lambda seconds: waited.append(seconds))
        assert [seconds for seconds in waited if seconds] == []

    def test_a_replay_can_be_stopped(self, tmp_path: Path, start: Start, kept: Kept) -> None:
        path = tmp_path / "flight.log"
        path.write_bytes(b"".join(to_lines(HEARD)))
        receiver = start("nmea", f"file:{path}?speed=0.01")
        wait_for(lambda: kept.heard, "first packet")
        begun_s = time.monotonic()
        assert receiver.stop()
        assert time.monotonic() - begun_s < 3.0
        assert kept.heard == HEARD[:1]

    def test_a_log_that_is_not_there(self, start: Start) -> None:
        receiver = start("nmea", "file:/not/there.log")
        assert receiver.wait(10)
        assert (receiver.state().phase, "not/there" in receiver.state().last_error) == ("ended", True)
