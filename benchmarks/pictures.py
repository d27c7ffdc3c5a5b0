"""Make the pictures that README.md shows, from the built-in example: ``make pictures``."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
SHOWN = ("map.png", "height-time.png", "wind-profile.png")


def main() -> None:
    """Fly the example in a folder of its own and keep its pictures."""
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([sys.executable, "-m", "pappus.cli", "demo", "trial"], cwd=folder, check=True)
        for name in SHOWN:
            shutil.copy(Path(folder) / "trial" / "briefing" / name, ROOT / "docs" / "pictures" / name)


if __name__ == "__main__":
    main()
