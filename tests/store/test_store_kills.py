"""``kill -9`` at random moments of a flight. The full count is in ``benchmarks/store_kills.py``."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from store.kill_flights import RATE_HZ, fly


@pytest.mark.parametrize(("kills", "rate_hz"), [(6, RATE_HZ), (4, 1000.0)])
def test_a_flight_that_is_killed_again_and_again(tmp_path: Path, kills: int, rate_hz: float) -> None:
    """Nothing that was acknowledged is lost, nothing is there twice, and the replay gives what was estimated live."""
    outcome = fly(tmp_path / "trial.flight", kills, random.Random(7), rate_hz)
    assert outcome.kills == kills
    assert not outcome.lost
    assert not outcome.strange
    assert 0 < outcome.acknowledged <= outcome.kept <= outcome.sent
    assert outcome.same_answer
    assert outcome.estimates_sound > 0
    assert outcome.positions > 0
    assert outcome.estimates_differ == 0
