"""What a flight needs of a centre, and the plan that comes of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from pappus.earth import require_range
from pappus.errors import BadInput, Finding
from pappus.sources.centres._answer import Stamp
from pappus.sources.centres._centres import CENTRES, RemoteFile
from pappus.sources.centres._run_index import Record
from pappus.sources.grib import Area

LONGEST_FLIGHT_S = 400.0 * 3600.0


@dataclass(frozen=True)
class FetchWish:
    """What a flight needs of a forecast."""

    centre: str
    """Name in ``CENTRES``."""
    area: tuple[float, float, float, float]
    """South, north, west, east in degrees; the east may lie beyond the date line."""
    first_release: datetime
    last_release: datetime
    """UTC-aware."""
    longest_flight_s: float
    """0 to 400 h."""
    members: tuple[int, ...] | None = None
    """0 is the control; None takes all that the centre publishes."""
    step_every_h: int = 3
    """Of the steps that the centre publishes none closer than this is taken, 1 to 24 h."""
    run: datetime | None = None
    """None takes the newest complete one."""
    oldest_run_h: float = 36.0
    """Age at which a run is no longer looked for, 1 to 400 h."""
    wait_s: float = 0.0
    """How long to wait for a run that is just being published, before an older one is taken; 0 to 24 h."""

    def __post_init__(self) -> None:
        if self.centre not in CENTRES:
            raise _bad("centre", self.centre, "there is no such centre", f"Choose one of {', '.join(CENTRES)}.")
        Area.of(self.area)
        for name in ("first_release", "last_release", "run"):
            time_utc = getattr(self, name)
            if time_utc is not None and time_utc.utcoffset() is None:
                raise _bad(name, str(time_utc), "it has no time zone", "Give it in UTC.")
        if self.last_release < self.first_release:
            raise _bad("last_release", str(self.last_release), "it is before the first release", "Swap them.")
        require_range("longest flight", self.longest_flight_s, 0.0, LONGEST_FLIGHT_S, "s")
        require_range("distance of steps", self.step_every_h, 1, 24, "h")
        require_range("age of the oldest run", self.oldest_run_h, 1.0, 400.0, "h")
        require_range("wait for a run", self.wait_s, 0.0, 86_400.0, "s")
        published = CENTRES[self.centre].members
        if self.members is not None and not (self.members and set(self.members) <= set(published)):
            fix = f"Choose from {published[0]} to {published[-1]}."
            raise _bad("members", str(self.members), "the centre does not publish them", fix)
        if self.run is not None and self.run.astimezone(UTC).hour % CENTRES[self.centre].run_every_h:
            raise _bad("run", str(self.run), "the centre has no run at that hour", "Name one of its runs.")


@dataclass(frozen=True)
class Span:
    """Some octets of a file that are got at once, and the records in them that are wanted."""

    start: int
    length: int
    records: tuple[Record, ...]


@dataclass(frozen=True)
class FilePlan:
    """The part of one remote file that is wanted."""

    url: str
    remote: RemoteFile
    run: datetime
    stamp: Stamp
    index_sha256: str
    index_bytes: int
    spans: tuple[Span, ...]

    @property
    def bytes_to_move(self) -> int:
        """Octets of the spans."""
        return sum(span.length for span in self.spans)


@dataclass(frozen=True)
class FetchPlan:
    """A run that was complete when it was looked at, and what of it is wanted."""

    wish: FetchWish
    base_url: str
    run: datetime
    steps_h: tuple[int, ...]
    members: tuple[int, ...]
    files: tuple[FilePlan, ...]
    notes: tuple[str, ...]
    """What was found missing or left."""

    @property
    def bytes_to_move(self) -> int:
        """Octets to get."""
        return sum(file.bytes_to_move for file in self.files)

    @property
    def whole_bytes(self) -> int:
        """Octets of the whole files."""
        return sum(file.stamp.size_bytes for file in self.files)


def _bad(field: str, value: str, reason: str, fix: str) -> BadInput:
    return BadInput(Finding(field, value, reason, fix))
