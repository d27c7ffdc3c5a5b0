"""What the driver hears: turns on a known crossing, rounding, what is not said without data, and dismissal."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pappus.earth import LocalPlane
from pappus.ground import MapBox, RoadNetwork, RoadWay, build_road_network
from pappus.recovery import SAFETY, Car, Effort, Landings, Meeting, Reach, chase_roads, meeting_point, say_road_distance
from pappus.recovery import spoken as lines_for
from recovery.road_maps import scattered, street_grid

PLANE = LocalPlane(50.0, 10.0)


def crossing() -> RoadNetwork:
    """An invented cross of three roads: 5 km from the south, then north road, east road and west road of 10 km."""
    steps = np.arange(0.0, 10_001.0, 250.0)
    arms = {"Route 14": (1.0, 0.0), "Mill Lane": (-1.0, 0.0), "Hill Road": (0.0, 1.0), "South Road": (0.0, -0.5)}
    east, north, ways, count = [0.0], [0.0], [], 1
    for name, (toward_east, toward_north) in arms.items():
        along = steps[1:]
        nodes = np.concatenate(([0], count + np.arange(len(along))))
        east += list(toward_east * along)
        north += list(toward_north * along)
        count += len(along)
        ways.append(RoadWay(nodes, True, True, 20.0, 20.0, False, "secondary", name))
    places = PLANE.to_latitude_longitude_deg(np.array(east), np.array(north))
    return build_road_network(MapBox(49.8, 50.2, 9.8, 10.2), *places, ways)


def told(east_m: float, north_m: float, *, touchdown_s: float = 3000.0, car_north_m: float = -2000.0) -> Meeting:
    """A car on the south road heading for landings scattered by 300 m about a place."""
    rng = np.random.default_rng(1)
    landings = Landings(
        *PLANE.to_latitude_longitude_deg(east_m + rng.normal(0, 300, 400), north_m + rng.normal(0, 300, 400)),
        touchdown_s + rng.normal(0, 60, 400),
        0,
    )
    latitude, longitude = PLANE.to_latitude_longitude_deg(0.0, car_north_m)
    car = Car("one", float(latitude), float(longitude))
    reach = Reach(within_s=1500.0, slower=1.0)
    return meeting_point([car], landings, chase_roads(crossing(), None), reach=reach).meetings[0]


@pytest.mark.parametrize(
    ("east_m", "north_m", "words"),
    [
        (6000.0, 200.0, "Turn right in 2 kilometres onto Route 14."),
        (-6000.0, 200.0, "Turn left in 2 kilometres onto Mill Lane."),
        (200.0, 6000.0, "Go straight on in 2 kilometres onto Hill Road."),
    ],
)
def test_turns_are_said_as_they_lie(east_m: float, north_m: float, words: str) -> None:
    drive = next(line for line in lines_for(told(east_m, north_m)) if line.kind == "drive")
    assert drive.words == words


def test_time_and_margin_are_those_of_the_meeting() -> None:
    meeting = told(6000.0, 200.0)
    said = next(line for line in lines_for(meeting) if line.kind == "meeting point").words
    found = re.fullmatch(r"Meeting point in (\d+) minutes?, [\d.]+ kilometres?\. Margin (\d+) minutes\.", said)
    assert found is not None, said
    assert meeting.route is not None
    assert meeting.margin_s is not None
    assert int(found[1]) == pytest.approx(meeting.route.drive_time_s / 60.0, abs=0.5)
    assert 0.0 <= meeting.margin_s.values[0] / 60.0 - int(found[2]) < 1.0  # nine in ten, rounded down
    late = told(6000.0, 200.0, touchdown_s=120.0)
    said = next(line for line in lines_for(late) if line.kind == "meeting point").words
    assert "Margin" not in said
    assert "Keep to the speed limit" in said


def test_after_touchdown_no_margin_is_said() -> None:
    said = next(line for line in lines_for(told(6000.0, 200.0, touchdown_s=-900.0)) if line.kind == "meeting point")
    assert said.words.endswith("The payload should be down.")
    assert "argin" not in said.words


def test_near_a_turn_it_is_now() -> None:
    drive = next(line for line in lines_for(told(6000.0, 200.0, car_north_m=-20.0)) if line.kind == "drive")
    assert drive.words == "Now turn right onto Route 14."


def test_nothing_is_said_that_is_not_known() -> None:
    landings = Landings(np.full(30, 50.1), np.full(30, 10.0), np.full(30, 900.0), 0)
    (meeting,) = meeting_point([Car("one", 50.0, 10.0)], landings, None).meetings
    lines = lines_for(meeting)
    assert {line.kind for line in lines} == {"meeting point", "safety"}
    assert "11 kilometres north of you in a straight line" in lines[0].words
    for line in lines:
        assert not re.search(r"minute|margin|turn", line.words.lower()), line.words
    (meeting,) = meeting_point([Car("one", 50.0, 10.0)], Landings(*np.empty((3, 0)), 9), None).meetings
    assert "Stay where you are" in lines_for(meeting)[0].words


def test_cautions_come_with_every_meeting_and_any_line_may_be_dismissed() -> None:
    meeting = told(6000.0, 200.0)
    lines = lines_for(meeting)
    words = " ".join(line.words for line in lines)
    for needed in ("power line", "rails", "operator", "Do not drive under", "stop first"):
        assert needed in words
    assert len({line.id for line in lines}) == len(lines)
    for line in lines:
        rest = lines_for(meeting, dismissed={line.id})
        assert [other.id for other in rest] == [other.id for other in lines if other.id != line.id]
    assert lines_for(meeting, dismissed={line.id for line in lines}) == ()
    assert sum(line.kind == "safety" for line in lines) == len(SAFETY)
    # nearer to the same place the advice is the same line; another place is another line
    assert meeting.route is not None
    nearer = replace(meeting, route=replace(meeting.route, length_m=100.0))
    assert [line.id for line in lines_for(nearer)] == [line.id for line in lines]
    other = next(line for line in lines_for(told(-6000.0, 200.0)) if line.kind == "meeting point")
    assert other.id not in {line.id for line in lines}


def test_an_old_position_and_an_open_choice_are_said() -> None:
    roads = street_grid(9, 4)
    landings = scattered(roads, 4, 400, sd_deg=0.006, touchdown_s=3000.0, spread_s=60.0)
    for seed in range(5):
        car = Car("one", 50.0 + 0.001 * seed, 10.0, age_s=420.0)
        (meeting,) = meeting_point([car], landings, chase_roads(roads, None), effort=Effort(looks=30)).meetings
        lines = {line.kind: line.words for line in lines_for(meeting)}
        assert lines["warning"].startswith("Your own position is 7 minutes old.")
        assert ("choice" in lines) == (meeting.decision is not None)
        if meeting.decision is not None:
            assert f"{meeting.decision.choices} meeting points" in lines["choice"]


def test_distances_as_people_say_them() -> None:
    metric = {20.0: "50 metres", 130.0: "150 metres", 980.0: "1 kilometre", 1300.0: "1.5 kilometres",
              9800.0: "10 kilometres", 48_300.0: "48 kilometres"}  # fmt: skip
    imperial = {100.0: "100 yards", 420.0: "a quarter of a mile", 800.0: "half a mile", 1609.0: "1 mile",
                2500.0: "1.5 miles", 30_000.0: "19 miles"}  # fmt: skip
    for length, words in metric.items():
        assert say_road_distance(length, "metric") == words
    for length, words in imperial.items():
        assert say_road_distance(length, "imperial") == words
    with pytest.raises(ValueError, match="distance along the road"):
        say_road_distance(-1.0, "metric")
    with pytest.raises(ValueError, match="units are"):
        lines_for(told(6000.0, 200.0), units="nautical")  # type: ignore[arg-type]  # wrong on purpose


@given(st.floats(0.0, 1e6))
def test_a_said_distance_is_near_the_real_one(length_m: float) -> None:
    """Within 50 m or half of the step of a half kilometre, and never more than a third beyond a kilometre."""
    said = say_road_distance(length_m, "metric")
    number, unit = said.split()
    metres = float(number) * (1000.0 if unit.startswith("kilo") else 1.0)
    assert abs(metres - length_m) <= max(50.0, 0.26 * length_m)
