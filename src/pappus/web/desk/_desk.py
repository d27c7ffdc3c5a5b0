"""What one desk holds: the plan file and what lies beside it, read once and again when a file changed."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

from pappus.plan import Plan, load_plan
from pappus.preflight import Winds, gather_winds, pack_folder
from pappus.sources import Pack, Prior, read_pack, read_prior
from pappus.store import record_file
from pappus.web.desk._events import Hub
from pappus.web.desk._jobs import Jobs
from pappus.web.desk._people import People
from pappus.web.desk._plan_edit import phones_in
from pappus.web.desk._share import Share

T = TypeVar("T")


def _utc_now() -> datetime:
    return datetime.now(UTC)


class Desk:
    """One flight on one laptop.

    ``plan_path`` need not exist yet. ``folder`` (the plan's name with ``.desk``) keeps people, keys and certificate.
    Objects that are costly to read are kept until their file changes; all methods may be called from any thread.
    """

    def __init__(
        self,
        plan_path: Path,
        *,
        pack: Path | None = None,
        prior: Path | None = None,
        store: Path | None = None,
        share: Share | None = None,
        now: Callable[[], datetime] = _utc_now,
    ) -> None:
        self.plan_path = plan_path.absolute()
        self.pack_folder = pack or pack_folder(plan_path)
        self.prior_path = prior
        self.store_path = store or record_file(plan_path)
        self.folder = desk_folder(plan_path)
        self.share = share
        self.now = now
        self.people = People(self.folder, now)
        self.events = Hub()
        self.jobs = Jobs(self.events)
        self._kept: dict[str, tuple[Any, Any]] = {}
        # setdefault on a dict is one step of the interpreter, so that two threads get the same lock
        self._locks: dict[str, threading.RLock] = {}

    def plan(self) -> Plan:
        """The plan as its file has it now; raises ``BadPlan`` as ``load_plan`` does."""
        return self.keep("plan", self.plan_digest(), lambda: load_plan(self.plan_path))

    def plan_digest(self) -> str | None:
        """SHA-256 of the plan file; None when there is none."""
        try:
            return hashlib.sha256(self.plan_path.read_bytes()).hexdigest()
        except OSError:
            return None

    def phones(self) -> tuple[str, ...]:
        """Every telephone number in the plan file, also in one that is half edited."""
        return self.keep("phones", self.plan_digest(), lambda: phones_in(self.plan_path))

    def pack(self) -> Pack | None:
        """The field pack; None when there is none."""
        stamp = self.pack_stamp()
        return None if stamp is None else self.keep("pack", stamp, lambda: read_pack(self.pack_folder))

    def pack_stamp(self) -> tuple[tuple[str, int, int], ...] | None:
        """Changes when the pack does: a key for what is made from it; None without a pack."""
        if not self.pack_folder.is_dir():
            return None
        # of its files, and not of its folders: those change when what was read of the winds is kept beside them
        found = (path for glob in ("*", "*/*") for path in self.pack_folder.glob(glob))
        return _stamps(path for path in found if path.is_file())

    def prior(self) -> Prior:
        """The prior that was given, else that of the pack, else the built-in one."""
        pack = self.pack()
        own = pack.paths("prior") if pack is not None else []
        path = self.prior_path or (own[0] if own else None)
        return self.keep("prior", (path, _stamps([path] if path else [])), lambda: read_prior(path))

    def winds(self) -> list[Winds]:
        """The winds of the pack, cut to the surroundings of the plan's sites; an empty list without a pack."""
        pack = self.pack()
        paths = pack.paths("winds") if pack is not None else []
        if not paths:
            return []
        plan = self.plan()
        sites = tuple((site.latitude_deg, site.longitude_deg) for site in plan.sites)
        key = (_stamps(paths), sites, plan.limits)
        return self.keep("winds", key, lambda: gather_winds(paths, plan))

    def keep(self, name: str, key: Any, make: Callable[[], T]) -> T:
        """``make()``, or what it gave the last time under the same key.

        One thread makes, the others that want the same name wait for it; other names are not held up.
        """
        with self._locks.setdefault(name, threading.RLock()):
            if name in self._kept and self._kept[name][0] == key:
                kept: T = self._kept[name][1]
                return kept
            made = make()
            self._kept[name] = (key, made)
            return made


def desk_folder(plan_path: Path) -> Path:
    """Where a desk keeps people, keys and certificate: beside its plan."""
    return plan_path.absolute().with_suffix(".desk")


def _stamps(paths: Any) -> tuple[tuple[str, int, int], ...]:
    stats = [(path, path.stat()) for path in sorted(paths)]
    return tuple((str(path), stat.st_mtime_ns, stat.st_size) for path, stat in stats)
