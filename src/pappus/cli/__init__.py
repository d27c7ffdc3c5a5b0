"""The command line. ``main`` turns every error that pappus raises on purpose into one message and exit code 2."""

from __future__ import annotations

import os
import sys

__all__ = ["main"]


def main() -> None:
    """Entry point of the ``pappus`` command."""
    # flights have threads of their own; those of the matrix library only wait for each other when the machine is busy
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from pappus.cli._commands import app
    from pappus.errors import PappusError

    try:
        app()
    except PappusError as error:
        from pappus.cli._screen import show_error

        show_error(error)
        sys.exit(2)
