"""The command line. ``main`` turns every error that pappus raises on purpose into one message and exit code 2."""

from __future__ import annotations

import sys

__all__ = ["main"]


def main() -> None:
    """Entry point of the ``pappus`` command."""
    from pappus.cli._app import app
    from pappus.errors import PappusError

    try:
        app()
    except PappusError as error:
        from pappus.cli._screen import show_error

        show_error(error)
        sys.exit(2)
