"""Page Flight as JSON: the flights that are drawn are those that were flown."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

import numpy as np
import pytest
from flown_example import FlownExample, flown_example

from pappus.web.before import _release_work


@pytest.fixture(scope="module")
def flown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FlownExample]:
    with flown_example(tmp_path_factory.mktemp("flight")) as example:
        yield example


def test_drawn_flights_are_those_flown(flown: FlownExample) -> None:
    flight = flown.done("/api/flight")["flight"]
    desk = flown.desk
    release = _release_work.judged_release(desk, _release_work.chosen(desk), lambda _: None)
    briefing = release.judged.briefing
    assert (flight["flights"], flight["drawn"]) == (len(briefing.flights.outcome), len(flight["ways"]))
    for way, row in zip(flight["ways"][::17], range(0, flight["drawn"], 17), strict=True):
        count = len(way["seconds"])
        assert {len(way[name]) for name in ("longitude_deg", "latitude_deg", "height_msl_m")} == {count}
        assert way["height_msl_m"][way["top"]] == max(way["height_msl_m"])
        assert way["seconds"] == sorted(way["seconds"])
        if way["landed"]:
            end = (briefing.flights.end_latitude_deg[row], briefing.flights.end_longitude_deg[row])
            drawn = (way["latitude_deg"][-1], way["longitude_deg"][-1])
            assert drawn == pytest.approx(end, abs=2e-3), "a line ends where its flight came down"
    assert max(flight["nominal"]["height_msl_m"]) == pytest.approx(briefing.nominal_top_msl_m, abs=60.0)


def test_moments_are_in_order_and_in_their_spread(flown: FlownExample) -> None:
    flight = flown.done("/api/flight")["flight"]
    times = [datetime.fromisoformat(one["time_utc"]) for one in flight["moments"]]
    assert [one["name"] for one in flight["moments"]] == ["release", "burst", "touchdown"]
    assert times == sorted(times)
    assert times[0] == flown.desk.plan().window.release
    for moment, time in list(zip(flight["moments"], times, strict=True))[1:]:
        assert datetime.fromisoformat(moment["from_utc"]) < time < datetime.fromisoformat(moment["to_utc"])


def test_winds_of_the_members_have_the_mean_that_is_shown(flown: FlownExample) -> None:
    winds = flown.done("/api/flight")["flight"]["winds"]
    speed, bearing = np.array(winds["speed_m_s"]), np.radians(winds["from_deg"])
    assert speed.shape == bearing.shape == (12, len(winds["height_msl_m"])), "the invented forecast has 12 members"
    mean = np.hypot((speed * np.sin(bearing)).mean(axis=0), (speed * np.cos(bearing)).mean(axis=0))
    assert mean == pytest.approx(np.array(winds["mean_speed_m_s"]), abs=0.1)
    assert winds["height_msl_m"] == sorted(winds["height_msl_m"])
