"""Reports due on the flight day: times of the flight as flown, as 14 CFR 101.39 asks for them (text on ecfr.gov)."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from flown_example import FlownExample, flown_example

from pappus.inflight import estimator_for
from pappus.sources.receivers import parse
from pappus.tracking import Estimate, Phase, received
from pappus.web.day._flight_ahead import Lookout, due_on_day

HEAVY = r'\1"3.5 kg"'
"""More than the six pounds of one package that 14 CFR 101.1(a)(4)(ii) lets go without rules of part 101."""


@pytest.fixture
def flown(tmp_path: Path) -> Iterator[FlownExample]:
    with flown_example(tmp_path) as example:
        plan = example.desk.plan_path
        text = plan.read_text("utf-8").replace('profile = "argentina"', 'profile = "us"')
        plan.write_text(re.sub(r'(\[\[package\]\].*?mass = )"[^"]*"', HEAVY, text, count=1, flags=re.S), "utf-8")
        yield example


def ascent(flown: FlownExample) -> Estimate:
    """Ten minutes up from the site, a position every ten seconds."""
    plan = flown.desk.plan()
    estimator, site = estimator_for(plan, None)(), plan.sites[0]
    for second in range(-120, 600, 10):
        when = plan.window.release + timedelta(seconds=second)
        fields = {
            "tracker": "BALLOON-1", "time_utc": when.isoformat(), "latitude_deg": site.latitude_deg,
            "longitude_deg": site.longitude_deg, "height_msl_m": site.height_msl_m + 5.0 * max(0, second),
        }  # fmt: skip
        heard = received("hill", second + 200, when, "json", json.dumps(fields).encode())
        estimator.take(heard, parse("json", heard.raw, when))
    return estimator.estimate()


def test_two_hours_count_from_the_last_position_and_the_descent_from_the_burst(flown: FlownExample) -> None:
    lookout = Lookout(flown.desk, flown.desk.plan().sites[0])
    model = lookout.forecast_model(flown.desk.plan().window.release)
    profile, estimate = lookout.profile(), ascent(flown)
    assert profile is not None
    assert estimate.position is not None
    predicted = lookout.predict(estimate, estimate.position.time_utc + timedelta(seconds=5))
    due = {one.deadline_id: one for one in due_on_day(profile, model, estimate, predicted)}
    # 101.39(c): no position recorded for any two hours of the flight
    assert due["position-gap"].due_utc - estimate.position.time_utc == timedelta(hours=2)
    # 101.39(b): one hour before the descent begins
    burst = predicted.answer.burst_utc
    assert burst is not None
    assert burst - due["descent-report"].due_utc == timedelta(hours=1)
    assert all(one.who for one in due.values())
    down = replace(estimate, phase=Phase.LANDED, landed_utc=estimate.position.time_utc)
    assert "position-gap" not in {one.deadline_id for one in due_on_day(profile, model, down, None)}
    lookout.report(model, estimate, predicted)
    assert {one.deadline_id for one in lookout.due} == set(due)
