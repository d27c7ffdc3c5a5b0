"""Heavy work off the page: one thing of a kind at a time, its steps told as events, its last answers kept."""

from __future__ import annotations

import logging
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Literal

from pappus.errors import BadInput, PappusError
from pappus.web.desk._events import Hub
from pappus.web.desk._models import FindingAnswer, JobAnswer

KEPT_OF_A_KIND = 4
Step = Callable[[str], None]
_log = logging.getLogger("pappus.web")


@dataclass
class Job:
    """One piece of work, asked for under a kind ("window") and a key (what it depends on)."""

    kind: str
    key: str
    state: Literal["waiting", "running", "done", "failed"] = "waiting"
    step: str = ""
    began_s: float = 0.0
    took_s: float | None = None
    result: Any = None
    findings: tuple[FindingAnswer, ...] = ()

    def answer(self) -> JobAnswer:
        """What a page is told of it."""
        now = time.monotonic()
        seconds = self.took_s if self.took_s is not None else (now - self.began_s if self.began_s else 0.0)
        return JobAnswer(
            kind=self.kind, key=self.key, state=self.state, step=self.step, seconds=round(seconds, 1),
            findings=list(self.findings),
        )  # fmt: skip


class Jobs:
    """Runs jobs on a few threads; asking for the same kind and key again gives the same job."""

    def __init__(self, hub: Hub, threads: int = 2) -> None:
        self._hub, self._lock = hub, threading.Lock()
        self._pool = ThreadPoolExecutor(threads, thread_name_prefix="pappus-job")
        self._kept: dict[str, OrderedDict[str, Job]] = {}

    def ask(self, kind: str, key: str, work: Callable[[Step], Any]) -> Job:
        """The job of this kind and key, begun when there is none. ``work`` gets a function to tell its steps."""
        with self._lock:
            row = self._kept.setdefault(kind, OrderedDict())
            job = row.get(key)
            if job is not None and job.state != "failed":
                row.move_to_end(key)
                return job
            job = row[key] = Job(kind, key)
            finished = [name for name, one in row.items() if one.state in ("done", "failed")]
            for name in finished[: max(0, len(row) - KEPT_OF_A_KIND)]:
                del row[name]
        self._pool.submit(self._run, job, work)
        return job

    def all(self) -> list[JobAnswer]:
        """Every job that is kept, for a page that has just been opened."""
        with self._lock:
            return [job.answer() for row in self._kept.values() for job in row.values()]

    def forget(self, kind: str, key: str) -> None:
        """So that the next page that asks begins it anew."""
        with self._lock:
            self._kept.get(kind, OrderedDict()).pop(key, None)

    def close(self) -> None:
        """Begin nothing more."""
        self._pool.shutdown(wait=False, cancel_futures=True)

    def _run(self, job: Job, work: Callable[[Step], Any]) -> None:
        job.state, job.began_s = "running", time.monotonic()
        self._tell(job)

        def step(name: str) -> None:
            job.step = name
            self._tell(job)

        try:
            job.result = work(step)
        except BadInput as error:
            job.findings = tuple(FindingAnswer.of(one) for one in error.findings)
        except PappusError as error:
            job.findings = (FindingAnswer(field=job.kind, value="", reason=str(error), fix=""),)
        except Exception:  # a thread that dies silently would leave the page waiting for ever
            _log.exception("the job %s failed", job.kind)
            reason = "it failed inside pappus; nothing of yours is lost"
            job.findings = (FindingAnswer(field=job.kind, value="", reason=reason, fix="The terminal says more."),)
        job.took_s = time.monotonic() - job.began_s
        job.state = "failed" if job.findings else "done"
        self._tell(job)

    def _tell(self, job: Job) -> None:
        self._hub.publish("job", job.answer().model_dump(mode="json"))
