"""Each kind of warning: whether it is so now, and what is said of it."""

from __future__ import annotations

from collections.abc import Iterator

from pappus.inflight.warnings._chances import ahead
from pappus.inflight.warnings._condition import Symptom
from pappus.inflight.warnings._heard import box, clock, height, report, silence
from pappus.inflight.warnings._motion import climb, early_burst, fall, floats
from pappus.inflight.warnings._picture import FlightPicture


def symptoms(picture: FlightPicture) -> Iterator[Symptom]:
    """All conditions, those that do not hold as well."""
    yield from climb(picture)
    yield from floats(picture)
    yield from early_burst(picture)
    yield from fall(picture)
    yield from silence(picture)
    yield from report(picture)
    yield from clock(picture)
    yield from height(picture)
    yield from box(picture)
    yield from ahead(picture)
