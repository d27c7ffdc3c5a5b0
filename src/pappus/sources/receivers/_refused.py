"""What a parser says of a packet that it cannot use, and the one check that all positions pass."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class NotUnderstood:
    """A packet that gives no fix: ``why`` says it in words for a person."""

    why: str


class Refused(ValueError):
    """Raised inside the parsers of this room; never leaves ``parse``."""


def degrees_as_sent(latitude_deg: float, longitude_deg: float) -> tuple[float, float] | None:
    """The position, or None for 0, 0.

    Senders without a fix write zeros; the real point lies in the Gulf of Guinea, so it is taken as no position.
    Raises Refused where the numbers are no position at all.
    """
    # written so that NaN is refused as well
    if not -90.0 <= latitude_deg <= 90.0:
        raise Refused(f"latitude {latitude_deg:g} is outside -90 to 90")
    if not -180.0 <= longitude_deg <= 180.0:
        raise Refused(f"longitude {longitude_deg:g} is outside -180 to 180")
    if latitude_deg == 0.0 and longitude_deg == 0.0:
        return None
    return latitude_deg, longitude_deg
