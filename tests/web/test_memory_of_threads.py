"""What threads have freed is shared: counted by the GNU C library itself, in processes of their own."""

from __future__ import annotations

import platform
import subprocess
import sys
from pathlib import Path

import pytest

COUNT = """
import ctypes, sys, threading
from pappus.web._run import spare_memory
if sys.argv[2] == "spared":
    assert spare_memory()
ready = threading.Barrier(8)
def work():
    ready.wait()
    for _ in range(20):
        kept = [bytearray(60_000) for _ in range(100)]
threads = [threading.Thread(target=work) for _ in range(8)]
[one.start() for one in threads]
[one.join() for one in threads]
libc = ctypes.CDLL(None)
libc.fopen.restype = ctypes.c_void_p
file = ctypes.c_void_p(libc.fopen(sys.argv[1].encode(), b"w"))
libc.malloc_info(0, file)
libc.fclose(file)
"""


def arenas(folder: Path, how: str) -> int:
    told = folder / how
    subprocess.run([sys.executable, "-c", COUNT, str(told), how], check=True, timeout=60)
    return told.read_text("utf-8").count("<heap nr=")


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="not the GNU C library")
def test_threads_share_what_they_free(tmp_path: Path) -> None:
    assert arenas(tmp_path, "as it is") > 2
    assert arenas(tmp_path, "spared") <= 2
