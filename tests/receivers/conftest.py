"""Receivers, programs and servers that are stopped when a test ends."""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from pappus.sources.receivers import Receiver, ReceiverSetting, receivers_from
from receiving import INSTALL, PATIENCE_S, Kept, LineServer, Start, end


@pytest.fixture
def kept() -> Kept:
    return Kept()


@pytest.fixture
def start(kept: Kept) -> Iterator[Start]:
    """Start a receiver; all are stopped at the end, and must stop."""
    started: list[Receiver] = []

    def one(kind: Any, address: str, name: str = "trial", **options: Any) -> Receiver:
        setting_options = {key: options.pop(key) for key in ("password", "role") if key in options}
        role = setting_options.pop("role", "ground station")
        setting = ReceiverSetting(name, role, kind, address, **setting_options)
        (receiver,) = receivers_from([setting], options.pop("take", kept.take), **options)
        receiver.start()
        started.append(receiver)
        return receiver

    yield one
    kept.hold.set()
    for receiver in started:
        assert receiver.stop(PATIENCE_S), f"{receiver.setting.name} does not stop"


@pytest.fixture
def program(tmp_path: Path) -> Iterator[Callable[..., subprocess.Popen[bytes]]]:
    """Start an installed program or skip with the line that installs it; it and its children are ended."""
    with contextlib.ExitStack() as ending:

        def run(package: str, name: str, *arguments: str, **options: Any) -> subprocess.Popen[bytes]:
            # Debian keeps servers out of the path of ordinary users
            path = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
            if path is None:
                pytest.skip(f"{name} is not here: {INSTALL.format(package)}")
            log = ending.enter_context((tmp_path / f"{name}.out").open("wb"))
            process = subprocess.Popen(
                [path, *arguments], stdout=log, stderr=subprocess.STDOUT, start_new_session=True, **options
            )
            ending.callback(end, process)
            return process

        yield run


@pytest.fixture
def line_server() -> Iterator[LineServer]:
    server = LineServer()
    server.open()
    yield server
    server.close()
