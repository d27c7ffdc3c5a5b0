"""Run the command as a crew does: a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture
def pappus(tmp_path: Path) -> Run:
    """``pappus("brief", "flight.toml", ...)`` in a fresh folder; never raises, the caller looks at the exit code."""

    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "pappus.cli", *arguments],
            cwd=tmp_path, capture_output=True, text=True, timeout=120, check=False,
            env=os.environ | {"COLUMNS": "110", "NO_COLOR": "1"},
        )  # fmt: skip

    return run
