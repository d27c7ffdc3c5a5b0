"""Receivers against programs that crews use: an MQTT broker, a packet modem hearing audio, a GNSS server.

Each test skips with the line that installs its program where that is not here. They listen on loopback only.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from pappus.sources.receivers import NotUnderstood, parse
from pappus.sources.receivers._nmea_sentence import checksum
from pappus.tracking import Fix
from pappus.units import foot_m
from receiving import INSTALL, Kept, Start, free_port, wait_for

Program = Callable[..., subprocess.Popen[bytes]]
HEARD_UTC = datetime(2026, 6, 14, 10, 15, 3, tzinfo=UTC)


def listens(port: int) -> bool:
    try:
        with socket.create_connection(("127.0.0.1", port), 1.0):
            return True
    except OSError:
        return False


def fixes(kept: Kept) -> list[Fix]:
    found: list[Fix] = []
    for heard in kept.heard:
        said = parse(heard.kind, heard.raw, HEARD_UTC)
        assert not isinstance(said, NotUnderstood), said.why
        found += said
    return found


class TestMqtt:
    """mosquitto, the broker of the Eclipse project."""

    @pytest.fixture
    def broker(self, program: Program, tmp_path: Path) -> tuple[int, Callable[[], Any]]:
        port = free_port()
        config = tmp_path / "broker.conf"
        config.write_text(f"listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\n", encoding="utf-8")

        def begin() -> subprocess.Popen[bytes]:
            process = program("mosquitto", "mosquitto", "-c", str(config))
            wait_for(lambda: listens(port), "broker")
            return process

        return port, begin

    @staticmethod
    def publish(port: int, topic: str, *payloads: bytes, retain: bool = False) -> None:
        from paho.mqtt import publish

        messages = [{"topic": topic, "payload": payload, "qos": 1, "retain": retain} for payload in payloads]
        publish.multiple(messages, hostname="127.0.0.1", port=port, client_id=f"sender-{os.getpid()}")

    def test_packets_come_from_a_topic(self, broker: tuple[int, Callable[[], Any]], start: Start, kept: Kept) -> None:
        port, begin = broker
        begin()
        receiver = start("json", f"mqtt://127.0.0.1:{port}/box/+/up")
        wait_for(lambda: receiver.state().phase == "connected", "subscription")
        packet = b'{"tracker": "box-1", "latitude_deg": 45.5, "longitude_deg": 7.258, "height_msl_m": 31245.6}'
        self.publish(port, "box/1/up", packet, b"x" * 20_000, b"")
        self.publish(port, "box/2/down", packet)
        self.publish(port, "box/2/up", packet)
        wait_for(lambda: len(kept.heard) == 2, "two packets")
        assert kept.raws == [packet, packet]
        assert fixes(kept)[0].height_msl_m == 31245.6
        wait_for(lambda: receiver.state().dropped == 2, "the large and the empty message")

    def test_a_broker_that_goes_away_is_found_again(
        self, broker: tuple[int, Callable[[], Any]], start: Start, kept: Kept
    ) -> None:
        port, begin = broker
        receiver = start("json", f"mqtt://127.0.0.1:{port}/box")
        wait_for(lambda: receiver.state().phase == "waiting", "waiting")
        process = begin()
        wait_for(lambda: receiver.state().phase == "connected", "subscription")
        process.terminate()
        process.wait(5)
        wait_for(lambda: receiver.state().phase == "waiting", "waiting")
        assert receiver.state().last_error
        begin()
        wait_for(lambda: receiver.state().phase == "connected", "subscription")
        self.publish(port, "box", b'{"fix": "none"}')
        wait_for(lambda: kept.heard, "packet")

    def test_a_packet_that_was_not_kept_comes_again(
        self, broker: tuple[int, Callable[[], Any]], start: Start, kept: Kept
    ) -> None:
        port, begin = broker
        begin()
        kept.broken = True
        first = start("json", f"mqtt://127.0.0.1:{port}/box", "mast")
        wait_for(lambda: first.state().phase == "connected", "subscription")
        self.publish(port, "box", b'{"fix": "none"}')
        wait_for(lambda: "disk full" in first.state().last_error, "packet that cannot be kept")
        # the computer goes down before the packet is kept; the broker was not told that we have it
        assert first.stop()
        assert kept.heard == []
        kept.broken = False
        start("json", f"mqtt://127.0.0.1:{port}/box", "mast")
        wait_for(lambda: kept.heard, "packet again")
        assert kept.raws == [b'{"fix": "none"}']

    def test_what_the_broker_kept_from_before_is_not_heard_now(
        self, broker: tuple[int, Callable[[], Any]], start: Start, kept: Kept
    ) -> None:
        port, begin = broker
        begin()
        self.publish(port, "box", b'{"fix": "none"}', retain=True)
        receiver = start("json", f"mqtt://127.0.0.1:{port}/box")
        wait_for(lambda: receiver.state().dropped == 1, "retained message")
        assert "retained" in receiver.state().last_error
        assert kept.heard == []

    def test_a_broker_that_wants_a_password(self, program: Program, tmp_path: Path, start: Start) -> None:
        port = free_port()
        config = tmp_path / "strict.conf"
        config.write_text(f"listener {port} 127.0.0.1\nallow_anonymous false\n", encoding="utf-8")
        program("mosquitto", "mosquitto", "-c", str(config))
        wait_for(lambda: listens(port), "broker")
        receiver = start("json", f"mqtt://crew@127.0.0.1:{port}/box", password="wrong")
        wait_for(lambda: "broker says" in receiver.state().last_error, "refusal in the state")
        assert receiver.state().connections == 0


REPORTS = (
    "N0CALL-11>APRS,WIDE1-1:/101500h4530.00N/00715.50EO092/036/A=102512",
    "N0CALL-11>APRS:!/5L!!<*e7OS]Q",
    'N0CALL-11>S32U6T:`(_fn"Oj/"4T}',
)


class TestPacketModem:
    """Dire Wolf: packets made into audio by its generator, heard by its modem, read from its KISS port."""

    @pytest.fixture
    def audio(self, tmp_path: Path) -> bytes:
        generator = shutil.which("gen_packets")
        if generator is None:
            pytest.skip(f"gen_packets is not here: {INSTALL.format('direwolf')}")
        text = tmp_path / "reports.txt"
        text.write_text("".join(f"{report}\n" for report in REPORTS), encoding="latin-1")
        wave = tmp_path / "reports.wav"
        subprocess.run(
            [generator, "-r", "44100", "-o", str(wave), str(text)], check=True, capture_output=True, timeout=60
        )
        return wave.read_bytes()[44:]  # behind the header of the file

    def test_packets_from_audio(self, audio: bytes, program: Program, tmp_path: Path, start: Start, kept: Kept) -> None:
        port = free_port(below=49_152)  # the modem takes no port of the dynamic range
        config = tmp_path / "modem.conf"
        config.write_text(
            f"ADEVICE stdin null\nACHANNELS 1\nCHANNEL 0\nMYCALL N0CALL\nMODEM 1200\nAGWPORT 0\nKISSPORT {port}\n",
            encoding="utf-8",
        )
        arguments = ("-c", str(config), "-t", "0", "-r", "44100", "-b", "16", "-n", "1", "-")
        modem = program("direwolf", "direwolf", *arguments, stdin=subprocess.PIPE)
        receiver = start("ax25", f"tcp://127.0.0.1:{port}")
        wait_for(lambda: receiver.state().phase == "connected", "modem")
        assert modem.stdin is not None
        # a second of silence lets the modem end the last packet
        modem.stdin.write(audio + bytes(2 * 44100))
        modem.stdin.flush()
        wait_for(lambda: len(kept.heard) == 3, "three packets")
        found = fixes(kept)
        assert [fix.tracker for fix in found] == ["N0CALL-11"] * 3
        assert found[0].extra["path"] == "WIDE1-1"
        assert found[0].time_utc == datetime(2026, 6, 14, 10, 15, tzinfo=UTC)
        # what the modem says itself of the positions, to its four decimals of a minute, and heights in whole feet
        said = re.findall(
            r"([NS]) (\d+) ([\d.]+), ([EW]) (\d+) ([\d.]+).*alt (\d+) ft",
            (tmp_path / "direwolf.out").read_text("latin-1"),
        )
        assert len(said) == 3
        for fix, (n, lat, lat_minutes, e, lon, lon_minutes, height_ft) in zip(found, said, strict=True):
            latitude_deg = (int(lat) + float(lat_minutes) / 60) * (-1 if n == "S" else 1)
            longitude_deg = (int(lon) + float(lon_minutes) / 60) * (-1 if e == "W" else 1)
            assert fix.latitude_deg == pytest.approx(latitude_deg, abs=1e-6)
            assert fix.longitude_deg == pytest.approx(longitude_deg, abs=1e-6)
            assert fix.height_msl_m == pytest.approx(int(height_ft) * foot_m, abs=0.6 * foot_m)


class TestGnssServer:
    """gpsd, fed by its own replay program with sentences made here, asked for the sentences as they are."""

    def test_the_sentences_of_a_receiver(self, program: Program, tmp_path: Path, start: Start, kept: Kept) -> None:
        sentences = tmp_path / "drive.nmea"
        lines = []
        for second in range(10, 50):
            clock, minutes = f"1015{second}.00", f"4530.{second:04d}"
            lines.append(f"GPGGA,{clock},{minutes},N,00715.5000,E,1,11,0.80,{900 + second}.5,M,48.2,M,,")
            lines.append(f"GPRMC,{clock},A,{minutes},N,00715.5000,E,18.5,092.3,140626,,,A")
        sentences.write_text("".join(f"${line}*{checksum(line.encode()):02X}\r\n" for line in lines), encoding="ascii")
        if shutil.which("gpsd", path=f"{os.environ.get('PATH', '')}:/usr/sbin") is None:
            pytest.skip(f"gpsd is not here: {INSTALL.format('gpsd gpsd-clients gpsd-tools')}")
        port = free_port()
        program("gpsd gpsd-clients gpsd-tools", "gpsfake", "-q", "-n", "-c", "0.02", "-P", str(port), str(sentences))
        receiver = start("nmea", f"gpsd://127.0.0.1:{port}", role="vehicle")

        def whole() -> list[Fix]:
            # where the replay falters between the two sentences of an epoch they come as two packets
            return [fix for fix in fixes(kept) if fix.height_msl_m is not None and fix.time_quality == "full"]

        wait_for(lambda: len(whole()) >= 10, "ten epochs")
        assert receiver.stop()
        for fix in whole():
            assert fix.time_utc is not None
            assert fix.time_utc.replace(second=0) == datetime(2026, 6, 14, 10, 15, tzinfo=UTC)
            assert fix.latitude_deg == pytest.approx(45.5 + fix.time_utc.second / 1e4 / 60, abs=1e-9)
            assert fix.height_msl_m == 900.5 + fix.time_utc.second
            assert fix.speed_m_s == pytest.approx(18.5 * 1852 / 3600)
        # what the server says of itself is no sentence
        assert receiver.state().dropped >= 1


def test_receivers_end_with_their_threads(start: Start) -> None:
    before = {thread.ident for thread in threading.enumerate()}
    receivers = [start("aprs-text", f"tcp://127.0.0.1:{free_port()}", f"r{n}") for n in range(5)]
    for receiver in receivers:
        assert receiver.stop()
    assert {thread.ident for thread in threading.enumerate()} <= before
