"""The table of real-data errors as a page of a terminal."""

from __future__ import annotations

from rich.console import RenderableType

from pappus.cli._tables import grid_table, list_of
from pappus.postflight import Verification


def verify_page(result: Verification) -> list[RenderableType]:
    """A row for each flight; then what could not be judged and why."""
    table = grid_table(
        "Recorded flights carried along their own measured winds",
        "flight", "leg", "top km", "time min", "drift km", "end off by m", "largest m",
    )  # fmt: skip
    for row in result.drift:
        table.add_row(
            f"{row.flight} {row.release:%Y-%m-%d %H:%MZ}",
            row.leg,
            f"{row.top_msl_m / 1000:.1f}",
            f"{row.seconds / 60:.0f}",
            f"{row.drift_m / 1000:.1f}",
            f"{row.end_error_m:.0f}",
            f"{row.largest_error_m:.0f}",
        )
    page: list[RenderableType] = [table] if result.drift else ["No flight in this folder can be judged."]
    return [*page, *([list_of("Not judged", result.left_out)] if result.left_out else [])]
