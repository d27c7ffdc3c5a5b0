"""One condition of a flight, as it is now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import Enum

from pappus.inflight.warnings._kinds import WarningKind
from pappus.inflight.warnings._picture import FlightPicture
from pappus.tracking import Phase

ALOFT = (Phase.ASCENT, Phase.FLOAT, Phase.DESCENT)


class Sign(Enum):
    """Whether a condition holds."""

    YES = "yes"
    BETWEEN = "between"
    """Not enough to warn, too much to stop warning."""
    NO = "no"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Symptom:
    """One condition as it is now. ``words`` end without a stop: the time since when is put behind them."""

    kind: WarningKind
    sign: Sign
    words: str = ""
    what_to_do: str = ""
    why: str = ""
    number: float | None = None
    against: float | None = None
    unit: str = ""
    subject: str = ""
    began_utc: datetime | None = None
    """Where the moment itself is known."""


def sign_of(value: float, pair: tuple[float, float], *, above: bool) -> Sign:
    warn, clear = pair
    if (value > warn) if above else (value < warn):
        return Sign.YES
    if (value > clear) if above else (value < clear):
        return Sign.BETWEEN
    return Sign.NO


def worse(*signs: Sign) -> Sign:
    return next(sign for sign in (Sign.YES, Sign.BETWEEN, Sign.NO) if sign in signs)


def phase_of(picture: FlightPicture) -> Phase | None:
    return None if picture.estimate is None else picture.estimate.phase
