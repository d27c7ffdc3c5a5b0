"""Run the full counts of what the project claims and write docs/verification.md: ``make evidence``.

Everything in that file comes from this command; nothing is written by hand. Recorded flights are read from
``../shared`` beside the checkout; without it their part says so.
"""

from __future__ import annotations

import os
import platform
import re
import shutil
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).parents[1]
SHARED = ROOT.parent / "shared"
SEED = 1
COMMAND = [sys.executable, "-m", "pappus.cli"]


def run(command: list[str], cwd: Path = ROOT) -> tuple[int, str, float]:
    """Exit code, output and seconds of a command."""
    start = time.perf_counter()
    environment = os.environ | {"COLUMNS": "110", "NO_COLOR": "1"}
    result = subprocess.run(command, cwd=cwd, capture_output=True, text=True, check=False, env=environment)
    return result.returncode, result.stdout + result.stderr, time.perf_counter() - start


def header() -> list[str]:
    """What ran, where and when."""
    commit = run(["git", "rev-parse", "--short", "HEAD"])[1].strip() or "none"
    dirty = run(["git", "status", "--porcelain"])[1].strip()
    return [
        "# Verification",
        "",
        "Written by `make evidence`; not edited by hand.",
        "",
        f"- commit {commit}{' with uncommitted changes' if dirty else ''}, {datetime.now(UTC):%Y-%m-%d %H:%M} UTC",
        f"- {platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, seed {SEED}",
        "",
    ]


def demo(folder: Path) -> list[str]:
    """The built-in example, twice: exit codes and the time of the second run."""
    first, second = (run([*COMMAND, "demo", "trial"], folder) for _ in range(2))
    times = sorted(run([*COMMAND, "demo", "trial"], folder)[2] for _ in range(5))
    files = ", ".join(sorted(path.name for path in (folder / "trial" / "briefing").iterdir()))
    return [
        "## The built-in example",
        "",
        f"`pappus demo` ends with exit {first[0]} and again {second[0]}; the briefing folder holds {files}.",
        f"Six later runs: median {times[2]:.2f} s, slowest {times[-1]:.2f} s, as a whole process on this machine.",
        "",
        "```",
        *first[1].splitlines()[:5],
        "```",
        "",
    ]


def tests(title: str, *selection: str) -> list[str]:
    """One part of the tests, counted."""
    code, output, _ = run([sys.executable, "-m", "pytest", "-q", "-n", "2", "-p", "no:cacheprovider", *selection])
    last = re.sub(r" in [\d.:s ()]+", "", output.strip().splitlines()[-1]).strip("= ")
    return [f"| {title} | {last} | {code} |"]


def recorded() -> list[str]:
    """The table of real-data errors."""
    lines = ["## Recorded flights along their own winds", ""]
    if not (SHARED / "data" / "sondes").is_dir():
        return [*lines, "Not run: no recorded flights beside this checkout.", ""]
    _, output, _ = run([*COMMAND, "verify", str(SHARED / "data" / "sondes")])
    table = [line.rstrip() for line in output.splitlines()]
    return [*lines, "`pappus verify ../shared/data/sondes`", "", "```", *table, "```", ""]


def main() -> None:
    """Run everything; write the file at the end, whole."""
    folder = Path(tempfile.mkdtemp(prefix="pappus-evidence-"))
    try:
        lines = header() + demo(folder)
    finally:
        shutil.rmtree(folder)
    lines += ["## Tests by what they show", "", "| what | result | exit |", "|--|--|--|"]
    lines += tests("check values: standards, tables, worked examples", "tests/references")
    lines += tests("briefings on real soundings (BUFR, archive text, CSV)", "tests/cli/test_commands.py")
    lines += tests("mistakes: exit 2, one message, nothing half-written", "tests/cli/test_mistakes.py")
    lines += tests("recorded flights", "tests/replay")
    lines += tests("everything", "tests")
    lines += ["", *recorded()]
    (ROOT / "docs" / "verification.md").write_text("\n".join(lines), encoding="utf-8")
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
