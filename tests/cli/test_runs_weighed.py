"""Several runs: older ones weigh less where the plan says so, and too old ones are not flown."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, cast

import numpy as np
import pytest

from pappus.preflight.winds._runs import shares_of

NOON = datetime(2027, 2, 13, 12, tzinfo=UTC)


@dataclass(frozen=True)
class Known:
    issued: datetime


@dataclass(frozen=True)
class OfAge:
    known: Known


def runs(*hours_old: float) -> Any:
    return cast(Any, [OfAge(Known(NOON - timedelta(hours=hours))) for hours in hours_old])


@pytest.mark.parametrize("flights", [50, 1000, 1001, 100_000])
def test_every_flight_belongs_to_a_run(flights: int) -> None:
    for half_life in (None, 12 * 3600.0):
        shares = shares_of(runs(0, 6, 12, 18), flights, half_life)
        assert shares.sum() == flights
        assert shares.min() >= 1
        assert (np.diff(shares) <= 1).all()


def test_a_run_older_by_the_half_life_gets_half() -> None:
    newest, older = shares_of(runs(0, 12), 30_002, 12 * 3600.0)
    assert newest == pytest.approx(2 * older, rel=1e-3)
    same = shares_of(runs(0, 12), 1000, None)
    assert list(same) == [500, 500]
