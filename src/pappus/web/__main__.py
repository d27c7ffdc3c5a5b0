"""``python -m pappus.web --openapi`` prints the OpenAPI document from which the types of the front end are made."""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

from pappus.web._app import create_app
from pappus.web._run import PORT, run_desk
from pappus.web.desk import Desk


def main() -> None:
    """Print the document, or serve a plan while pages are being written."""
    parser = argparse.ArgumentParser(prog="python -m pappus.web")
    parser.add_argument("plan", nargs="?", type=Path, default=Path("flight.toml"))
    parser.add_argument("--openapi", action="store_true", help="print the OpenAPI document and end")
    parser.add_argument("--port", type=int, default=PORT)
    parser.add_argument("--share", action="store_true")
    parser.add_argument("--static", type=Path, help="folder of a front end that was built elsewhere")
    given = parser.parse_args()
    if given.openapi:
        with tempfile.TemporaryDirectory() as folder:
            document = create_app(Desk(Path(folder) / "flight.toml")).openapi()
        sys.stdout.write(json.dumps(document, indent=1, sort_keys=True) + "\n")
        return
    run_desk(given.plan, port=given.port, share=given.share, browser=False, static=given.static)


if __name__ == "__main__":
    main()
