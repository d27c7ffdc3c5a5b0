"""The power goes at any moment: what was acknowledged is on the disk, by the system calls of a real process."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pappus.store import FlightStore
from store.power_cuts import TRACED, Disk

TAKES = """
import os, sys
from datetime import UTC, datetime, timedelta
from pappus.store import FlightStore
from pappus.tracking import received
with FlightStore.open(sys.argv[1]) as store:
    for counter in range(int(sys.argv[2])):
        at = datetime(2026, 6, 1, 4, 30, tzinfo=UTC) + timedelta(seconds=counter)
        store.take(received("hill", counter, at, "nmea", b"%d " % counter * int(sys.argv[3])))
        os.write(1, b"%d" % counter)
"""


def trace(folder: Path, packets: int, length: int) -> Path:
    """The system calls of a process that takes packets, or a skip."""
    if shutil.which("strace") is None:
        pytest.skip("strace is not here, which tells when a process syncs")
    log = folder / "calls.txt"
    (folder / "flight").mkdir()
    command = ["strace", "-f", "-y", "-xx", "-s", "10000000", "-e", f"trace={TRACED}", "-o", str(log), sys.executable]
    command += ["-c", TAKES, str(folder / "flight" / "a"), str(packets), str(length)]
    child = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    if child.returncode:
        pytest.skip(f"strace may not trace here ({child.stderr.strip()[-200:]})")
    return log


# short packets stay in the log; of long ones the log is folded into the file more than once
@pytest.mark.parametrize(("packets", "length"), [(12, 60), (200, 3000)])
def test_the_power_goes_at_any_moment(tmp_path: Path, packets: int, length: int) -> None:
    """After each acknowledgement: only what was synced, and that with any part of what was not."""
    log = trace(tmp_path, packets, length)
    chance = random.Random(11)
    disk = Disk(tmp_path / "flight")
    acknowledged = 0
    with log.open() as lines:
        for told in disk.feed(lines):
            assert told == b"%d" % acknowledged
            acknowledged += 1
            if packets > 20 and chance.random() > 0.08:
                continue
            for kept in (None, chance):
                folder = tmp_path / "after"
                folder.mkdir()
                disk.cut(folder, kept)
                with FlightStore.open(folder / "a") as store:
                    counters = [packet.counter for packet in store.packets()]
                assert counters == list(range(acknowledged))
                shutil.rmtree(folder)
    assert acknowledged == packets


def test_the_power_goes_between_acknowledgements(tmp_path: Path) -> None:
    """At every system call: the file opens, is whole, and holds what was acknowledged before."""
    log = trace(tmp_path, 6, 60)
    chance = random.Random(12)
    disk = Disk(tmp_path / "flight")
    acknowledged = opened = 0
    for number, line in enumerate(log.read_text().splitlines()):
        acknowledged += len(list(disk.feed([line])))
        if str(tmp_path / "flight").encode().hex() not in line.replace("\\x", ""):
            continue
        folder = tmp_path / f"after {number}"
        folder.mkdir()
        disk.cut(folder, chance)
        with FlightStore.open(folder / "a") as store:
            assert acknowledged <= store.count() <= acknowledged + 1
        opened += 1
        shutil.rmtree(folder)
    assert acknowledged == 6
    assert opened > 30


TAKES_FROM_A_BAD_DISK = """
import os, sys
from datetime import UTC, datetime, timedelta
from pappus.store import FlightStore, NotSafe
from pappus.tracking import received
store = FlightStore.open(sys.argv[1])
for counter in range(12):
    at = datetime(2026, 6, 1, 4, 30, tzinfo=UTC) + timedelta(seconds=counter)
    try:
        store.take(received("hill", counter, at, "nmea", b"%d " % counter * 60))
    except NotSafe as error:
        assert "I/O" in str(error), error
        print("refused", counter)
    else:
        print("safe", counter)
print("waiting", len(store.waiting()))
try:
    store.close()
except NotSafe as error:
    print("left", error)
"""


@pytest.mark.parametrize("when", ["5..7", "6", "5+"])
def test_a_disk_that_fails_to_sync(tmp_path: Path, when: str) -> None:
    """The error (EIO) is put into the sync calls of a real process: for a while, once, or for good."""
    if shutil.which("strace") is None:
        pytest.skip("strace is not here, which makes a sync fail")
    FlightStore.open(tmp_path / "a").close()
    # counted thread by thread: opening needs fewer than five, so the writer is hit
    command = ["strace", "-f", "-qq", "-e", "trace=fdatasync", "-e", f"inject=fdatasync:error=EIO:when={when}"]
    command += ["-o", os.devnull, sys.executable, "-c", TAKES_FROM_A_BAD_DISK, str(tmp_path / "a")]
    child = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    if child.returncode:
        assert "Traceback" not in child.stderr, child.stderr
        pytest.skip(f"strace may not trace here ({child.stderr.strip()[-200:]})")
    told = [line.split(maxsplit=1) for line in child.stdout.splitlines()]
    safe = {int(rest) for word, rest in told if word == "safe"}
    refused = {int(rest) for word, rest in told if word == "refused"}
    assert safe | refused == set(range(12))
    assert refused
    with FlightStore.open(tmp_path / "a") as store:
        found = {packet.counter for packet in store.packets()}
    assert found >= safe
    if "+" not in when:
        assert found == set(range(12)), "what was refused was tried again and came to the disk"
