"""Map lines: clipping against shapely, and longitudes of every convention."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, MultiLineString, box

from pappus.errors import OutOfRange
from pappus.ground import MapLines

DIAGONAL = np.array([[float(x), float(x)] for x in range(-40, 41)])
NEAR_DATE_LINE = np.array([[178.0, 0.5], [179.0, 0.5], [180.0, 0.5]])
BEYOND_DATE_LINE = np.array([[-180.0, 0.5], [-179.0, 0.5], [-178.0, 0.5]])
LINES = MapLines(coast=(DIAGONAL, NEAR_DATE_LINE, BEYOND_DATE_LINE), borders=(DIAGONAL[:, ::-1] * (1, -1),))


def test_only_the_touching_part_comes_back() -> None:
    clipped = LINES.clip(10.5, 20.5, 5.0, 30.0)
    assert len(clipped.coast) == 1
    assert clipped.coast[0][:, 0].tolist() == list(range(10, 22))  # one point beyond each edge
    assert clipped.borders == ()


def test_clip_loses_nothing_that_shapely_finds() -> None:
    random = np.random.default_rng(4)
    lines = tuple(np.cumsum(random.normal(0, 2, (200, 2)), axis=0).clip(-80, 80) for _ in range(20))
    for _ in range(20):
        west, south = random.uniform(-40, 30, 2)
        area = box(west, south, west + 15, south + 10)
        clipped = MapLines(coast=lines, borders=()).clip(south, south + 10, west, west + 15).coast
        expected = MultiLineString([LineString(line) for line in lines]).intersection(area).length
        assert MultiLineString([LineString(line) for line in clipped]).intersection(area).length == pytest.approx(
            expected
        )


@pytest.mark.parametrize(("west", "east"), [(178.5, 181.5), (-181.5, -178.5), (178.5, -178.5), (538.5, 541.5)])
def test_box_over_the_date_line(west: float, east: float) -> None:
    coast = LINES.clip(0.0, 1.0, west, east).coast
    points = np.concatenate(coast)
    assert sorted(set(points[:, 0] - west)) == [-0.5, 0.5, 1.5, 2.5, 3.5]  # both sides, run on from the west edge


def test_whole_earth() -> None:
    # the line that runs over the edge of the map shows again at the other edge, with the one step that crosses
    coast = LINES.clip(-90.0, 90.0, -180.5, 179.5).coast
    assert sorted(len(line) for line in coast) == [2, 3, 3, 81]


def test_nothing_there() -> None:
    empty = LINES.clip(-80.0, -70.0, 0.0, 10.0)
    assert empty.coast == () == empty.borders
    assert MapLines((), ()).clip(0.0, 1.0, 0.0, 1.0).coast == ()


@pytest.mark.parametrize(("south", "north"), [(10.0, 5.0), (-91.0, 0.0), (0.0, 90.5), (float("nan"), 1.0)])
def test_bad_latitudes(south: float, north: float) -> None:
    with pytest.raises(OutOfRange, match="latitudes of a map"):
        LINES.clip(south, north, 0.0, 1.0)
