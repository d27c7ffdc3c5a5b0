"""Moves what a plan wants, checks every message and keeps it, cut to the area, as GRIB files.

A file in the folder is whole or not there: the spans of a plan are kept one by one as parts, joined when all are there
and renamed. A part belongs to one state of the remote file and its index, so a replaced file never meets old parts.
"""

from __future__ import annotations

import hashlib
import json
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import groupby
from pathlib import Path
from typing import Any

from pappus.sources.centres._centres import CENTRES
from pappus.sources.centres._crop import cropped
from pappus.sources.centres._message import BadMessage, require_promised
from pappus.sources.centres._plan import Now, merge, read_file_plan
from pappus.sources.centres._pool import Gatherer
from pappus.sources.centres._rules import Again, Changed, DownloadRules, NotPublished, Sleep, Step, not_fetched
from pappus.sources.centres._run_index import Record
from pappus.sources.centres._store import keep_part, load_part, remove, sha256_of, sweep, write_whole
from pappus.sources.centres._wish import FetchPlan, FilePlan, Span
from pappus.sources.grib import Area

_VERSION = 1
"""Raise it when other octets are kept of the same messages."""
_PARTS = ".parts"


@dataclass(frozen=True)
class FetchedFile:
    """One file on disk and where it comes from."""

    path: Path
    """GRIB edition 2, cut to the area; the values are those that the centre packed."""
    url: str
    run: datetime
    step_h: int
    member: int | None
    """None when the file holds several."""
    valid: datetime
    fields: int
    moved_bytes: int
    """In this call, attempts that failed and the index among them; 0 when the file was there already."""
    whole_bytes: int
    """Of the remote file."""
    sha256: str
    """Of the file on disk."""
    fetched: datetime
    etag: str
    last_modified: str
    index_sha256: str
    attribution: str


@dataclass(frozen=True)
class Fetched:
    """All files of a plan."""

    plan: FetchPlan
    files: tuple[FetchedFile, ...]

    @property
    def paths(self) -> list[Path]:
        """For ``read_forecast``; join a thousand of them first, since it holds all open at a time."""
        return [file.path for file in self.files]

    @property
    def moved_bytes(self) -> int:
        """In this call."""
        return sum(file.moved_bytes for file in self.files)

    @property
    def whole_bytes(self) -> int:
        """Of the remote files."""
        return sum(file.whole_bytes for file in self.files)


def fetch(
    plan: FetchPlan,
    folder: str | Path,
    *,
    rules: DownloadRules | None = None,
    step: Step = lambda words: None,
    now: Now = lambda: datetime.now(UTC),
    sleep: Sleep = time.sleep,
) -> Fetched:
    """Move what the plan wants into a folder, a few files at a time; what is there already is not moved again.

    ``folder`` may be one that a broken call left. ``step`` is told what happens; ``now`` and ``sleep`` are the clock.

    Raises NotFetched when a file cannot be had or does not pass the checks; what did is kept for the next call.
    Raises BadFile when the forecast does not reach into the area.
    """
    with Gatherer(rules or DownloadRules(), step, sleep) as gatherer:
        return _Fetch(plan, Path(folder), gatherer, now).all()


def join_fetched(fetched: Fetched, path: str | Path) -> str:
    """Write all fetched files as one, whole or not at all, and give its SHA-256: many members make hundreds of files.

    Raises NotFetched when one of the files is no longer what was fetched, or when the disk does not take the new one.
    """

    def contents() -> Iterator[bytes]:
        for file in fetched.files:
            try:
                content = file.path.read_bytes()
            except OSError:
                content = b""
            if hashlib.sha256(content).hexdigest() != file.sha256:
                reason = "it is no longer the file that was fetched"
                raise not_fetched(file.path.name, reason, "Fetch again: only this one will be moved.")
            yield content

    return write_whole(Path(path), contents())


class _Fetch:
    """One call; its methods run in several threads."""

    def __init__(self, plan: FetchPlan, folder: Path, gatherer: Gatherer, now: Now) -> None:
        self.plan, self.folder, self.gatherer, self.now = plan, folder, gatherer, now
        self.area = Area.of(plan.wish.area)
        self._decoder = threading.Lock()
        """The decoders are not known to bear two threads."""
        self._counting = threading.Lock()
        self._done = 0

    def all(self) -> Fetched:
        """Every file of the plan."""
        megabytes = self.plan.bytes_to_move / 1e6
        self.gatherer.step(f"fetching {len(self.plan.files)} files, {megabytes:.1f} MB")
        files = self.gatherer.all(self._file, self.plan.files)
        sweep(self.folder)
        sweep(self.folder / _PARTS)
        return Fetched(self.plan, tuple(files))

    def _file(self, file: FilePlan) -> FetchedFile:
        found = self._kept(file)
        if found is None:
            found = self._moved(file)
        how = f"{found.moved_bytes / 1e6:.2f} MB" if found.moved_bytes else "was there"
        with self._counting:
            self._done += 1
            self.gatherer.step(f"{self._done} of {len(self.plan.files)}: {found.path.name}, {how}")
        return found

    def _moved(self, file: FilePlan) -> FetchedFile:
        moved = [file.index_bytes]
        what = file.remote.path.rpartition("/")[2]
        try:
            try:
                parts = [self._part(file, span, moved) for span in file.spans]
            except Changed as error:
                self.gatherer.step(f"{what}: {error}; reading its index again")
                file = self._planned_again(file)
                moved.append(file.index_bytes)
                parts = [self._part(file, span, moved) for span in file.spans]
        except Changed as error:
            fix = "Try again later, or use another address of this centre."
            raise not_fetched(what, f"{error}, also after its index was read again", fix) from None
        except NotPublished as error:
            reason = f"it is no longer there as planned ({error})"
            raise not_fetched(what, reason, "Plan again: a newer run may be there.") from None
        return self._joined(file, parts, sum(moved))

    def _planned_again(self, file: FilePlan) -> FilePlan:
        """The same fields by a fresh index."""
        plan, centre = self.plan, CENTRES[self.plan.wish.centre]
        again = read_file_plan(self.gatherer, centre, plan.base_url, file.run, file.remote, plan.members)

        def key(record: Record) -> tuple[str, float, int]:
            return record.name, record.level_pa, record.member

        wanted = {key(record) for span in file.spans for record in span.records}
        records = [record for span in again.spans for record in span.records if key(record) in wanted]
        if len(records) != len(wanted):
            raise Changed("the file was replaced by one that holds less")
        rules = self.gatherer.rules
        return replace(again, spans=tuple(merge(records, rules.merge_gap_bytes, rules.largest_range_bytes)))

    def _part(self, file: FilePlan, span: Span, moved: list[int]) -> Path:
        """The kept part of a span, moved and checked if it is not there."""
        path = self.folder / _PARTS / f"{self._key(file, span)}.part"
        if load_part(path) is not None:
            return path
        refused: list[str] = []

        def once() -> bytes:
            if len(refused) > 1:  # twice the same octets that are not what was promised: then it is the index
                raise Changed(refused[-1])
            content = self._octets(file, span, moved)
            try:
                return b"".join(self._messages(file, span, content))
            except BadMessage as error:
                refused.append(str(error))
                raise (Again if len(refused) == 1 else Changed)(str(error)) from None

        kept = self.gatherer.retried(once, file.remote.path.rpartition("/")[2])
        keep_part(path, {"url": file.url, "start": span.start, "length": span.length}, kept)
        return path

    def _octets(self, file: FilePlan, span: Span, moved: list[int]) -> bytes:
        downloader = self.gatherer.downloader
        part = downloader.part(file.url, span.start, span.length, file.stamp)
        moved.append(part.moved_bytes)
        reread = self.gatherer.rules.reread_share
        if reread is None:
            reread = 0.0 if file.url.startswith("https:") else 1.0
        if _share(file, span) < reread:
            downloader.close()  # another connection may take another way
            second = downloader.part(file.url, span.start, span.length, file.stamp)
            moved.append(second.moved_bytes)
            if second.octets != part.octets:
                raise Again("two readings of the same octets differ")
        return part.octets

    def _messages(self, file: FilePlan, span: Span, content: bytes) -> Iterator[bytes]:
        for offset, group in groupby(span.records, key=lambda record: record.offset):
            records = list(group)
            start = offset - span.start
            octets = content[start : start + records[0].length]
            for piece, record in require_promised(octets, records, file.run, CENTRES[self.plan.wish.centre].number):
                with self._decoder:
                    yield cropped(octets, piece, record, self.area)

    def _joined(self, file: FilePlan, parts: Sequence[Path], moved_bytes: int) -> FetchedFile:
        def contents() -> Iterator[bytes]:
            for path in parts:
                found = load_part(path)
                if found is None:
                    reason = "a part that was just kept is gone or damaged"
                    raise not_fetched(str(path.parent), reason, "Let nothing else write there, and try again.")
                yield found[1]

        path = self._path(file)
        digest = write_whole(path, contents())
        result = FetchedFile(
            path=path,
            url=file.url,
            run=file.run,
            step_h=file.remote.step_h,
            member=file.remote.member,
            valid=file.run + timedelta(hours=file.remote.step_h),
            fields=sum(len(span.records) for span in file.spans),
            moved_bytes=moved_bytes,
            whole_bytes=file.stamp.size_bytes,
            sha256=digest,
            fetched=self.now(),
            etag=file.stamp.etag,
            last_modified=file.stamp.last_modified,
            index_sha256=file.index_sha256,
            attribution=CENTRES[self.plan.wish.centre].attribution,
        )
        described = {**asdict(result), "path": path.name, "key": self._key(file, None)}
        write_whole(path.with_suffix(".json"), [json.dumps(described, default=_as_text, indent=1).encode("ascii")])
        remove(parts)
        return result

    def _kept(self, file: FilePlan) -> FetchedFile | None:
        """A file of an earlier call, None unless it is whole and of the same state of the remote file."""
        path = self._path(file)
        try:
            described = json.loads(path.with_suffix(".json").read_bytes())
            if described.pop("key") != self._key(file, None) or described["sha256"] != sha256_of(path):
                return None
            for name in ("run", "valid", "fetched"):
                described[name] = datetime.fromisoformat(described[name])
            return FetchedFile(**{**described, "path": path, "moved_bytes": 0})
        except (OSError, ValueError, KeyError, TypeError, AttributeError):
            return None

    def _path(self, file: FilePlan) -> Path:
        wish, remote = self.plan.wish, file.remote
        member = "" if remote.member is None else f"-m{remote.member:02d}"
        wanted = sorted((one.name, one.level_pa, one.member) for span in file.spans for one in span.records)
        place = hashlib.sha256(repr((file.url, wish.area, wanted)).encode()).hexdigest()[:8]
        return self.folder / f"{wish.centre}-{file.run:%Y%m%d%H}-f{remote.step_h:03d}{member}-{place}.grib2"

    def _key(self, file: FilePlan, span: Span | None) -> str:
        """What a part or a file depends on."""
        spans = file.spans if span is None else (span,)
        question = (_VERSION, file.url, file.stamp, file.index_sha256, self.plan.wish.area, spans)
        return hashlib.sha256(repr(question).encode()).hexdigest()[:32]


def _share(file: FilePlan, span: Span) -> float:
    """A number from 0 to 1 that belongs to a span: the sample of a second reading is the same each time."""
    octets = hashlib.sha256(f"{file.url} {span.start}".encode()).digest()
    return int.from_bytes(octets[:4], "big") / 2.0**32


def _as_text(value: Any) -> str:
    return value.isoformat() if isinstance(value, datetime) else str(value)
