"""What to fetch from a centre: the run, its steps and members, and the octets of each file, before any is moved."""

from __future__ import annotations

import hashlib
import math
import re
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import groupby

from pappus.errors import BadInput, Finding
from pappus.sources.centres._centres import CENTRES, Centre, RemoteFile
from pappus.sources.centres._fields import BY_NAME, PRESSURE, UPPER_AIR
from pappus.sources.centres._pool import Gatherer
from pappus.sources.centres._rules import (
    Again,
    Changed,
    DownloadRules,
    NotFetched,
    NotPublished,
    Sleep,
    Step,
    not_fetched,
)
from pappus.sources.centres._run_index import BadIndex, Record, RunIndex
from pappus.sources.centres._wish import FetchPlan, FetchWish, FilePlan, Span

_ADDRESS = re.compile(r"https?://[^/?#]+(/[^?#]*)?$")
Now = Callable[[], datetime]

_ORDER = {"instant": 0, "maximum": 1, "": 2, "average": 3, "sum": 4, "minimum": 5}
_INDICATOR_OCTETS = 16
_POLL_S = 60.0


def plan_fetch(
    wish: FetchWish,
    *,
    base_url: str | None = None,
    rules: DownloadRules | None = None,
    step: Step = lambda words: None,
    now: Now = lambda: datetime.now(UTC),
    sleep: Sleep = time.sleep,
) -> FetchPlan:
    """Look for the newest run that is complete for the wish, or for the one it names, and read its indexes.

    A run is complete when every file that is needed and its index are published. One that is just being published is
    looked at again for ``wish.wait_s``, then an older one is taken. ``step`` is told what happens, ``now`` and
    ``sleep`` are the clock.

    Raises NotFetched when no run can be had or the server fails, BadInput for an address that is none.
    """
    centre = CENTRES[wish.centre]
    address = (base_url or centre.base_url).rstrip("/")
    if not _ADDRESS.match(address):
        finding = Finding("address of the centre", address, "it is no address", "Begin it with https:// and a host.")
        raise BadInput(finding)
    rules = rules or DownloadRules()
    with Gatherer(rules, step, sleep) as gatherer:
        return _Planner(wish, centre, address, gatherer, now).plan()


def read_file_plan(
    gatherer: Gatherer, centre: Centre, address: str, run: datetime, remote: RemoteFile, members: Sequence[int]
) -> FilePlan:
    """What of one remote file is wanted; raises NotPublished when it, its index or a part of them is not there."""
    url, index_url = f"{address}/{remote.path}", f"{address}/{remote.index_path}"
    what = remote.path.rpartition("/")[2]

    unfit: list[str] = []

    def once() -> FilePlan:
        unfit.clear()
        text = gatherer.downloader.text(index_url)
        try:
            index = centre.read_index(text, run)
            end = gatherer.downloader.end(url, index.last_offset, _INDICATOR_OCTETS)
            _require_end(index, end.stamp.size_bytes, end.octets)
        except (BadIndex, Changed) as error:
            unfit.append(f"{what}: its index cannot be used: {error}")
            raise Again(f"its index cannot be used: {error}") from None
        records = _wanted_records(index, remote, members, end.stamp.size_bytes)
        spans = tuple(merge(records, gatherer.rules.merge_gap_bytes, gatherer.rules.largest_range_bytes))
        digest = hashlib.sha256(text).hexdigest()
        return FilePlan(url, remote, run, end.stamp, digest, len(text), spans)

    try:
        return gatherer.retried(once, what)
    except NotFetched:
        if unfit:  # the server answers well, but what it has is not whole
            raise NotPublished(unfit[-1]) from None
        raise


def _require_end(index: RunIndex, size: int, octets: bytes) -> None:
    """BadIndex unless the last record of the index is a message that ends with the file."""
    if not size:
        raise BadIndex("the server does not say how large the file is")
    if octets.lstrip()[:1] == b"<":
        raise BadIndex("an HTML page came in place of the file")
    # a server that sends whole files only has not shown the octets: the messages will be checked all the same
    length = int.from_bytes(octets[8:16], "big") if octets else max(size - index.last_offset, _INDICATOR_OCTETS)
    begins = not octets or octets[:4] == b"GRIB"
    if not begins or index.last_offset + length != size or index.end not in (0, size):
        raise BadIndex("its last record does not end where the file does")


def _wanted_records(index: RunIndex, remote: RemoteFile, members: Sequence[int], size: int) -> list[Record]:
    """One record for each quantity, level and member: an instant before a mean, a sum since the start before others."""
    best: dict[tuple[str, float, int], Record] = {}
    for record in index.records:
        if record.member not in members or record.end_h != remote.step_h:
            continue
        if BY_NAME[record.name].kind == PRESSURE and record.statistic != "instant":
            continue
        key = (record.name, record.level_pa, record.member)
        other = best.get(key)
        if other is None or (_ORDER[record.statistic], record.start_h) < (_ORDER[other.statistic], other.start_h):
            best[key] = record
    return sorted(record if record.length else record._replace(length=size - record.offset) for record in best.values())


def merge(records: Sequence[Record], gap_bytes: int, largest_bytes: int) -> list[Span]:
    """Records in spans: joined when less than ``gap_bytes`` lie between them and the span stays small enough."""
    spans: list[Span] = []
    for record in sorted(records):
        end = record.offset + record.length
        if spans:
            last = spans[-1]
            close = record.offset - (last.start + last.length) <= gap_bytes
            if close and (end - last.start <= largest_bytes or record.offset < last.start + last.length):
                length = max(end, last.start + last.length) - last.start
                spans[-1] = Span(last.start, length, (*last.records, record))
                continue
        spans.append(Span(record.offset, record.length, (record,)))
    return spans


class _Planner:
    """Looks at one run after the other."""

    def __init__(self, wish: FetchWish, centre: Centre, address: str, gatherer: Gatherer, now: Now) -> None:
        self.wish, self.centre, self.address, self.gatherer, self.now = wish, centre, address, gatherer, now
        self.members = centre.members if wish.members is None else tuple(sorted(set(wish.members)))

    def plan(self) -> FetchPlan:
        """The plan of the first run that will do."""
        start, reasons = self.now(), list[str]()
        until = start + timedelta(seconds=self.wish.wait_s)
        for run in self._candidates(start):
            steps = covering_steps(self.wish, self.centre, run)
            if not steps:
                reasons.append(f"run {run:%Y-%m-%d %H} UTC does not reach the times of the flight")
                continue
            while True:
                missing, begun = self._missing(run, steps)
                if not missing:
                    try:
                        return self._plan(run, steps, reasons)
                    except NotPublished as error:
                        missing, begun = str(error), True
                if not begun or self.now() >= until:
                    break
                words = f"run {run:%Y-%m-%d %H} UTC is being published: {missing}"
                self.gatherer.step(f"{words}; looking again in {_POLL_S:g} s")
                self.gatherer.sleep(min(_POLL_S, max((until - self.now()).total_seconds(), 1.0)))
            state = "not complete yet" if begun else "not published"
            reasons.append(f"run {run:%Y-%m-%d %H} UTC is {state} ({missing})")
            self.gatherer.step(reasons[-1])
        if not reasons:
            reasons.append("no run is before the first release")
        title, words = self.centre.title, "; ".join(reasons[:3])
        raise not_fetched(title, f"no complete run can be had: {words}", "Try again later, or name another run.")

    def _candidates(self, start: datetime) -> list[datetime]:
        every = timedelta(hours=self.centre.run_every_h)
        if self.wish.run is not None:
            return [self.wish.run.astimezone(UTC)]
        start = start.astimezone(UTC)
        newest = start.replace(
            hour=start.hour - start.hour % self.centre.run_every_h, minute=0, second=0, microsecond=0
        )
        while newest > self.wish.first_release:
            newest -= every
        oldest = start - timedelta(hours=self.wish.oldest_run_h)
        count = max(math.floor((newest - oldest) / every) + 1, 0)
        return [newest - number * every for number in range(count)]

    def _missing(self, run: datetime, steps: Sequence[int]) -> tuple[str, bool]:
        """What is missing, empty when the last step of the last member is there; and whether the first one is there."""
        last = self.centre.files_of(run, steps[-1], self.members)[-1]
        if self._is_there(last):
            return "", True
        begun = self._is_there(self.centre.files_of(run, steps[0], self.members)[0])
        return f"{last.index_path.rpartition('/')[2]} is missing", begun

    def _is_there(self, remote: RemoteFile) -> bool:
        url = f"{self.address}/{remote.index_path}"
        try:
            self.gatherer.retried(lambda: self.gatherer.downloader.text(url), remote.index_path.rpartition("/")[2])
        except NotPublished:
            return False
        return True

    def _plan(self, run: datetime, steps: Sequence[int], reasons: Sequence[str]) -> FetchPlan:
        remotes = [remote for hour in steps for remote in self.centre.files_of(run, hour, self.members)]
        words = f"run {run:%Y-%m-%d %H} UTC: reading the indexes of {len(remotes)} files"
        self.gatherer.step(words)

        def one(remote: RemoteFile) -> FilePlan:
            return read_file_plan(self.gatherer, self.centre, self.address, run, remote, self.members)

        files = self.gatherer.all(one, remotes)
        if gaps(files):
            # one wrong letter in an index hides a field: what the other steps have is looked for once more
            doubtful = {place for place, _ in gaps(files)}
            self.gatherer.step(f"fields are missing in {len(doubtful)} steps or members: reading their indexes again")
            files = self.gatherer.all(
                lambda file: _fuller(file, one(file.remote)) if _place(file) in doubtful else file, files
            )
        notes = [*reasons, *gap_notes(gaps(files))]
        files = _once_each(files)
        if not any(record.name == "ground" for file in files for span in file.spans for record in span.records):
            ground = self._ground(run, steps)
            files.extend(ground)
            if not ground:
                notes.append("the height of the model's ground is not published")
        found = {record.name for file in files for span in file.spans for record in span.records}
        missing = [name for name in sorted(UPPER_AIR) if name not in found]
        if missing:
            reason = f"run {run:%Y-%m-%d %H} UTC holds no {', '.join(missing)} on pressure levels"
            raise not_fetched(self.centre.title, reason, "Use another address, or another centre.")
        notes.extend(f"{name} is not published" for name in BY_NAME if name not in found and name != "ground")
        return FetchPlan(self.wish, self.address, run, tuple(steps), self.members, tuple(files), tuple(notes))

    def _ground(self, run: datetime, steps: Sequence[int]) -> list[FilePlan]:
        """The ground from step 0, where some centres publish it alone."""
        if steps[0] == 0:
            return []
        result = []
        for remote in self.centre.files_of(run, 0, self.members[:1])[:1]:
            try:
                file = read_file_plan(self.gatherer, self.centre, self.address, run, remote, self.members[:1])
            except NotPublished:
                continue
            records = [one for span in file.spans for one in span.records if one.name == "ground"]
            spans = merge(records, self.gatherer.rules.merge_gap_bytes, self.gatherer.rules.largest_range_bytes)
            if spans:
                result.append(replace(file, spans=tuple(spans)))
        return result


def covering_steps(wish: FetchWish, centre: Centre, run: datetime) -> tuple[int, ...]:
    """Steps from the last one before the first release to the first one after the longest flight; empty if none."""
    first_h = (wish.first_release - run).total_seconds() / 3600.0
    last_h = ((wish.last_release - run).total_seconds() + wish.longest_flight_s) / 3600.0
    published = centre.steps_h(run.hour)
    if first_h < published[0] or last_h > published[-1]:
        return ()
    start = max(hour for hour in published if hour <= first_h)
    stop = min(hour for hour in published if hour >= last_h)
    steps = [start]
    for hour in published:
        if start < hour <= stop and (hour - steps[-1] >= wish.step_every_h or hour == stop):
            steps.append(hour)
    return tuple(steps)


def _place(file: FilePlan) -> tuple[int, int | None]:
    return file.remote.step_h, file.remote.member


def _fuller(file: FilePlan, again: FilePlan) -> FilePlan:
    """The one that has more of what is wanted."""
    return again if _count(again) > _count(file) else file


def _count(file: FilePlan) -> int:
    return sum(len(span.records) for span in file.spans)


Gap = tuple[tuple[int, int | None], tuple[str, float, int]]
"""Step and member of a file (or of the two that make one up); name, level and member of a field."""


def gaps(files: Sequence[FilePlan]) -> list[Gap]:
    """Fields that a step or member lacks, though half of the others have them, or wind but no height on a level."""
    held: dict[tuple[int, int | None], set[tuple[str, float, int]]] = {}
    for file in files:
        found = held.setdefault(_place(file), set())
        found.update((r.name, r.level_pa, r.member) for span in file.spans for r in span.records if r.name != "ground")
    counts = Counter((name, level) for found in held.values() for name, level in {key[:2] for key in found})
    usual = {pair for pair, count in counts.items() if 2 * count >= len(held)}
    usual |= {(name, level) for _, level in usual if level for name in UPPER_AIR}
    result: list[Gap] = []
    for place, found in held.items():
        members = {member for _, _, member in found} or {place[1] or 0}
        wanted = {(name, level, member) for name, level in usual for member in members}
        result.extend((place, key) for key in sorted(wanted - found))
    return result


def gap_notes(found: Sequence[Gap]) -> list[str]:
    """A line for each step and member that lacks something."""
    lines = []
    for (step_h, _), group in groupby(found, key=lambda gap: gap[0]):
        names = [
            f"{name} at {level / 100.0:g} hPa (member {member})" if level else f"{name} (member {member})"
            for _, (name, level, member) in group
        ]
        more = f" and {len(names) - 3} more" if len(names) > 3 else ""
        lines.append(f"not published at +{step_h} h: {', '.join(names[:3])}{more}")
    return lines


def _once_each(files: Sequence[FilePlan]) -> list[FilePlan]:
    """Without fields that an earlier file of the same step gives already."""
    seen: set[tuple[int, str, float, int]] = set()
    result = []
    for file in files:
        spans = []
        for span in file.spans:
            new = [one for one in span.records if (file.remote.step_h, one.name, one.level_pa, one.member) not in seen]
            seen.update((file.remote.step_h, one.name, one.level_pa, one.member) for one in new)
            if new:
                spans.append(replace(span, records=tuple(new)))
        if spans:
            result.append(replace(file, spans=tuple(spans)))
    return result
