"""The built wheel in an environment of its own, without Node: the desk serves its pages from it.

python benchmarks/wheel.py
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import urllib.request
from pathlib import Path

ROOT = Path(__file__).parents[1]


def free_port() -> int:
    """One that nobody listens on just now."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def run(*command: str | Path, cwd: Path) -> None:
    """Raises if it fails, with what it said."""
    done = subprocess.run([str(part) for part in command], cwd=cwd, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(done.stdout + done.stderr)


def main() -> None:
    """Build, install, serve, read the page and everything that it names."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        run(sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", folder, ROOT, cwd=folder)
        (wheel,) = folder.glob("pappus-*.whl")
        run(sys.executable, "-m", "venv", folder / "empty", cwd=folder)
        programs = folder / "empty" / "bin"
        run(programs / "python", "-m", "pip", "install", "--quiet", wheel, cwd=folder)
        # nothing of this machine is on the path
        bare = {"PATH": str(programs), "HOME": place, "LANG": "C.UTF-8", "PYTHONUNBUFFERED": "1"}
        node = shutil.which("node", path=bare["PATH"])
        listed = subprocess.run(
            [str(programs / "python"), "-m", "pip", "list"], env=bare, capture_output=True, text=True, check=True
        ).stdout
        print(
            f"- {wheel.name}: {wheel.stat().st_size / 1e6:.1f} MB; Node on the path: {node or 'none'}; "
            f"packages with Node in their name: {len(re.findall('(?i)node', listed))}"
        )
        run(programs / "pappus", "plan", "new", "flight.toml", cwd=folder)
        command = [str(programs / "pappus"), "desk", "flight.toml", "--port", str(free_port()), "--no-browser"]
        desk = subprocess.Popen(
            command, cwd=folder, env=bare, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        )  # fmt: skip
        try:
            assert desk.stdout is not None
            said, found = "", None
            while found is None and (line := desk.stdout.readline()):
                said += line
                found = re.search(r"http://[\d.:]+", said)
            assert found, said
            page = urllib.request.urlopen(f"{found[0]}/").read().decode()
            parts = re.findall(r'(?:src|href)="([^"]+\.(?:js|css|svg))"', page)
            sizes = [len(urllib.request.urlopen(f"{found[0]}/{part.lstrip('./')}").read()) for part in parts]
            print(f"- `pappus desk` serves its page and the {len(parts)} files it names, {sum(sizes) / 1000:.0f} kB")
        finally:
            desk.terminate()
            desk.wait(timeout=20)


if __name__ == "__main__":
    os.umask(0o022)
    main()
