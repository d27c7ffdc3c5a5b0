"""What a server may do wrong, one by one: recovered, or refused with a line that says why. Then a sample at random."""

from __future__ import annotations

import tracemalloc
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from oracle.centre_arms import ARMS
from oracle.centre_faults import CENTRES, RULES, Arm, later, missing_on_disk, outcome, run_of, wish_of, wrong_on_disk
from oracle.centre_server import NEVER, CentreServer, Fault
from pappus.errors import OutOfRange
from pappus.sources import DownloadRules, NotFetched, fetch, plan_fetch
from pappus.sources.centres._answer import unpacked
from pappus.sources.centres._http import Downloader
from pappus.sources.centres._rules import Again, Changed, NotPublished
from sources.grib_writer import sections

DATA, INDEX = "*f003", "*f003.idx"


def fetched(server: CentreServer, folder: Path, **rules: Any) -> list[float]:
    """Plan and fetch the run of the US model; gives the pauses it made."""
    pauses: list[float] = []
    chosen = DownloadRules(**{**{name: getattr(RULES, name) for name in RULES.__dataclass_fields__}, **rules})
    plan = plan_fetch(wish_of("gfs", run=server_run()), base_url=server.url, rules=chosen, sleep=pauses.append)
    fetch(plan, folder, rules=chosen, sleep=pauses.append)
    assert wrong_on_disk(folder, "gfs") == missing_on_disk(folder, "gfs") == ""
    return pauses


def server_run() -> Any:
    return run_of("gfs").run


RECOVERED = (
    Fault("busy", DATA, 2),
    Fault("busy", INDEX, 2),
    Fault("too many", DATA, 2, 1),
    Fault("failed", DATA, 2, 2),
    Fault("silent", DATA, 2, 1, 5.0),
    Fault("silent", INDEX, 2, 0, 5.0),
    Fault("stalled", DATA, 2, 1, 5.0),
    Fault("drip", DATA, 1, 1, 0.05),
    Fault("reset", DATA, 2, 1),
    Fault("cut", DATA, 2, 1),
    Fault("cut", INDEX, 2),
    Fault("short", DATA, 2, 1),
    Fault("long", DATA, 2, 1),
    Fault("html", DATA, 2, 1),
    Fault("html", INDEX, 2),
    Fault("html part", DATA, 1, 1),
    Fault("other part", DATA, 2, 1),
    Fault("shifted", DATA, 1, 1),
    Fault("gzip", DATA, 2, 1),
    Fault("gzip", INDEX),
    Fault("deflate", INDEX),
    Fault("bad gzip", INDEX, 2),
    Fault("whole", DATA),
    Fault("chunked", DATA),
)


@pytest.mark.parametrize("fault", RECOVERED, ids=lambda fault: f"{fault.kind} {fault.path} {min(fault.times, 9)}")
def test_what_passes_is_recovered_from(fault: Fault, tmp_path: Path) -> None:
    with CentreServer([run_of("gfs")]) as server:
        server.faults.append(Fault(fault.kind, fault.path, fault.times, fault.skip, fault.value))
        fetched(server, tmp_path)


REFUSED = (
    (Fault("busy", DATA), r"gfs.t06z.pgrb2.0p25.f003: the server is busy \(status 503\) \(3 tries\)"),
    (Fault("busy", DATA, value=3600), "the server is busy .*; it asks for a pause of 3600 s, longer than 120 s"),
    (Fault("failed", INDEX), r"f003: the server failed \(status 500\) \(3 tries\)"),
    (Fault("forbidden", DATA), "the server answers with status 403"),
    (Fault("missing", DATA, skip=2), "it is no longer there as planned .gfs.t06z.pgrb2.0p25.f003 is missing"),
    (Fault("missing", DATA), "run 2026-03-04 06 UTC is not complete yet"),
    (Fault("silent", DATA, value=5.0), "the server was silent for 0.15 s"),
    (Fault("stalled", DATA, value=5.0), "the server was silent for 0.15 s"),
    (Fault("drip", DATA, value=0.05), "the answer was not complete after 0.3 s"),
    (Fault("reset", DATA), "the connection ended early"),
    (Fault("short", DATA, skip=1), "octets came where"),
    (Fault("html", DATA, skip=1), "an HTML page came in place of the file"),
    (Fault("html part", DATA, skip=1), "its index cannot be used: an HTML page came in place of the file"),
    (Fault("shifted", DATA, skip=1), "its index cannot be used: its last record does not end where the file does"),
    (Fault("html", "*.idx"), "its index cannot be used: an HTML page came in its place"),
    (Fault("other part", DATA), "another part of the file came than was asked for"),
    (Fault("gzip", DATA), "the server packed a part of a file"),
    (Fault("bomb", INDEX, value=20), "the answer unpacks to more than 0.3 MB"),
    (Fault("redirect", DATA, value="http://example.org"), "example.org: the server redirects to another host"),
    (Fault("redirect", DATA, value=""), "the server redirects again and again"),
    (Fault("redirect", DATA, value="ftp://127.0.0.1"), "the server redirects to no address"),
)


@pytest.mark.parametrize(("fault", "reason"), REFUSED, ids=lambda item: getattr(item, "kind", ""))
def test_what_stays_is_refused_in_one_line(fault: Fault, reason: str, tmp_path: Path) -> None:
    with CentreServer([run_of("gfs")]) as server:
        server.faults.append(Fault(fault.kind, fault.path, NEVER, fault.skip, fault.value))
        with pytest.raises(NotFetched, match=reason) as error:
            fetched(server, tmp_path)
        assert "\n" not in str(error.value)
        assert wrong_on_disk(tmp_path, "gfs") == ""
        server.faults.clear()
        fetched(server, tmp_path)


def test_pauses_double_and_a_server_may_ask_for_longer_ones(tmp_path: Path) -> None:
    with CentreServer([run_of("gfs")]) as server:
        server.faults.append(Fault("busy", DATA, 3))
        assert fetched(server, tmp_path / "1", attempts=4, first_pause_s=3.0) == [3.0, 6.0, 12.0]
        server.faults.append(Fault("too many", DATA, 2, value=7))
        assert fetched(server, tmp_path / "2", first_pause_s=3.0) == [7.0, 7.0]
        server.faults.append(Fault("busy", DATA, 1, value=later(50.0)))
        (pause,) = fetched(server, tmp_path / "3")
        assert 45.0 < pause <= 50.0


def test_a_file_replaced_between_index_and_data_is_planned_again(tmp_path: Path) -> None:
    with CentreServer([run_of("gfs")]) as server:
        server.faults.append(Fault("replaced", DATA, 1, 2, lambda: server.publish(run_of("gfs", 2), "2")))
        plan = plan_fetch(wish_of("gfs", run=server_run()), base_url=server.url, rules=RULES)
        lines: list[str] = []
        fetch(plan, tmp_path, rules=RULES, step=lines.append)
    assert wrong_on_disk(tmp_path, "gfs", (1, 2)) == missing_on_disk(tmp_path, "gfs") == ""
    assert any("the file was replaced meanwhile: its" in line for line in lines)


def test_a_redirection_to_an_allowed_host_is_followed(tmp_path: Path) -> None:
    with CentreServer([run_of("gfs")]) as server, CentreServer([run_of("gfs")]) as other:
        server.faults.append(Fault("redirect", DATA, value=other.url))
        fetched(server, tmp_path, allowed_hosts=frozenset({other.url.removeprefix("http://")}))
        assert other.log


def test_what_follows_a_question_mark_is_kept() -> None:
    """Stores redirect to signed addresses."""
    with CentreServer() as server:
        server.put("file", 4, lambda: b"here")
        server.files["/file?signed=yes"] = server.files["/file"]
        downloader = Downloader(RULES)
        assert downloader.text(f"{server.url}/file?signed=yes") == b"here"
        downloader.close_all()
        assert server.log[0][0] == "/file?signed=yes"


def test_a_whole_file_is_read_only_so_far(tmp_path: Path) -> None:
    with CentreServer([run_of("gfs")]) as server:
        server.faults.append(Fault("whole", DATA))
        with pytest.raises(NotFetched, match="the server sends whole files only"):
            fetched(server, tmp_path, largest_skip_bytes=3_000)


def test_one_bit_among_the_values_is_found_by_a_second_reading(tmp_path: Path) -> None:
    def flipped(body: bytes) -> bytes:
        octets = bytearray(body)
        octets[-30] ^= 1  # among the packed values of the last message
        return bytes(octets)

    with CentreServer([run_of("gfs")]) as server:
        server.faults.append(Fault("flip", DATA, 1, 1, flipped))
        fetched(server, tmp_path, reread_share=None)  # as it is over plain http unless told otherwise


def test_one_bit_among_the_values_is_not_seen_by_one_reading(tmp_path: Path) -> None:
    """The known limit, and proof that the comparison sees what the fetch does not."""

    def flipped(body: bytes) -> bytes:
        start = body.rfind(b"GRIB")
        at = start + sections(body[start:])[5][0]
        octets = bytearray(body)
        octets[at + 14] ^= 1  # the last bit of the reference value, which all values share
        return bytes(octets)

    arm = Arm("flip", lambda server, centre, rng: server.faults.append(Fault("flip", DATA, 1, 1, flipped)), {})
    result = outcome("gfs", arm, tmp_path, np.random.default_rng(1))
    assert result.end == "wrong"
    assert "are not those of the centre" in result.message


def test_a_server_that_is_not_there() -> None:
    with CentreServer() as server:
        url = server.url
    with pytest.raises(NotFetched, match="the server does not answer"):
        plan_fetch(wish_of("gfs", run=server_run()), base_url=url, rules=RULES, sleep=lambda seconds: None)


def test_a_bomb_is_not_unpacked(tmp_path: Path) -> None:
    """200 MB of zeros in 200 kB: no more than the bound is ever held."""
    with CentreServer([run_of("gfs")]) as server:
        server.faults.append(Fault("bomb", INDEX, value=200))
        downloader = Downloader(DownloadRules(largest_text_bytes=1_000_000))
        with pytest.raises(NotFetched):  # the first answer makes the server's own copy
            downloader.text(f"{server.url}{next(path for path in server.files if path.endswith('f003.idx'))}")
        packer = zlib.compressobj(9, wbits=31)
        packed = b"".join(packer.compress(bytes(1_000_000)) for _ in range(200)) + packer.flush()
        tracemalloc.start()
        with pytest.raises(NotFetched, match="unpacks to more than 1 MB"):
            unpacked(packed, "gzip", 1_000_000, server.url)
        assert tracemalloc.get_traced_memory()[1] < 5_000_000
        tracemalloc.stop()
        downloader.close_all()


def test_parts_of_a_file() -> None:
    """The bounds that the layers above rely on."""
    with CentreServer() as server:
        server.put("file", 1000, lambda: bytes(range(250)) * 4)
        downloader = Downloader(RULES)
        part = downloader.part(f"{server.url}/file", 10, 5)
        assert part.octets == bytes([10, 11, 12, 13, 14])
        assert (part.stamp.size_bytes, part.moved_bytes) == (1000, 5)
        with pytest.raises(NotPublished):
            downloader.part(f"{server.url}/none", 0, 5)
        for start, length in ((990, 20), (2000, 5)):
            with pytest.raises(Changed, match="shorter than its index says"):
                downloader.part(f"{server.url}/file", start, length)
        server.put("file", 1000, lambda: bytes(1000), "2")
        with pytest.raises(Changed, match="its etag is another"):
            downloader.part(f"{server.url}/file", 10, 5, part.stamp)
        small = Downloader(DownloadRules(largest_text_bytes=1000))
        assert len(small.text(f"{server.url}/file")) == 1000
        server.put("larger", 1001, lambda: bytes(1001))
        with pytest.raises(Again, match="more than 1000 octets came"):
            small.text(f"{server.url}/larger")
        downloader.close_all()
        small.close_all()


def test_rules_have_a_range() -> None:
    for change in ({"connections": 0}, {"stall_s": 0.0}, {"reread_share": 1.5}, {"attempts": 0}):
        with pytest.raises(OutOfRange):
            DownloadRules(**change)


@pytest.mark.parametrize("arm", ARMS, ids=lambda arm: arm.name)
def test_a_sample_at_random_never_accepts_wrong_data(arm: Any, tmp_path: Path) -> None:
    """The full count is ``benchmarks/fault_runs.py``."""
    number = [one.name for one in ARMS].index(arm.name)
    rng = np.random.default_rng([20261126, number])
    result = outcome(CENTRES[number % len(CENTRES)], arm, tmp_path, rng)
    assert result.end in ("recovered", "refused", "gap said"), result.message


def test_the_proxy_of_this_computer_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """A proxy gets the whole address in the request line (RFC 9112, 3.2.2); loopback itself is never asked of it."""
    with CentreServer() as server:
        server.put("file", 4, lambda: b"here")
        server.files["http://centre.invalid/file"] = server.files["/file"]
        monkeypatch.setenv("http_proxy", server.url)
        monkeypatch.setenv("no_proxy", "elsewhere.invalid")
        downloader = Downloader(RULES)
        assert downloader.text("http://centre.invalid/file") == b"here"
        assert downloader.text(f"{server.url}/file") == b"here"
        downloader.close_all()
        assert [path for path, _ in server.log] == ["http://centre.invalid/file", "/file"]
