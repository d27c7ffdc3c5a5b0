"""Receivers against small servers of the tests' own: numbers, durability, trouble, one not blocking another."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import socket
import sys
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from pappus.sources.receivers import (
    NotUnderstood,
    Receiver,
    ReceiverSetting,
    log_line,
    parse,
    read_log,
    replay,
)
from pappus.sources.receivers._desk import Desk
from pappus.sources.receivers._nmea_sentence import checksum
from pappus.sources.receivers._receiver import Source
from pappus.tracking import Heard, received
from receiving import Kept, LineServer, Start, free_port, wait_for

LINE = b"N0CALL-11>APRS:!4530.00N/00715.50EO"


def nmea(second: int) -> bytes:
    gga = f"GNGGA,1015{second:02d}.00,4530.0000,N,00715.5000,E,1,11,0.8,900.0,M,48.2,M,,"
    rmc = f"GNRMC,1015{second:02d}.00,A,4530.0000,N,00715.5000,E,18.5,092.3,140626,,,A"
    return b"".join(f"${body}*{checksum(body.encode()):02X}\r\n".encode() for body in (gga, rmc))


class TestTcp:
    def test_lines_are_numbered_and_timed(self, start: Start, kept: Kept, line_server: LineServer) -> None:
        clock_utc = datetime(2026, 6, 14, 10, 15, 3, tzinfo=UTC)
        receiver = start(
            "aprs-text", f"tcp://127.0.0.1:{line_server.port}", clock=lambda: clock_utc, last_counters={"trial": 41}
        )
        wait_for(lambda: line_server.clients, "client")
        line_server.send(b"# hello\r\n" + LINE + b"1\r\n" + LINE[:10])
        line_server.send(LINE[10:] + b"2\r\n")
        wait_for(lambda: len(kept.heard) == 2, "two packets")
        assert kept.raws == [LINE + b"1", LINE + b"2"]
        assert [heard.counter for heard in kept.heard] == [42, 43]
        assert {(heard.receiver, heard.role, heard.heard_utc) for heard in kept.heard} == {
            ("trial", "ground station", clock_utc)
        }
        state = receiver.state()
        assert (state.phase, state.packets, state.connections, state.last_error) == ("connected", 2, 1, "")
        assert state.bytes == 2 * len(LINE) + 2
        assert state.last_heard_age_s is not None
        assert state.last_heard_age_s < 5.0

    def test_a_server_that_goes_away_is_found_again(self, start: Start, kept: Kept, line_server: LineServer) -> None:
        receiver = start("aprs-text", f"tcp://127.0.0.1:{line_server.port}")
        wait_for(lambda: line_server.clients, "client")
        line_server.send(LINE + b"\n")
        wait_for(lambda: kept.heard, "packet")
        line_server.close()
        wait_for(lambda: receiver.state().phase == "waiting", "waiting")
        state = receiver.state()
        assert state.retry_in_s is not None
        assert state.last_error
        line_server.open()
        wait_for(lambda: line_server.clients, "client again")
        line_server.send(LINE + b"\n")
        wait_for(lambda: len(kept.heard) == 2, "packet again")
        assert [heard.counter for heard in kept.heard] == [1, 2]
        assert receiver.state().connections == 2

    def test_a_server_that_is_not_there(self, start: Start) -> None:
        receiver = start("aprs-text", f"tcp://127.0.0.1:{free_port()}")
        wait_for(lambda: receiver.state().phase == "waiting", "waiting")
        assert "refused" in receiver.state().last_error.lower()
        assert receiver.state().last_heard_age_s is None

    def test_the_epochs_of_nmea(self, start: Start, kept: Kept, line_server: LineServer) -> None:
        start("nmea", f"tcp://127.0.0.1:{line_server.port}", hello="?send", role="vehicle")
        wait_for(lambda: line_server.clients, "client")
        line_server.clients[0].settimeout(5)
        assert line_server.clients[0].recv(100) == b"?send\r\n"
        line_server.send(nmea(1) + nmea(2))
        wait_for(lambda: len(kept.heard) == 2, "two epochs")
        assert kept.raws == [nmea(1), nmea(2)]
        found = parse("nmea", kept.heard[0].raw, kept.heard[0].heard_utc)
        assert not isinstance(found, NotUnderstood)
        assert found[0].time_quality == "full"
        assert kept.heard[0].role == "vehicle"

    def test_what_was_begun_is_kept_when_the_connection_breaks(
        self, start: Start, kept: Kept, line_server: LineServer
    ) -> None:
        start("nmea", f"tcp://127.0.0.1:{line_server.port}")
        wait_for(lambda: line_server.clients, "client")
        line_server.clients[0].sendall(nmea(1))
        line_server.clients[0].shutdown(socket.SHUT_WR)
        wait_for(lambda: kept.heard, "packet")
        assert kept.raws == [nmea(1)]

    def test_a_flood_without_an_end_is_dropped(self, start: Start, kept: Kept, line_server: LineServer) -> None:
        receiver = start("aprs-text", f"tcp://127.0.0.1:{line_server.port}")
        wait_for(lambda: line_server.clients, "client")
        line_server.send(b"x" * 200_000 + b"\n" + LINE + b"\n")
        wait_for(lambda: kept.heard, "packet after the flood")
        assert kept.raws == [LINE]
        wait_for(lambda: receiver.state().dropped >= 1, "dropped count")

    def test_a_silent_server_is_left(self, kept: Kept, line_server: LineServer) -> None:
        from pappus.sources.receivers._address import TcpAddress
        from pappus.sources.receivers._streams import TcpSource

        setting = ReceiverSetting("trial", "ground station", "aprs-text", f"tcp://127.0.0.1:{line_server.port}")
        source = TcpSource(TcpAddress("127.0.0.1", line_server.port), "", silence_s=0.3)
        desk = Desk(setting, kept.take, 0, lambda: datetime.now(UTC), 0)
        with pytest.raises(ConnectionError, match="silent"):
            source.run(desk)


class TestTrouble:
    def test_a_packet_that_is_not_kept_is_tried_again_and_shown(
        self, start: Start, kept: Kept, line_server: LineServer
    ) -> None:
        kept.broken = True
        receiver = start("aprs-text", f"tcp://127.0.0.1:{line_server.port}")
        wait_for(lambda: line_server.clients, "client")
        line_server.send(LINE + b"1\n" + LINE + b"2\n")
        wait_for(lambda: "disk full" in receiver.state().last_error, "error in the state")
        assert receiver.state().packets == 0
        kept.broken = False
        wait_for(lambda: len(kept.heard) == 2, "both packets")
        assert [(heard.counter, heard.raw) for heard in kept.heard] == [(1, LINE + b"1"), (2, LINE + b"2")]
        wait_for(lambda: receiver.state().last_error == "", "error gone")

    def test_a_slow_store_of_one_receiver_does_not_hold_another(
        self, start: Start, kept: Kept, line_server: LineServer
    ) -> None:
        blocked, port = Kept(), free_port(socket.SOCK_DGRAM)
        blocked.hold.clear()
        slow = start("aprs-text", f"tcp://127.0.0.1:{line_server.port}", "slow", take=blocked.take)
        fast = start("aprs-text", f"udp://127.0.0.1:{port}", "fast")
        wait_for(lambda: line_server.clients and fast.state().phase == "connected", "both")
        line_server.send(LINE + b"\n")
        wait_for(lambda: slow.state().last_heard_age_s is not None, "the slow one to have heard")
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            for number in range(20):
                sender.sendto(LINE + b"%d" % number, ("127.0.0.1", port))
        wait_for(lambda: len(kept.heard) == 20, "the packets of the fast one")
        # its state can be read while its packet is being stored
        assert (slow.state().packets, fast.state().packets) == (0, 20)
        blocked.hold.set()
        wait_for(lambda: slow.state().packets == 1, "the packet of the slow one")

    def test_a_fault_inside_does_not_end_the_receiver(self, kept: Kept) -> None:
        class Faulty(Source):
            again = True
            runs = 0

            def run(self, desk: Desk) -> None:
                self.runs += 1
                if self.runs == 1:
                    raise ZeroDivisionError("a fault of ours")
                desk.opened()
                desk.packet(LINE)
                desk.stopping.wait()

        setting = ReceiverSetting("trial", "ground station", "aprs-text", "udp://127.0.0.1:1")
        receiver = Receiver(setting, Faulty(), kept.take, last_counter=0, clock=lambda: datetime.now(UTC), seed=1)
        receiver.start()
        wait_for(lambda: "a fault of ours" in receiver.state().last_error, "fault in the state")
        wait_for(lambda: kept.heard, "packet after the fault")
        assert receiver.stop()
        assert receiver.state().phase == "stopped"


class TestUdp:
    def test_datagrams(self, start: Start, kept: Kept) -> None:
        port = free_port(socket.SOCK_DGRAM)
        receiver = start("nmea", f"udp://127.0.0.1:{port}")
        wait_for(lambda: receiver.state().phase == "connected", "listening")
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            sender.sendto(nmea(1), ("127.0.0.1", port))
            sender.sendto(b"", ("127.0.0.1", port))
            sender.sendto(b"x" * 20_000, ("127.0.0.1", port))
            sender.sendto(nmea(2), ("127.0.0.1", port))
        wait_for(lambda: len(kept.heard) == 2, "two packets")
        assert kept.raws == [nmea(1), nmea(2)]
        assert receiver.state().dropped == 2

    def test_a_port_in_use_is_waited_for(self, start: Start) -> None:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as taken:
            taken.bind(("127.0.0.1", 0))
            receiver = start("nmea", f"udp://127.0.0.1:{taken.getsockname()[1]}")
            wait_for(lambda: receiver.state().phase == "waiting", "waiting")
            assert "in use" in receiver.state().last_error
        wait_for(lambda: receiver.state().phase == "connected", "listening")


PACKET = {"tracker": "box-1", "time_utc": "2026-06-14T10:15:00Z", "latitude_deg": 45.5, "longitude_deg": 7.258}


class TestHttp:
    @pytest.fixture
    def port(self, start: Start) -> int:
        port = free_port()
        self.receiver = start("json", f"http://127.0.0.1:{port}/packets", password="quiet-word")
        wait_for(lambda: self.receiver.state().phase == "connected", "listening")
        return port

    @staticmethod
    def post(
        port: int, body: bytes, path: str = "/packets", method: str = "POST", **headers: str
    ) -> tuple[int, dict[str, Any]]:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
        sent = {"Content-Type": "application/json", "Authorization": "Bearer quiet-word"} | {
            name.replace("_", "-"): value for name, value in headers.items()
        }
        try:
            connection.request(method, path, body, sent)
            answer = connection.getresponse()
            return answer.status, json.loads(answer.read())
        finally:
            connection.close()

    def test_a_packet_is_kept_before_the_answer(self, port: int, kept: Kept) -> None:
        body = json.dumps(PACKET).encode()
        assert self.post(port, body) == (200, {"kept": 1})
        assert kept.raws == [body]
        assert self.post(port, body) == (200, {"kept": 2})

    def test_no_answer_while_the_packet_is_not_kept(self, port: int, kept: Kept) -> None:
        kept.hold.clear()
        answers: list[int] = []
        thread = threading.Thread(target=lambda: answers.append(self.post(port, json.dumps(PACKET).encode())[0]))
        thread.start()
        wait_for(lambda: self.receiver.state().last_heard_age_s is not None, "packet at the desk")
        time.sleep(0.1)
        assert answers == []
        kept.hold.set()
        thread.join(10)
        assert answers == [200]

    def test_a_packet_that_cannot_be_kept_is_asked_for_again(self, port: int, kept: Kept) -> None:
        kept.broken = True
        status, answer = self.post(port, json.dumps(PACKET).encode())
        assert (status, "disk full" in answer["error"]) == (503, True)
        kept.broken = False
        assert self.post(port, json.dumps(PACKET).encode()) == (200, {"kept": 1})

    @pytest.mark.parametrize(
        ("body", "options", "status", "why"),
        [
            (b"{", {}, 422, "JSON"),
            (json.dumps(PACKET | {"latitude_deg": 91}).encode(), {}, 422, "latitude_deg is 91"),
            (b"x" * 20_000, {}, 413, "16384"),
            (b"{}", {"path": "/other"}, 404, "/packets"),
            (b"{}", {"method": "GET"}, 405, "POST"),
            (b"{}", {"method": "PUT"}, 405, "POST"),
            (b"{}", {"Content_Type": "text/plain"}, 415, "application/json"),
            (b"{}", {"Authorization": "Bearer other"}, 401, "password"),
            (b"{}", {"Host": "rebound.example:80"}, 403, "host"),
        ],
    )
    def test_a_bad_request_is_refused_with_the_reason(
        self, port: int, kept: Kept, body: bytes, options: dict[str, str], status: int, why: str
    ) -> None:
        found, answer = self.post(port, body, **options)
        assert (found, why in answer["error"]) == (status, True), answer
        assert kept.heard == []
        assert self.receiver.state().dropped == 1

    def test_a_request_without_its_length_or_with_half_its_body(self, port: int, kept: Kept) -> None:
        head = b"POST /packets HTTP/1.0\r\nHost: 127.0.0.1\r\nAuthorization: Bearer quiet-word\r\n"
        head += b"Content-Type: application/json\r\n"
        for rest, status in ((b"\r\n", b" 411 "), (b"Content-Length: 50\r\n\r\n{}", b" 400 ")):
            with socket.create_connection(("127.0.0.1", port), 10) as connection:
                connection.sendall(head + rest)
                connection.shutdown(socket.SHUT_WR)
                assert status in connection.recv(1000)
        assert kept.heard == []

    def test_senders_that_say_nothing_do_not_hold_others(self, port: int, kept: Kept) -> None:
        with contextlib.ExitStack() as silent:
            for _ in range(10):
                silent.enter_context(socket.create_connection(("127.0.0.1", port), 10))
            assert self.post(port, json.dumps(PACKET).encode())[0] == 200


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are of Unix")
class TestSerial:
    @pytest.fixture
    def terminal(self) -> Iterator[tuple[int, str]]:
        import pty
        import tty

        master, slave = pty.openpty()
        tty.setraw(slave)
        yield master, os.ttyname(slave)
        for descriptor in (master, slave):
            with contextlib.suppress(OSError):
                os.close(descriptor)

    def test_nmea_over_a_serial_line(self, start: Start, kept: Kept, terminal: tuple[int, str]) -> None:
        master, device = terminal
        receiver = start("nmea", f"serial:{device}?baud=38400", role="vehicle")
        wait_for(lambda: receiver.state().phase == "connected", "open port")
        for second in range(1, 4):
            os.write(master, nmea(second)[:30])
            os.write(master, nmea(second)[30:])
        wait_for(lambda: len(kept.heard) == 3, "three epochs")
        assert kept.raws == [nmea(1), nmea(2), nmea(3)]

    def test_a_cable_that_is_pulled_out(self, start: Start, terminal: tuple[int, str]) -> None:
        master, device = terminal
        receiver = start("nmea", f"serial:{device}")
        wait_for(lambda: receiver.state().phase == "connected", "open port")
        os.close(master)
        wait_for(lambda: receiver.state().phase == "waiting", "waiting")
        assert receiver.state().last_error

    def test_a_port_that_is_not_there(self, start: Start) -> None:
        receiver = start("nmea", "serial:/dev/not-there?baud=4800")
        wait_for(lambda: receiver.state().phase == "waiting", "waiting")
        assert "not-there" in receiver.state().last_error


HEARD = [
    received("car-1", 7, datetime(2026, 6, 14, 10, 15, 0, 250_000, tzinfo=UTC), "aprs-text", LINE, role="vehicle"),
    received("mast", 3, datetime(2026, 6, 14, 10, 15, 2, tzinfo=UTC), "ax25", b"\xc0\x00\xdb\xdc\xc0", signal_db=-91.5),
    received("mast", 4, datetime(2026, 6, 14, 10, 15, 3, tzinfo=UTC), "nmea", nmea(1)),
]


class TestLog:
    SETTING = ReceiverSetting("old", "ground station", "aprs-text", "file:x")

    def test_our_own_log_round_trip(self, tmp_path: Path, start: Start, kept: Kept) -> None:
        path = tmp_path / "flight.log"
        path.write_text("".join(log_line(heard) + "\n" for heard in HEARD), encoding="utf-8")
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

    def test_single_lines_of_nmea_are_joined_to_epochs(self, tmp_path: Path) -> None:
        path = tmp_path / "old.log"
        lines = [line for second in (1, 2) for line in nmea(second).splitlines()]
        path.write_bytes(
            b"".join(b"2026-06-14T10:15:0%dZ " % (1 + n // 2) + line + b"\n" for n, line in enumerate(lines))
        )
        setting = ReceiverSetting("old", "ground station", "nmea", "file:x")
        found = list(read_log(path, setting, lambda number, why: pytest.fail(why)))
        assert [(heard.counter, heard.raw) for heard in found] == [(1, nmea(1)), (3, nmea(2))]

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
        path.write_text("".join(log_line(heard) + "\n" for heard in HEARD), encoding="utf-8")
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
