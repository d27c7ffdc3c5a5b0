"""Heavy work: begun once, its steps told, failures in words, old answers let go."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator

import pytest

from pappus.errors import BadInput, Finding, NoSolution
from pappus.web.desk._events import Hub
from pappus.web.desk._jobs import KEPT_OF_A_KIND, Job, Jobs, Step


class Told(Hub):
    """A hub that keeps what it was told."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[dict[str, object]] = []

    def publish(self, kind: str, data: dict[str, object], *_: object) -> None:  # type: ignore[override]  # no roles here
        assert kind == "job"
        self.said.append(data)


@pytest.fixture
def hub() -> Told:
    return Told()


@pytest.fixture
def jobs(hub: Told) -> Iterator[Jobs]:
    made = Jobs(hub)
    yield made
    made.close()


def ended(job: Job) -> Job:
    end = time.monotonic() + 60.0
    while job.state not in ("done", "failed"):
        assert time.monotonic() < end
        time.sleep(0.005)
    return job


def test_asking_twice_works_once(jobs: Jobs, hub: Told) -> None:
    count, hold = [0], threading.Event()

    def work(step: Step) -> int:
        count[0] += 1
        step("first half")
        hold.wait(10)
        step("second half")
        return 42

    first = jobs.ask("window", "a", work)
    assert jobs.ask("window", "a", work) is first
    hold.set()
    assert ended(first).result == 42
    assert jobs.ask("window", "a", work) is first
    assert count == [1]
    time.sleep(0.05)
    assert [one["state"] for one in hub.said] == ["running", "running", "running", "done"]
    assert [one["step"] for one in hub.said] == ["", "first half", "second half", "second half"]
    jobs.forget("window", "a")
    assert ended(jobs.ask("window", "a", work)).result == 42
    assert count == [2]


def raising(error: Exception) -> Callable[[Step], None]:
    def work(_: Step) -> None:
        raise error

    return work


def test_failures_are_words_and_may_be_tried_again(jobs: Jobs) -> None:
    bad = ended(jobs.ask("brief", "a", raising(BadInput(Finding("winds", "x", "too old", "Fetch.")))))
    assert [one.reason for one in bad.answer().findings] == ["too old"]
    none = ended(jobs.ask("brief", "b", raising(NoSolution("it cannot lift"))))
    assert none.answer().findings[0].reason == "it cannot lift"
    again = ended(jobs.ask("brief", "a", lambda step: 7))
    assert (again.state, again.result) == ("done", 7)


def test_a_fault_of_ours_is_told_without_its_inside(jobs: Jobs, caplog: pytest.LogCaptureFixture) -> None:
    job = ended(jobs.ask("brief", "c", raising(ZeroDivisionError("inside"))))
    assert job.state == "failed"
    assert "inside" not in job.answer().model_dump_json().replace("inside pappus", "")
    assert "ZeroDivisionError" in caplog.text


def test_old_answers_are_let_go(jobs: Jobs) -> None:
    for n in range(3 * KEPT_OF_A_KIND):
        ended(jobs.ask("window", str(n), lambda step: 1))
    assert len(jobs.all()) <= KEPT_OF_A_KIND + 1
