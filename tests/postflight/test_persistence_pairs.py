"""Which ascents fly on which earlier winds, and where that carries them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import trapezoid

from pappus.earth import geodesic_direct, geodesic_inverse
from pappus.postflight.held_winds._pairs import find_pairs
from postflight.persistence_cases import PRIOR, ascent, later_by


@pytest.mark.parametrize(
    ("hours", "paired"), [(3.9, False), (4.0, True), (9.0, True), (14.0, True), (14.1, False), (-6.0, True)]
)
def test_winds_of_4_to_14_hours_before_are_flown_on(hours: float, paired: bool) -> None:
    pairs, left = find_pairs([ascent(), later_by(hours, ascent())], PRIOR)
    assert (len(pairs) == 1) is paired
    # the first has nothing before it; the second is flown or named beside it
    assert sum(line.count("hill") for line in left) == 2 - len(pairs)
    if paired:
        assert (pairs[0].later_release - pairs[0].earlier_release).total_seconds() == abs(hours) * 3600.0


def test_the_earlier_ascent_left_within_ten_kilometres() -> None:
    for away_m, count in ((9_900.0, 1), (10_100.0, 0)):
        latitude, longitude, _ = geodesic_direct(47.3, 8.5, 60.0, away_m)
        later = later_by(6.0, ascent(latitude_deg=latitude, longitude_deg=longitude))
        assert len(find_pairs([ascent(), later], PRIOR)[0]) == count


def test_a_height_is_compared_once_on_the_latest_winds_that_reach_it() -> None:
    high, low = ascent(), later_by(5.0, ascent(top_msl_m=17_000.0))
    pairs, left = find_pairs([high, low, later_by(10.0, ascent())], PRIOR)
    by_age = {
        (pair.later_release - pair.earlier_release).total_seconds() / 3600.0: list(pair.height_msl_m / 1000.0)
        for pair in pairs
        if (pair.later_release - high.release).total_seconds() == 36_000.0
    }
    assert by_age == {5.0: [10.0, 15.0], 10.0: [20.0, 25.0, 30.0]}
    assert len(left) == 1  # the first of all: the low one is compared as far as it went


def test_heights_that_no_earlier_winds_reach_are_named() -> None:
    pairs, left = find_pairs([ascent(top_msl_m=17_000.0), later_by(5.0, ascent())], PRIOR)
    assert list(pairs[0].height_msl_m) == [10_000.0, 15_000.0]
    assert left[-1].startswith("no earlier winds reach 20, 25, 30 km: hill 2031-04-02 17:00Z")


def test_two_sondes_on_one_balloon_count_once_and_descents_do_not() -> None:
    second = later_by(6.02, ascent())
    fall = replace(later_by(7.0, ascent()), is_descent=True)
    pairs, left = find_pairs([ascent(), later_by(6.0, ascent()), second, fall], PRIOR)
    assert len(pairs) == 1
    assert any(line.startswith("second record of a balloon: hill") for line in left)


def test_soundings_without_a_place_are_counted_not_dropped() -> None:
    nowhere = replace(ascent(), latitude_deg=np.nan, longitude_deg=np.nan)
    pairs, left = find_pairs([nowhere, nowhere, ascent(), later_by(6.0, ascent())], PRIOR)
    assert len(pairs) == 1
    assert left[-1].startswith("2 soundings")


def test_the_error_is_the_difference_of_the_winds_times_the_time() -> None:
    """By hand on a flat earth: (3, -4) m/s for (h - 400 m) / 6 m/s.

    On the ground it is shorter by R / (R + z), 0.25 % here, and meridians 60 km to the east converge by 0.4 %.
    """
    earlier, later = ascent(wind=(10.0, 2.0)), later_by(6.0, ascent(wind=(13.0, -2.0)))
    pair = find_pairs([earlier, later], PRIOR)[0][0]
    seconds = (pair.height_msl_m - 400.0) / 6.0
    assert pair.error_m == pytest.approx(seconds[:, None] * np.array([3.0, -4.0]), rel=1e-2)
    assert pair.drift_m == pytest.approx(seconds * np.hypot(13.0, 2.0), rel=5e-3)
    assert pair.timed
    assert not pair.from_positions


def test_without_times_the_later_balloon_rises_at_five_metres_a_second() -> None:
    later = replace(later_by(6.0, ascent(wind=(13.0, 0.0))), time_s=None)
    pair = find_pairs([ascent(), later], PRIOR)[0][0]
    assert not pair.timed
    assert pair.error_m[:, 0] == pytest.approx(3.0 * (pair.height_msl_m - 400.0) / 5.0, rel=5e-3)


@pytest.mark.parametrize("measured", [True, False])
def test_measured_positions_are_the_truth_and_summed_ones_are_not(measured: bool) -> None:
    """The recorded positions run 100 m a kilometre to the north of what both winds give."""
    plain = later_by(6.0, ascent())
    height = plain.height_msl_m
    # 10 m/s eastward at 47.3 north, in degrees (WGS84 radius in the prime vertical there: 6 389.8 km, computed)
    east_deg = np.degrees(10.0 * (height - height[0]) / 6.0 / ((6_389_800.0 + height / 2.0) * np.cos(np.radians(47.3))))
    north = [geodesic_direct(47.3, 8.5, 0.0, 0.1 * float(h - height[0]))[0] for h in height]
    later = replace(
        plain,
        level_latitude_deg=np.array(north),
        level_longitude_deg=8.5 + east_deg,
        positions_measured=measured,
    )
    pair = find_pairs([ascent(), later], PRIOR)[0][0]
    assert pair.from_positions is measured
    expected = 0.1 * (pair.height_msl_m - 400.0) if measured else np.zeros(len(pair.height_msl_m))
    assert pair.error_m[:, 1] == pytest.approx(expected, abs=30.0)
    assert np.abs(pair.error_m[:, 0]).max() < 60.0


def test_real_albuquerque_pair_against_a_plain_sum(shared_data) -> None:
    """Two recorded ascents twelve hours apart, summed here with metres per degree of a sphere."""
    from pappus.sources import read_sounding

    earlier = read_sounding(shared_data("sondes/kabq_72365_20230521T2305_ascent.bufr"))[0]
    later = read_sounding(shared_data("sondes/kabq_72365_20230522T1104_ascent.bufr"))[0]
    (pair,) = find_pairs([later, earlier], PRIOR)[0]
    assert pair.from_positions
    time, latitude, longitude = later.time_s, later.level_latitude_deg, later.level_longitude_deg
    assert time is not None
    assert latitude is not None
    assert longitude is not None
    u = np.interp(later.height_msl_m, earlier.height_msl_m, earlier.wind_u_m_s)
    v = np.interp(later.height_msl_m, earlier.height_msl_m, earlier.wind_v_m_s)
    for height, error in zip(pair.height_msl_m, pair.error_m, strict=True):
        top = int(np.searchsorted(later.height_msl_m, height))
        east = trapezoid(u[:top], time[:top]) * 6371.0 / (6371.0 + height / 2000.0)
        north = trapezoid(v[:top], time[:top]) * 6371.0 / (6371.0 + height / 2000.0)
        distance, azimuth, _ = geodesic_inverse(
            float(latitude[0]), float(longitude[0]), float(latitude[top]), float(longitude[top])
        )
        was = distance * np.sin(np.radians(azimuth)), distance * np.cos(np.radians(azimuth))
        assert error == pytest.approx([was[0] - east, was[1] - north], abs=150.0)
    assert np.hypot(*pair.error_m.T).max() < 0.2 * pair.drift_m.max()
