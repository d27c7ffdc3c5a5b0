"""The tools of the pages: strict types, made anew from the desk's own OpenAPI document, and the tests in TypeScript."""

from __future__ import annotations

import re

from page_tools import ROOT, tool


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
