"""Height against time: clocks, heights, the end of the winds, landing times."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pictures import BLUE, GREEN, GROUND, GROUND_MSL_M, pixels, scattered_ends, straight_flights, where, words

from pappus.export import draw_height_time
from pappus.trajectory import Outcome

HATCH = "#c4c4c4"


def draw(path: Path, **keys: Any) -> Path:
    hours = np.linspace(2.0, 3.0, 101)
    usual = {
        "flights": straight_flights(scattered_ends(101), hours=hours),
        "nominal": straight_flights((-37.2, -63.8)),
        "release": datetime(2027, 2, 13, 18, 30, tzinfo=UTC),
        "zone": "Asia/Kathmandu",
        "wanted_height_msl_m": 28_000.0,
        "winds_top_msl_m": 24_000.0,
        "ground_msl_m": GROUND_MSL_M,
        "title": "Height and time",
        "footer": "Invented example.",
    }
    draw_height_time(path, **(usual | keys))
    return path


def test_both_clocks_agree_with_the_zone(tmp_path: Path) -> None:
    """Nepal is 5 h 45 min ahead of UTC (IANA time zone database), and 13 February there has become the 14th."""
    said = words(draw(tmp_path / "a.svg"))
    assert "UTC, 2027-02-13" in said
    assert "local time, Asia/Kathmandu, 2027-02-14" in said
    clocks = re.findall(r"^(\d\d:\d\d)$", said, re.M)
    above, below = clocks[: len(clocks) // 2], clocks[len(clocks) // 2 :]
    assert "19:00" in below
    assert above[below.index("19:00")] == "00:45"
    said = said.replace("\n", " ")
    assert "release 18:30Z (00:15 local, the day after)" in said
    # 2.5 h after release, and 60 % of it to the burst
    assert "burst 20:00Z (01:45 local, the day after) at 30.0 km (98,400 ft)" in said
    assert "landing 21:00Z (02:45 local" in said


def test_landing_times_hold_the_middle_90_percent(tmp_path: Path) -> None:
    """Flights of 120 to 180 min, evenly: 5 % and 95 % are at 123 and 177 min."""
    said = words(draw(tmp_path / "a.svg"))
    assert "90 % of 101 landings 20:33Z to 21:27Z (02:18 to 03:12 local)" in said
    bar = where(pixels(draw(tmp_path / "a.png")), BLUE)
    columns = np.flatnonzero(bar.any(axis=0))
    shorter = where(pixels(draw(tmp_path / "b.png", flights=_evenly(2.4, 3.0))), BLUE)
    share = np.ptp(np.flatnonzero(shorter.any(axis=0))) / np.ptp(columns)
    assert share == pytest.approx(0.6, abs=0.01)


def _evenly(first: float, last: float) -> Any:
    return straight_flights(scattered_ends(101), hours=np.linspace(first, last, 101))


def test_heights_are_in_proportion_and_start_at_the_ground(tmp_path: Path) -> None:
    rows = {}
    for height in (10_000.0, 20_000.0):
        picture = pixels(draw(tmp_path / f"{height:.0f}.png", wanted_height_msl_m=height))
        green = np.flatnonzero(where(picture, GREEN).sum(axis=1) > 500)
        ground = np.flatnonzero(where(picture, GROUND).sum(axis=1) > 300)
        rows[height] = float(ground.min() - green.mean())
    assert rows[20_000.0] / rows[10_000.0] == pytest.approx((20_000 - GROUND_MSL_M) / (10_000 - GROUND_MSL_M), abs=0.01)


def test_axes_and_lines_are_named_with_units(tmp_path: Path) -> None:
    said = words(draw(tmp_path / "a.svg"))
    for text in (
        "height above mean sea level, km", "thousand ft", "wanted 28.0 km (91,900 ft)", "ground 225 m (740 ft)",
        "winds end at 24.0 km (78,700 ft),", "extrapolated above", "nominal burst 30.0 km (98,400 ft)",
        "predicted flights, down", "Height and time", "Invented example.",
    ):  # fmt: skip
        assert text in said


def test_only_what_lies_above_the_winds_is_hatched(tmp_path: Path) -> None:
    picture = pixels(draw(tmp_path / "a.png"))
    strip = where(picture, GROUND)
    ground, left = int(np.flatnonzero(strip.sum(axis=1) > 300).min()), int(np.flatnonzero(strip.any(axis=0)).min())
    green = float(np.flatnonzero(where(picture, GREEN).sum(axis=1) > 500).mean())
    winds_end = round(ground - (ground - green) * (24_000 - GROUND_MSL_M) / (28_000 - GROUND_MSL_M))
    clear = slice(left + 5, left + 150)  # no flight and no word is there
    above, below = slice(round(green) + 5, winds_end - 4), slice(winds_end + 5, winds_end + 60)
    hatched = where(picture, HATCH, 12)
    assert hatched[above, clear].mean() > 0.05
    assert not hatched[below, clear].any()
    bare = pixels(draw(tmp_path / "b.png", winds_top_msl_m=None))
    assert not where(bare, HATCH, 12)[above, clear].any()


def test_an_unknown_or_distant_end_of_the_winds_is_said(tmp_path: Path) -> None:
    assert "where the winds end is not known" in words(draw(tmp_path / "a.svg", winds_top_msl_m=None))
    said = words(draw(tmp_path / "b.svg", winds_top_msl_m=60_000.0))
    assert "the winds reach 60.0 km (196,900 ft), higher than this picture" in said
    assert "extrapolated" not in said


def test_without_a_landing_there_are_no_landing_times(tmp_path: Path) -> None:
    lost = straight_flights(scattered_ends(40), outcome=Outcome.STILL_ALOFT)
    nominal = straight_flights((-37.2, -63.8), outcome=Outcome.STILL_ALOFT)
    said = words(draw(tmp_path / "a.svg", flights=lost, nominal=nominal))
    assert "◇ 0 of 40 flights landed in the data: no landing times" in said
    assert "◇ landing not in the data" in said
    assert "last known height, not landed (40)" in said
    assert "burst" not in said
    assert where(pixels(draw(tmp_path / "a.png", flights=lost, nominal=nominal)), BLUE).sum() == 0


def test_a_long_flight_is_counted_and_does_not_squeeze_the_others(tmp_path: Path) -> None:
    hours = np.append(np.linspace(2.0, 3.0, 400), 20.0)
    said = words(draw(tmp_path / "a.svg", flights=straight_flights(scattered_ends(401), hours=hours)))
    assert "1 flight stays up longer than this picture shows" in said
    assert "21:30" in said
    assert "06:00" not in said


def test_a_release_without_an_offset_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="offset from UTC"):
        draw(tmp_path / "a.png", release=datetime(2027, 2, 13, 18, 30))  # noqa: DTZ001  naive on purpose
