"""The verification as a page: a row for each flight, then what could not be judged and why."""

from __future__ import annotations

from pappus.export import Grid, Page, Section, Sentences
from pappus.postflight._verify import Verification


def verification_page(result: Verification) -> Page:
    """The table of real-data errors."""
    rows = tuple(
        (
            f"{row.flight} {row.release:%Y-%m-%d %H:%MZ}",
            row.leg,
            f"{row.top_msl_m / 1000:.1f}",
            f"{row.seconds / 60:.0f}",
            f"{row.drift_m / 1000:.1f}",
            f"{row.end_error_m:.0f}",
            f"{row.largest_error_m:.0f}",
        )
        for row in result.drift
    )
    columns = ("flight", "leg", "top km", "min", "drift km", "end off by m", "largest m")
    sections: list[Section] = [Grid("", columns, rows)] if rows else []
    if result.left_out:
        sections.append(Sentences("Not judged", result.left_out))
    count = f"{len(result.drift)} recorded flights carried along their own measured winds"
    return Page((f"{count}, {len(result.left_out)} not judged.",), "", tuple(sections), "")
