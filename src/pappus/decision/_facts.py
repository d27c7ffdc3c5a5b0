"""What is known about one release: one fact a question, each with its source and age, or with why it is not known."""

from __future__ import annotations

import math
from dataclasses import dataclass

from pappus.errors import OutOfRange
from pappus.landing import Share
from pappus.rules import RuleVerdict


@dataclass(frozen=True)
class Fact:
    """One number, chance or yes / no; ``value`` None when it is not known, and then ``why_not`` says why.

    Raises ``OutOfRange`` for a chance outside 0 to 1, an interval that does not hold its value, or a negative age. A
    number that is not finite counts as not known.
    """

    value: float | Share | bool | None
    """A share counts the flights of which it is known that they do, out of all flights."""
    unit: str = "1"
    source: str = ""
    """Where the number comes from, such as the forecast and its run, or the file and its date."""
    age_s: float | None = None
    """Of the oldest data behind the number; None: not known."""
    why_not: str = ""
    place_deg: tuple[float, float] | None = None
    """Latitude and longitude of where it is worst."""
    low: float | None = None
    high: float | None = None
    """95 % interval of a number that is no share; None: the number alone decides."""
    unknown: Share | None = None
    """Flights of which this cannot be said, out of all flights; None: those that did not land in the data."""
    hint: str = ""
    """What would meet the limit, in words, such as "30.1 km is reached with 80 %"."""

    def __post_init__(self) -> None:
        if isinstance(self.value, Share):
            _check_share(self.value)
        elif self.value is not None and not isinstance(self.value, bool) and math.isfinite(self.value):
            low, high = self.bounds
            if not low <= self.value <= high:
                raise OutOfRange("value", self.value, low, high, self.unit)
        if self.unknown is not None:
            _check_share(self.unknown)
        if self.age_s is not None and not self.age_s >= 0.0:
            raise OutOfRange("age_s", self.age_s, 0.0, math.inf, "s")

    @property
    def bounds(self) -> tuple[float, float]:
        """Low and high end of a number or chance; unknown flights are not in it. Raises ``ValueError`` without one."""
        if isinstance(self.value, Share):
            return self.value.low, self.value.high
        if self.value is None:
            raise ValueError("a fact that is not known has no bounds")
        value = float(self.value)
        return value if self.low is None else self.low, value if self.high is None else self.high

    @property
    def known(self) -> bool:
        """Whether there is a finite number to judge by."""
        return self.value is not None and all(math.isfinite(end) for end in self.bounds)


def _check_share(share: Share) -> None:
    if not 0.0 <= share.low <= share.p <= share.high <= 1.0:
        raise OutOfRange("share (low, p, high)", (share.low, share.p, share.high), 0.0, 1.0, "in this order")


def missing(why_not: str, source: str = "") -> Fact:
    """A fact that is not known, and why."""
    return Fact(None, source=source, why_not=why_not)


NOT_LOOKED_AT = missing("it was not looked at")


@dataclass(frozen=True)
class Facts:
    """Everything a decision looks at; what is left out counts as not looked at, never as nought."""

    reaches_wanted: Fact = NOT_LOOKED_AT
    """Chance to reach the wanted height."""
    lands_acceptably: Fact = NOT_LOOKED_AT
    """Chance to land where the plan accepts it; needs the landing height and the map."""
    water: Fact = NOT_LOOKED_AT
    built_up: Fact = NOT_LOOKED_AT
    road: Fact = NOT_LOOKED_AT
    rail: Fact = NOT_LOOKED_AT
    power_line: Fact = NOT_LOOKED_AT
    """Chances to land in water, among buildings, on a road, on a railway, on a power line."""
    keep_out: Fact = NOT_LOOKED_AT
    """Chance to land in a keep-out zone."""
    leaves_permit_area: Fact = NOT_LOOKED_AT
    abroad: Fact = NOT_LOOKED_AT
    """Chance to cross into another state."""
    airspace: Fact = NOT_LOOKED_AT
    """Chance to enter airspace, up or down, that no permission covers."""
    casualty_expectation: Fact = NOT_LOOKED_AT
    """Expected number of people hurt in one flight; what the flights that did not land could add belongs into its
    high end, since only the chances get them added here."""
    surface_wind_m_s: Fact = NOT_LOOKED_AT
    gust_m_s: Fact = NOT_LOOKED_AT
    """At 10 m above ground, at the release."""
    cloud_fraction: Fact = NOT_LOOKED_AT
    """0 to 1, at the release."""
    visibility_m: Fact = NOT_LOOKED_AT
    rain: Fact = NOT_LOOKED_AT
    """Precipitation rate [kg m-2 s-1] at the release."""
    sun_elevation_deg: Fact = NOT_LOOKED_AT
    """Above the horizontal, at the wanted height when the flight is there."""
    forecast_age_s: Fact = NOT_LOOKED_AT
    """From the issue of the newest run to now."""
    drive_time_s: Fact = NOT_LOOKED_AT
    drift_m: Fact = NOT_LOOKED_AT
    """From release to touchdown over the ground; both over the flights that landed in the data."""
    unknown_share: Fact = NOT_LOOKED_AT
    """Flights that did not land in the data, out of all flights."""
    rules: tuple[RuleVerdict, ...] = ()
    """Empty: no rule was checked, which is never green."""
    flights: int = 0
    """Flights behind the shares; 0: not known."""
