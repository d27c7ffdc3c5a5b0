"""Packets by HTTP POST: kept before the answer, bad ones refused with the reason."""

from __future__ import annotations

import contextlib
import http.client
import json
import socket
import threading
import time
from typing import Any

import pytest

from receiving import Kept, Start, free_port, wait_for

LINE = b"N0CALL-11>APRS:!4530.00N/00715.50EO"
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

    def test_a_packet_that_is_being_kept_at_the_end_still_gets_its_answer(self, port: int, kept: Kept) -> None:
        kept.hold.clear()
        answers: list[int] = []
        thread = threading.Thread(target=lambda: answers.append(self.post(port, json.dumps(PACKET).encode())[0]))
        thread.start()
        wait_for(lambda: self.receiver.state().last_heard_age_s is not None, "packet at the desk")
        threading.Timer(0.3, kept.hold.set).start()
        assert self.receiver.stop()
        thread.join(10)
        assert answers == [200]
        assert len(kept.heard) == 1

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

    def test_many_at_once_get_a_number_each(self, port: int, kept: Kept) -> None:
        answers: list[tuple[int, dict[str, Any]]] = []
        body = json.dumps(PACKET).encode()
        threads = [threading.Thread(target=lambda: answers.append(self.post(port, body))) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(30)
        assert sorted(answer["kept"] for _, answer in answers) == list(range(1, 9))
        assert sorted(heard.counter for heard in kept.heard) == list(range(1, 9))

    @pytest.mark.parametrize(
        "noise",
        [b"\0\xff" * 50, b"GET", b"POST /packets HTTP/9.9\r\n\r\n", b"POST " + b"x" * 70_000, b"a: b\r\n" * 300],
    )
    def test_noise_does_not_end_the_server(self, port: int, kept: Kept, noise: bytes) -> None:
        with socket.create_connection(("127.0.0.1", port), 10) as connection, contextlib.suppress(OSError):
            connection.sendall(noise)
            connection.shutdown(socket.SHUT_WR)
            connection.recv(1000)
        assert self.post(port, json.dumps(PACKET).encode())[0] == 200

    def test_senders_that_say_nothing_do_not_hold_others(self, port: int, kept: Kept) -> None:
        with contextlib.ExitStack() as silent:
            for _ in range(10):
                silent.enter_context(socket.create_connection(("127.0.0.1", port), 10))
            assert self.post(port, json.dumps(PACKET).encode())[0] == 200
