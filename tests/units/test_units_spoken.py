"""Spoken numbers. Conversions by hand from exact factors (ft 0.3048 m, mi 1609.344 m, kt 1852 m/h, gf 9.80665 mN)."""

import math
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfoNotFoundError

import pytest

from pappus.errors import OutOfRange
from pappus.units import (
    say_area_km2,
    say_distance,
    say_duration,
    say_height,
    say_height_range,
    say_lift,
    say_position,
    say_speed,
    say_time,
)


@pytest.mark.parametrize(
    ("say", "values", "spoken"),
    [
        (say_height, (31800.0,), "31.8 km (104,300 ft)"),  # 104330.7 ft
        (say_height, (1240.0,), "1,240 m (4,070 ft)"),  # 4068.2 ft
        (say_height, (-420.0,), "-420 m (-1,380 ft)"),  # 1378.0 ft
        (say_height, (0.0,), "0 m (0 ft)"),
        (say_height_range, (30900.0, 32600.0), "30.9 to 32.6 km (101,400 to 107,000 ft)"),  # 101378, 106955 ft
        (say_height_range, (185.0, 31800.0), "0.2 to 31.8 km (600 to 104,300 ft)"),
        (say_height_range, (185.0, 220.0), "185 to 220 m (610 to 720 ft)"),
        (say_lift, (2150 * 9.80665e-3,), "2150 gf (21.1 N)"),
        (say_lift, (2147 * 9.80665e-3,), "2150 gf (21.1 N)"),
        (say_lift, (87 * 9.80665e-3,), "87 gf (0.85 N)"),
        (say_distance, (850.0,), "850 m (2,790 ft)"),  # 2788.7 ft
        (say_distance, (48300.0,), "48.3 km (30.0 mi)"),  # 30.01 mi
        (say_distance, (1234567.0,), "1,235 km (767 mi)"),  # 767.1 mi
        (say_speed, (5.0,), "5.0 m/s (9.7 kt)"),  # 9.72 kt
        (say_speed, (-0.01,), "0.0 m/s (0.0 kt)"),
        (say_area_km2, (412.0,), "412 km² (159 sq mi)"),  # 159.07
        (say_area_km2, (4.0,), "4.0 km² (1.5 sq mi)"),  # 1.544
        (say_duration, (0.0,), "0 s"),
        (say_duration, (59.6,), "1 min 00 s"),
        (say_duration, (270.0,), "4 min 30 s"),
        (say_duration, (840.0,), "14 min"),
        (say_duration, (3599.0,), "1 h 00 min"),
        (say_duration, (8040.0,), "2 h 14 min"),
        (say_position, (-37.38, -64.6), "37.3800° S 64.6000° W"),
        (say_position, (37.38, 295.4), "37.3800° N 64.6000° W"),
        (say_position, (-0.00001, 0.00001), "0.0000° N 0.0000° E"),
    ],
)
def test_numbers_as_a_crew_says_them(say, values, spoken):
    assert say(*values) == spoken


def test_times_give_utc_first_and_local_behind():
    # La Pampa keeps UTC-3 all year (tz database, America/Argentina/Salta).
    noon = datetime(2027, 2, 13, 10, 42, tzinfo=UTC)
    assert say_time(noon, "America/Argentina/Salta") == "10:42Z (07:42 local)"
    assert say_time(noon, "America/Argentina/Salta", date=True) == "2027-02-13 10:42Z (07:42 local)"
    assert say_time(noon.astimezone(timezone(timedelta(hours=5))), "America/Argentina/Salta") == "10:42Z (07:42 local)"
    assert say_time(noon + timedelta(seconds=31), "America/Argentina/Salta") == "10:43Z (07:43 local)"


def test_a_local_time_on_another_day_says_so():
    late = datetime(2027, 2, 13, 1, 30, tzinfo=UTC)
    assert say_time(late, "America/Argentina/Salta") == "01:30Z (22:30 local, the day before)"
    assert say_time(late.replace(hour=23), "Asia/Tokyo") == "23:30Z (08:30 local, the day after)"


def test_times_that_cannot_be_said():
    with pytest.raises(ValueError, match="no offset"):
        say_time(datetime(2027, 2, 13, 10, 42), "UTC")  # noqa: DTZ001  naive on purpose
    with pytest.raises(ZoneInfoNotFoundError):
        say_time(datetime(2027, 2, 13, tzinfo=UTC), "Atlantis/Capital")


@pytest.mark.parametrize("say", [say_height, say_lift, say_distance, say_speed, say_area_km2, say_duration])
@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_an_unknown_number_is_never_said(say, value):
    with pytest.raises(OutOfRange):
        say(value)


@pytest.mark.parametrize(
    ("say", "values"),
    [(say_distance, (-1.0,)), (say_area_km2, (-1.0,)), (say_duration, (-1.0,)), (say_position, (91.0, 0.0)),
     (say_position, (0.0, 361.0)), (say_height_range, (2.0, 1.0))],
)  # fmt: skip
def test_values_that_make_no_sense_are_refused(say, values):
    with pytest.raises(OutOfRange):
        say(*values)
