"""Receivers against small servers of the tests' own: numbers, durability, trouble, one not blocking another."""

from __future__ import annotations

import contextlib
import os
import socket
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pappus.sources.receivers import (
    NotUnderstood,
    Receiver,
    ReceiverSetting,
    parse,
)
from pappus.sources.receivers._desk import Desk
from pappus.sources.receivers._receiver import Source
from pappus.store import FlightStore
from receiving import Kept, LineServer, Start, epoch, free_port, wait_for

LINE = b"N0CALL-11>APRS:!4530.00N/00715.50EO"


class TestTcp:
    def test_lines_are_numbered_and_timed(self, start: Start, kept: Kept, line_server: LineServer) -> None:
        clock_utc = datetime(2026, 6, 14, 10, 15, 3, tzinfo=UTC)
        receiver = start(
            "aprs-text", f"tcp://127.0.0.1:{line_server.port}", clock=lambda: clock_utc, last_counter=lambda name: 41
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

    def test_the_epochs_of_epoch(self, start: Start, kept: Kept, line_server: LineServer) -> None:
        start("nmea", f"tcp://127.0.0.1:{line_server.port}?hello=%3Fsend", role="vehicle")
        wait_for(lambda: line_server.clients, "client")
        line_server.clients[0].settimeout(5)
        assert line_server.clients[0].recv(100) == b"?send\r\n"
        line_server.send(epoch(1) + epoch(2))
        wait_for(lambda: len(kept.heard) == 2, "two epochs")
        assert kept.raws == [epoch(1), epoch(2)]
        found = parse("nmea", kept.heard[0].raw, kept.heard[0].heard_utc)
        assert not isinstance(found, NotUnderstood)
        assert found[0].time_quality == "full"
        assert kept.heard[0].role == "vehicle"

    def test_what_was_begun_is_kept_when_the_connection_breaks(
        self, start: Start, kept: Kept, line_server: LineServer
    ) -> None:
        start("nmea", f"tcp://127.0.0.1:{line_server.port}")
        wait_for(lambda: line_server.clients, "client")
        line_server.clients[0].sendall(epoch(1))
        line_server.clients[0].shutdown(socket.SHUT_WR)
        wait_for(lambda: kept.heard, "packet")
        assert kept.raws == [epoch(1)]

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
        source = TcpSource(TcpAddress("127.0.0.1", line_server.port), silence_s=0.3)
        desk = Desk(setting, kept.take, 0, lambda: datetime.now(UTC), 0)
        with pytest.raises(ConnectionError, match="silent"):
            source.run(desk)


class TestWithAStore:
    def test_a_receiver_counts_on_after_a_restart(self, start: Start, line_server: LineServer, tmp_path: Path) -> None:
        address = f"tcp://127.0.0.1:{line_server.port}"
        for run in (0, 1):
            with FlightStore.open(tmp_path / "flight.store", laptop="trial") as store:
                receiver = start("aprs-text", address, "mast", take=store.take, last_counter=store.last_counter)
                wait_for(lambda run=run: len(line_server.clients) > run, "client")
                line_server.clients[run].sendall(b"".join(LINE + b"%d\n" % n for n in range(3)))
                wait_for(lambda run=run, store=store: store.count() == 3 * (run + 1), "packets on the disk")
                assert receiver.stop()
                assert sorted(heard.counter for heard in store.packets()) == list(range(1, 3 * (run + 1) + 1))


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

    @pytest.mark.parametrize("packets", [0, 1])
    def test_waits_grow_until_a_packet_has_come(self, kept: Kept, packets: int) -> None:
        class Closing(Source):
            again = True

            def run(self, desk: Desk) -> None:
                desk.opened()
                for _ in range(packets):
                    desk.packet(LINE)

        setting = ReceiverSetting("trial", "ground station", "aprs-text", "udp://127.0.0.1:1")
        receiver = Receiver(setting, Closing(), kept.take, last_counter=0, clock=lambda: datetime.now(UTC), seed=1)
        receiver.start()
        wait_for(lambda: receiver.state().connections >= 4, "four connections")
        wait_for(lambda: receiver.state().retry_in_s is not None, "waiting")
        wait_s = receiver.state().retry_in_s
        assert receiver.stop()
        assert wait_s is not None
        # the fourth wait is 2 to 4 s where they double, 0.25 to 0.5 s where a packet has come each time
        assert (wait_s > 1.0) == (packets == 0)

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
            sender.sendto(epoch(1), ("127.0.0.1", port))
            sender.sendto(b"", ("127.0.0.1", port))
            sender.sendto(b"x" * 20_000, ("127.0.0.1", port))
            sender.sendto(epoch(2), ("127.0.0.1", port))
        wait_for(lambda: len(kept.heard) == 2, "two packets")
        assert kept.raws == [epoch(1), epoch(2)]
        assert receiver.state().dropped == 2

    def test_sentences_in_datagrams_of_their_own_are_put_together(self, start: Start, kept: Kept) -> None:
        port = free_port(socket.SOCK_DGRAM)
        receiver = start("nmea", f"udp://127.0.0.1:{port}", role="vehicle")
        wait_for(lambda: receiver.state().phase == "connected", "listening")
        with (
            socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one,
            socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other,
        ):
            for second in (1, 2):
                for mine, its in zip(epoch(second).splitlines(), epoch(second + 20).splitlines(), strict=True):
                    one.sendto(mine, ("127.0.0.1", port))
                    other.sendto(its, ("127.0.0.1", port))
        wait_for(lambda: len(kept.heard) == 4, "the epochs of both")
        assert sorted(kept.raws) == [epoch(1), epoch(2), epoch(21), epoch(22)]

    def test_a_port_in_use_is_waited_for(self, start: Start) -> None:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as taken:
            taken.bind(("127.0.0.1", 0))
            receiver = start("nmea", f"udp://127.0.0.1:{taken.getsockname()[1]}")
            wait_for(lambda: receiver.state().phase == "waiting", "waiting")
            assert "in use" in receiver.state().last_error
        wait_for(lambda: receiver.state().phase == "connected", "listening")


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
            os.write(master, epoch(second)[:30])
            os.write(master, epoch(second)[30:])
        wait_for(lambda: len(kept.heard) == 3, "three epochs")
        assert kept.raws == [epoch(1), epoch(2), epoch(3)]

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
