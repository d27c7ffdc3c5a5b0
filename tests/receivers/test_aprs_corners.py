"""Corners of the APRS forms that examples of the reference do not reach (APRS 1.0.1, chapters 6, 8, 9 and 10)."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from pappus.sources.receivers import NotUnderstood, parse
from pappus.sources.receivers._ax25 import Station, UiFrame
from pappus.sources.receivers._kiss import wrap
from pappus.tracking import Fix

HEARD_UTC = datetime(2026, 6, 14, 10, 15, 3, tzinfo=UTC)


def understood(line: str) -> Fix:
    found = parse("aprs-text", line.encode("latin-1"), HEARD_UTC)
    assert not isinstance(found, NotUnderstood), found.why
    return found[0]


def mic_e(degrees: int, *, destination: str = "S32U6T", motion: tuple[int, int, int] = (30, 50, 79)) -> str:
    """A report at 7.74 minutes of this degree west.

    Chapter 10 writes degrees 0-9 as 90-99 and 100-109 as 80-89, both with the offset, and minutes 0-9 as 60-69.
    """
    offset = degrees >= 100 or degrees < 10
    first = degrees + 118 if degrees < 10 else degrees + 28 if degrees < 100 else degrees - 72
    first = degrees + 8 if 100 <= degrees < 110 else first
    letters = destination[:4] + (chr(ord(destination[4]) + 32) if offset else destination[4]) + destination[5]
    return f"N0CALL>{letters}:`{chr(first)}{chr(28 + 67)}{chr(28 + 74)}{''.join(map(chr, motion))}O/"


@pytest.mark.parametrize("degrees", range(180))
def test_every_degree_of_longitude_in_mic_e(degrees: int) -> None:
    assert understood(mic_e(degrees)).longitude_deg == pytest.approx(-(degrees + 7.74 / 60))


@pytest.mark.parametrize(("course", "told"), [(0, None), (1, 1.0), (251, 251.0), (359, 359.0), (360, 0.0)])
def test_the_course_of_mic_e_may_be_raised_by_400(course: int, told: float | None) -> None:
    for raised in (course, course + 400):
        motion = (28 + 80, 28 + raised // 100, 28 + raised % 100)  # 800 knots more are none
        fix = understood(mic_e(12, motion=motion))
        assert (fix.course_deg, fix.speed_m_s) == (told, 0.0)


def test_gaps_in_mic_e_hold_for_the_longitude_too() -> None:
    # Z: a space and north or west as P to Y; L: a space and the other
    fix = understood(mic_e(12, destination="S32ULZ"))
    assert fix.latitude_deg == pytest.approx(33 + 25.5 / 60)
    assert fix.longitude_deg == pytest.approx(-(12 + 7.5 / 60))
    assert fix.position_step_m == 1852.0


def test_gaps_in_a_plain_latitude_hold_for_all_digits_of_the_longitude() -> None:
    fix = understood("N0CALL>APRS:!4530.  N/00715.59EO")
    assert fix.longitude_deg == pytest.approx(7 + 15.5 / 60)


def test_the_bit_of_a_current_fix() -> None:
    current, old = (chr(33 + kind) for kind in (0b111010, 0b011010))
    assert "position" not in understood(f"N0CALL>APRS:!/5L!!<*e7>7P{current}").extra
    assert understood(f"N0CALL>APRS:!/5L!!<*e7>7P{old}").extra["position"] == "the last known one"


def test_the_mark_of_old_mic_e_data() -> None:
    line = mic_e(12).replace(":`", ":'")
    assert understood(line).extra["position"] == "marked as the last known one"


def test_a_frame_with_a_layer_3_is_refused() -> None:
    frame = UiFrame(Station("APRS", 0, True), Station("N0CALL", 0, False), (), b"!4530.00N/00715.50EO").to_bytes()
    assert isinstance(parse("ax25", wrap(frame), HEARD_UTC), tuple)
    net_rom = frame.replace(b"\x03\xf0", b"\x03\xcf")
    found = parse("ax25", wrap(net_rom), HEARD_UTC)
    assert isinstance(found, NotUnderstood)
    assert "layer 3" in found.why
