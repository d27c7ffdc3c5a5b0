"""How a rehearsal is started from page Watch; the pictures of the desk start theirs by it too."""

from __future__ import annotations

from typing import Any

PATIENCE_S = 150.0


def start_rehearsal(page: Any, times_life: int, number: int, *faults: str) -> None:
    """Fills in the form of page Watch once it is there and sends it off.

    :param page: page Watch in the browser.
    :param times_life: How many times as fast as life, 1 to 200.
    :param number: The number of the flight: the same number gives the same flight.
    :param faults: What goes wrong, in the words of the form; at least one.
    """
    page.get_by_label("Times as fast as life").fill(str(times_life), timeout=1000 * PATIENCE_S)
    page.get_by_label("Number of the flight").fill(str(number))
    page.get_by_label("chosen").check()
    for fault in faults:
        page.get_by_label(fault).check()
    page.get_by_role("button", name="Start the rehearsal").click()
