"""Each kind of warning: whether it is so now, and what is said of it."""

from __future__ import annotations

from collections.abc import Iterator

from pappus.inflight._warnings_chances import ahead
from pappus.inflight._warnings_condition import Symptom
from pappus.inflight._warnings_heard import box, clock, height, report, silence
from pappus.inflight._warnings_motion import climb, early_burst, fall, floats
from pappus.inflight._warnings_picture import FlightPicture


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
