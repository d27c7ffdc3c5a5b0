"""What a warning is, and which there are."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class WarningKind(StrEnum):
    """What a crew is warned of, the most pressing first."""

    AIRSPACE = "airspace ahead"
    BORDER = "border ahead"
    PERMIT_AREA = "leaves the permit area"
    TWO_HOURS = "two hours without a position"
    FAST_DESCENT = "fast or fouled descent"
    HAZARD = "landing hazard rises"
    NO_POSITION = "no position"
    FLOATER = "floats"
    SLOW_CLIMB = "slow climb"
    EARLY_BURST = "early burst"
    DESCENT_REPORT = "descent report due"
    CLOCK = "clock in doubt"
    HEIGHT = "height in doubt"
    POWER = "low on power"
    COLD = "payload cold"

    @property
    def rank(self) -> int:
        """0 for the most pressing."""
        return list(WarningKind).index(self)


@dataclass(frozen=True)
class Warning_:
    """One thing that a crew should know now. Whether somebody has taken note of it is kept elsewhere."""

    kind: WarningKind
    subject: str
    """Which volume, zone or country; empty where a kind has one subject only. With the kind it is the identity."""
    since_utc: datetime
    words: str
    """What and since when, the number against the plan."""
    what_to_do: str
    why: str
    number: float | None
    """Measured or predicted, in ``unit``; None where there is none."""
    against: float | None
    """The plan or the limit."""
    unit: str
    known: bool
    """False: this cannot be told, and ``words`` say what is missing. That is no all-clear."""

    @property
    def rank(self) -> int:
        """0 for the most pressing; what cannot be told comes behind all that is known."""
        return self.kind.rank + (0 if self.known else len(WarningKind))

    @property
    def line(self) -> str:
        """What, since when, what to do."""
        return f"{self.words} {self.what_to_do}".strip()


@dataclass(frozen=True)
class WarningLimits:
    """From when on a crew is warned; a warning goes when the second number of a pair is met again.

    Common practice, no source, unless said.
    """

    slow_climb: tuple[float, float] = (0.75, 0.85)
    """Share of the planned climb over the last minutes and over the climb so far: about two standard deviations."""
    much_slower: tuple[float, float] = (0.65, 0.75)
    """The same over the last minutes alone: sound climbs stray by 15 %, for kilometres, so about three."""
    climb_over_s: float = 240.0
    float_m_s: tuple[float, float] = (0.5, 1.0)
    fast_descent: tuple[float, float] = (1.35, 1.15)
    """Fall over that of the plan."""
    fall_over_s: float = 90.0
    fouled_chance: tuple[float, float] = (0.5, 0.2)
    """Of the prediction."""
    chance: tuple[float, float] = (0.05, 0.02)
    """To enter airspace, cross a border, leave the permit area."""
    hazard: tuple[float, float] = (0.10, 0.05)
    """Chance to land where it must not, once it has also doubled against the release."""
    no_position_s: float = 300.0
    two_hours_ahead_s: float = 900.0
    """So long before the alarm is due, the call is made ready."""
    report_ahead_s: float = 900.0
    clock_s: tuple[float, float] = (60.0, 30.0)
    """Between measured and heard."""
    height_m: tuple[float, float] = (30.0, 20.0)
    """On the ground against the site, or between two trackers."""
    refused: int = 5
    """Fixes refused for one reason within ``refused_over_s``, and no fewer than were believed."""
    refused_over_s: float = 180.0
    battery_least_v: float | None = None
    """None: ``battery_share`` of the highest voltage of this flight."""
    battery_share: float = 0.85
    payload_least_k: float = 258.15
    """-15 °C inside: lithium cells give little below (from memory)."""


LIMITS = WarningLimits()
"""As they stand when nobody has changed any."""
