"""The handbook rows that the burst-diameter prior and the drag law were fitted to."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class HandbookRow:
    """One balloon of the table: hydrogen fill, standard launch."""

    mass_g: int
    diameter_release_cm: int
    payload_g: int
    free_lift_g: int
    ascent_m_per_min: int
    max_height_km: int


HANDBOOK_ROWS = tuple(
    HandbookRow(*row)
    for row in (
        (10, 30, 0, 5, 60, 12),
        (30, 50, 0, 60, 150, 13),
        (100, 90, 0, 300, 250, 20),
        (200, 120, 250, 500, 300, 21),
        (350, 130, 250, 600, 300, 26),
        (600, 140, 250, 900, 300, 31),
        (1000, 160, 250, 1100, 300, 34),
        (1500, 180, 1000, 1300, 300, 34),
        (3000, 210, 1000, 1700, 300, 38),
    )
)
"""WMO-No. 8, chapter "Balloon techniques", table "typical balloon performance"; from memory, not re-read. A prior
for balloons without a maker's sheet, never a test of the flight model."""
