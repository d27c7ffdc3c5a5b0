"""``python -m pappus.cli`` is the same as the ``pappus`` command."""

from pappus.cli import main

main()
