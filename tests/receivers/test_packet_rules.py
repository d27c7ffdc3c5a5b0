"""What each parser takes, gives up and refuses; formats by their standards, see the parsers for the sources."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from pappus.sources.receivers import NotUnderstood, parse
from pappus.sources.receivers._ax25 import Station, UiFrame, check_sequence
from pappus.sources.receivers._kiss import wrap
from pappus.sources.receivers._nmea_sentence import checksum
from pappus.sources.receivers._ubx import fletcher
from pappus.tracking import Fix

HEARD_UTC = datetime(2026, 6, 14, 10, 15, 3, tzinfo=UTC)


def nmea(*bodies: str) -> bytes:
    lines = (f"${body}*{checksum(body.encode('latin-1')):02X}\r\n" for body in bodies)
    return "".join(lines).encode("latin-1")


def understood(kind: Any, raw: bytes | str, heard_utc: datetime = HEARD_UTC) -> Fix:
    found = parse(kind, raw.encode("latin-1") if isinstance(raw, str) else raw, heard_utc)
    assert not isinstance(found, NotUnderstood), found.why
    (fix,) = found
    return fix


def refused(kind: Any, raw: bytes | str) -> str:
    found = parse(kind, raw.encode("latin-1") if isinstance(raw, str) else raw, HEARD_UTC)
    assert isinstance(found, NotUnderstood), found
    return found.why


GGA = "GNGGA,101500.00,4530.0000,N,00715.5000,E,1,11,0.80,31245.6,M,48.2,M,,"
RMC = "GNRMC,101500.00,A,4530.0000,N,00715.5000,E,18.5,092.3,140626,,,A"


class TestNmea:
    def test_gga_and_rmc_of_one_epoch_make_one_fix(self) -> None:
        fix = understood("nmea", nmea(GGA, RMC))
        assert fix.time_utc == datetime(2026, 6, 14, 10, 15, tzinfo=UTC)
        assert fix.time_quality == "full"
        assert (fix.latitude_deg, fix.height_msl_m) == (45.5, 31245.6)
        assert fix.speed_m_s == pytest.approx(9.5172, abs=1e-3)
        assert fix.checked

    def test_the_order_of_the_sentences_does_not_matter(self) -> None:
        assert understood("nmea", nmea(RMC, GGA)) == understood("nmea", nmea(GGA, RMC))

    def test_two_epochs_make_two_fixes(self) -> None:
        found = parse("nmea", nmea(GGA, RMC, GGA.replace("101500", "101501")), HEARD_UTC)
        assert isinstance(found, tuple)
        assert [fix.time_utc.second for fix in found if fix.time_utc] == [0, 1]

    def test_gga_alone_takes_the_date_of_the_hearing(self) -> None:
        fix = understood("nmea", nmea(GGA))
        assert (fix.time_quality, fix.time_utc) == ("time of day", datetime(2026, 6, 14, 10, 15, tzinfo=UTC))

    @pytest.mark.parametrize(
        ("heard", "clock", "day"),
        [("2026-06-15T00:00:01Z", "235959", 14), ("2026-06-14T23:59:59Z", "000001", 15)],
    )
    def test_midnight_is_crossed_both_ways(self, heard: str, clock: str, day: int) -> None:
        fix = understood("nmea", nmea(GGA.replace("101500.00", clock)), datetime.fromisoformat(heard))
        assert fix.time_utc is not None
        assert fix.time_utc.day == day

    @pytest.mark.parametrize(("quality", "why"), [("0", "no fix"), ("", "no fix"), ("6", "dead"), ("8", "simulated")])
    def test_what_is_not_measured_is_no_fix(self, quality: str, why: str) -> None:
        fix = understood("nmea", nmea(GGA.replace(",E,1,", f",E,{quality},")))
        assert (fix.latitude_deg, fix.height_msl_m, fix.fix_quality) == (None, None, "none")
        assert why in str(fix.extra["no_fix"])

    def test_a_warning_of_one_sentence_takes_the_fix_of_the_other(self) -> None:
        fix = understood("nmea", nmea(GGA, RMC.replace(",A,4530", ",V,4530")))
        assert (fix.latitude_deg, fix.fix_quality) == (None, "none")

    def test_zeros_are_no_position(self) -> None:
        fix = understood("nmea", nmea("GPGGA,101500,0000.0000,N,00000.0000,E,1,05,1.0,0.0,M,0.0,M,,"))
        assert (fix.latitude_deg, fix.fix_quality) == (None, "none")

    def test_a_damaged_line_is_left_out_and_counted(self) -> None:
        fix = understood("nmea", nmea(GGA) + nmea(RMC).replace(b"18.5", b"98.5"))
        assert (fix.speed_m_s, fix.extra["lines_refused"], fix.latitude_deg) == (None, 1.0, 45.5)

    def test_two_places_in_one_epoch_are_none(self) -> None:
        fix = understood("nmea", nmea(GGA, RMC.replace("4530", "4630")))
        assert fix.latitude_deg is None
        assert "two places" in str(fix.extra["no_fix"])

    def test_a_held_height_is_not_a_height(self) -> None:
        fix = understood("nmea", nmea(GGA, "GNGSA,A,2,01,02,03,,,,,,,,,,2.0,1.0,1.7"))
        assert (fix.height_msl_m, fix.height_ellipsoid_m, fix.fix_quality) == (None, None, "two-dimensional")
        assert fix.extra["height_held_msl_m"] == 31245.6

    def test_gns_and_gll(self) -> None:
        gns = understood("nmea", nmea("GNGNS,101500.00,4530.0000,N,00715.5000,E,NA,08,1.1,900.5,48.2,,"))
        assert (gns.latitude_deg, gns.height_msl_m, gns.satellites) == (45.5, 900.5, 8)
        gll = understood("nmea", nmea("GPGLL,4530.0000,S,00715.5000,W,101500.00,A,A"))
        assert (gll.latitude_deg, gll.height_msl_m) == (-45.5, None)
        assert understood("nmea", nmea("GNGNS,101500.00,,,,,NN,00,99.9,,,,")).fix_quality == "none"

    @pytest.mark.parametrize(
        "body",
        [
            GGA.replace("4530.0000", "4560.0000"),  # 60 minutes
            GGA.replace("4530.0000", "9130.0000"),
            GGA.replace(",N,", ",X,"),
            GGA.replace("101500.00", "251500.00"),
            GGA.replace("31245.6,M", "31245.6,F"),  # not metres
            GGA.replace("4530.0000", "453.00000"),
            GGA.replace("31245.6", "nan"),
            GGA.replace("31245.6", "1e9"),
        ],
    )
    def test_fields_that_cannot_be_are_refused(self, body: str) -> None:
        refused("nmea", nmea(body))

    def test_no_checksum_is_no_sentence(self) -> None:
        assert "checksum" in refused("nmea", f"${GGA}\r\n")
        assert "tells a position" in refused("nmea", nmea("GPGSV,1,1,00"))

    def test_few_decimals_are_told_as_a_step(self) -> None:
        assert understood("nmea", nmea(GGA.replace(".0000", ".00"))).position_step_m == pytest.approx(18.52)
        assert understood("nmea", nmea(GGA)).position_step_m is None


class TestAprs:
    def test_the_parts_of_the_header(self) -> None:
        fix = understood("aprs-text", "N0CALL-11>APRS,RELAY1,WIDE2-1*,qAR,N0GATE:!4530.00N/00715.50EO")
        assert fix.tracker == "N0CALL-11"
        assert fix.extra["path"] == "RELAY1,WIDE2-1*,qAR,N0GATE"

    @pytest.mark.parametrize(("gaps", "minute", "step_m"), [
        ("4530.5 N/00715.5 E", 30.55, 185.2), ("4530.  N/00715.  E", 30.5, 1852.0),
        ("453 .  N/0071 .  E", 35.0, 18520.0),
        ("45  .  N/007  .  E", 30.0, 111120.0),
    ])  # fmt: skip
    def test_gaps_in_the_digits_take_the_middle(self, gaps: str, minute: float, step_m: float) -> None:
        fix = understood("aprs-text", f"N0CALL>APRS:!{gaps}O")
        assert fix.latitude_deg == pytest.approx(45 + minute / 60)
        assert fix.position_step_m == pytest.approx(step_m)

    def test_more_digits_of_the_position(self) -> None:
        fix = understood("aprs-text", "N0CALL>APRS:!4530.12N/00715.50WO/A=001000!W56!")
        assert fix.latitude_deg == pytest.approx(45 + 30.125 / 60, abs=1e-9)
        assert fix.longitude_deg == pytest.approx(-(7 + 15.506 / 60), abs=1e-9)
        assert fix.position_step_m == pytest.approx(1.852)

    def test_a_day_of_the_month_near_its_end(self) -> None:
        text = "N0CALL>APRS:@312359z4530.00N/00715.50EO"
        fix = understood("aprs-text", text, datetime(2026, 6, 1, 0, 1, tzinfo=UTC))
        assert fix.time_utc == datetime(2026, 5, 31, 23, 59, tzinfo=UTC)
        assert fix.time_quality == "minutes"

    def test_local_time_is_no_time(self) -> None:
        fix = understood("aprs-text", "N0CALL>APRS:/141015/4530.00N/00715.50EO")
        assert (fix.time_utc, fix.time_quality, fix.latitude_deg) == (None, "none", 45.5)

    def test_the_wind_of_a_weather_station_is_not_its_motion(self) -> None:
        fix = understood("aprs-text", "N0CALL>APRS:!4530.00N/00715.50E_092/036g005")
        assert (fix.course_deg, fix.speed_m_s) == (None, None)

    def test_a_course_of_zero_is_unknown_and_360_is_north(self) -> None:
        assert understood("aprs-text", "N0CALL>APRS:!4530.00N/00715.50EO000/010").course_deg is None
        assert understood("aprs-text", "N0CALL>APRS:!4530.00N/00715.50EO360/010").course_deg == 0.0

    def test_a_comment_is_safe_to_show(self) -> None:
        fix = understood("aprs-text", b"N0CALL>APRS:!4530.00N/00715.50EO \x1b[2J 20 \xc2\xb0C\xff")
        assert fix.extra["comment"] == "\N{REPLACEMENT CHARACTER}[2J 20 °C\N{REPLACEMENT CHARACTER}"

    def test_height_below_the_sea(self) -> None:
        fix = understood("aprs-text", "N0CALL>APRS:!4530.00N/00715.50EO/A=-00100")
        assert fix.height_msl_m == pytest.approx(-30.48)

    def test_an_object_carries_its_own_name(self) -> None:
        fix = understood("aprs-text", "N0GATE>APRS:;BALLOON 1*101500h4530.00N/00715.50EO/A=010000")
        assert fix.tracker == "BALLOON 1"
        assert "taken back" in refused("aprs-text", "N0GATE>APRS:;BALLOON 1_101500h4530.00N/00715.50EO")

    def test_a_report_passed_on_once(self) -> None:
        inner = "N0CALL-11>APRS,WIDE1-1*:!4530.00N/00715.50EO"
        assert understood("aprs-text", f"N0GATE>APRS:}}{inner}").tracker == "N0CALL-11"
        refused("aprs-text", f"N0GATE>APRS:}}N0GATE>APRS:}}{inner}")

    def test_nmea_inside_keeps_the_callsign(self) -> None:
        line = nmea(GGA).decode().strip()
        fix = understood("aprs-text", f"N0CALL>GPSMV:{line}")
        assert (fix.tracker, fix.height_msl_m, fix.checked) == ("N0CALL", 31245.6, True)

    @pytest.mark.parametrize(
        "text",
        [
            "# server 1.0 keep-alive",
            "N0CALL>APRS:>status only",
            "N0CALL>APRS::N0OTHER  :message",
            "N0CALL>APRS:T#005,199,000,255,073,123,01101001",
            "N0CALL>APRS:!4560.00N/00715.50EO",
            "N0CALL>APRS:!4530.00N/18100.50EO",
            "N0CALL>APRS:!4 30.00N/00715.50EO",
            "N0CALL>APRS:!453 .00N/00715.50EO",
            "N0CALL>APRS:/251500h4530.00N/00715.50EO",
            "N0CALL>APRS:/331500z4530.00N/00715.50EO",
            "N0CALL>APRS:!4530.00N/00715.50EO400/010",
            "N0CALL APRS:!4530.00N/00715.50EO",
            "N0CALL>S3:`(_fn\"Oj/",
            "",
        ],
    )  # fmt: skip
    def test_what_is_no_position_is_refused(self, text: str) -> None:
        assert refused("aprs-text", text)

    def test_a_long_line_is_refused(self) -> None:
        assert "512" in refused("aprs-text", "N0CALL>APRS:!4530.00N/00715.50EO" + "x" * 500)


class TestAx25:
    FRAME = UiFrame(
        Station("APRS", 0, True),
        Station("N0CALL", 11, False),
        (Station("RELAY1", 0, True), Station("WIDE2", 1, False)),
        b"/101500h4530.00N/00715.50EO092/036/A=102512\r",
    )

    def test_a_frame_in_kiss(self) -> None:
        fix = understood("ax25", wrap(self.FRAME.to_bytes()))
        assert (fix.tracker, fix.latitude_deg, fix.extra["path"]) == ("N0CALL-11", 45.5, "RELAY1*,WIDE2-1")
        assert not fix.checked

    def test_a_frame_of_another_port_of_the_modem(self) -> None:
        assert understood("ax25", wrap(self.FRAME.to_bytes(), port=3)).latitude_deg == 45.5

    def test_a_bare_frame_needs_its_check_sequence(self) -> None:
        frame = self.FRAME.to_bytes()
        whole = frame + check_sequence(frame).to_bytes(2, "little")
        assert understood("ax25", whole).checked
        assert "check sequence" in refused("ax25", frame)

    def test_both_c_bits_may_be_equal(self) -> None:
        frame = UiFrame(Station("APRS", 0, False), Station("N0CALL", 0, False), (), b"!4530.00N/00715.50EO")
        assert understood("ax25", wrap(frame.to_bytes())).tracker == "N0CALL"

    def test_mic_e_in_a_frame_with_bytes_that_kiss_escapes(self) -> None:
        # longitude minutes byte 0xC0 is out of range, so it must survive the escape and then be refused
        info = b'`(\xc0fn"Oj/'
        frame = UiFrame(Station("S32U6T", 0, True), Station("N0CALL", 0, False), (), info)
        assert "range" in refused("ax25", wrap(frame.to_bytes()))

    @pytest.mark.parametrize(
        ("raw", "why"),
        [
            (b"\xc0\x06abc\xc0", "command"),
            (b"\xc0\x00\xdb\x01\xc0", "escape"),
            (b"\xc0\x00abc", "two marks"),
            (b"\xc0\xc0", "two marks"),
            (b"", "check sequence"),
            (wrap(b"\x82\xa0"), "do not end"),
            (wrap(FRAME.to_bytes()[:28] + b"\x3f\xf0!4530.00N/00715.50EO"), "unnumbered"),
        ],
    )
    def test_what_is_no_such_frame_is_refused(self, raw: bytes, why: str) -> None:
        assert why in refused("ax25", raw)


def nav_pvt(**changes: int) -> bytes:
    import struct

    values = {
        "itow": 0, "year": 2026, "month": 6, "day": 14, "hour": 10, "minute": 15, "second": 0, "valid": 7, "tacc": 20,
        "nano": 0, "fix": 3, "flags": 1, "flags2": 0, "sats": 11, "lon": 72583333, "lat": 455000000, "height": 31293800,
        "hmsl": 31245600, "hacc": 3000, "vacc": 4000, "vn": 0, "ve": 9517, "vd": -5100, "speed": 9517,
        "heading": 9230000, "sacc": 100, "headacc": 100, "pdop": 100, "flags3": 0,
    } | changes  # fmt: skip
    body = struct.pack("<IHBBBBBBIiBBBBiiiiIIiiiiiIIHH", *values.values()).ljust(92, b"\0")
    head = b"\x01\x07" + len(body).to_bytes(2, "little")
    return b"\xb5\x62" + head + body + fletcher(head + body)


class TestUbx:
    def test_a_whole_fix(self) -> None:
        fix = understood("ubx", nav_pvt())
        assert fix.latitude_deg == pytest.approx(45.5)
        assert fix.longitude_deg == pytest.approx(7.2583333)
        assert (fix.height_msl_m, fix.height_ellipsoid_m) == (31245.6, 31293.8)
        assert (fix.climb_m_s, fix.satellites, fix.fix_quality) == (5.1, 11, "three-dimensional")
        assert fix.time_utc == datetime(2026, 6, 14, 10, 15, tzinfo=UTC)
        assert fix.checked

    @pytest.mark.parametrize(
        "changes", [{"fix": 0}, {"fix": 1}, {"fix": 5}, {"flags": 0}, {"flags3": 1}, {"lat": 0, "lon": 0}]
    )
    def test_no_fix_has_no_position(self, changes: dict[str, int]) -> None:
        fix = understood("ubx", nav_pvt(**changes))
        assert (fix.latitude_deg, fix.height_msl_m, fix.fix_quality) == (None, None, "none")

    def test_two_dimensions_have_no_height(self) -> None:
        fix = understood("ubx", nav_pvt(fix=2))
        assert (fix.height_msl_m, fix.climb_m_s, fix.fix_quality) == (None, None, "two-dimensional")

    def test_the_second_is_rounded_back(self) -> None:
        fix = understood("ubx", nav_pvt(nano=-250_000_000))
        assert fix.time_utc == datetime(2026, 6, 14, 10, 14, 59, 750_000, tzinfo=UTC)

    def test_a_time_that_is_not_valid_is_none(self) -> None:
        assert understood("ubx", nav_pvt(valid=0)).time_utc is None
        assert understood("ubx", nav_pvt(valid=2)).time_quality == "time of day"

    def test_damage_is_refused(self) -> None:
        raw = nav_pvt()
        for index in range(len(raw)):
            assert isinstance(
                parse("ubx", raw[:index] + bytes([raw[index] ^ 1]) + raw[index + 1 :], HEARD_UTC), NotUnderstood
            )
        assert "length" in refused("ubx", raw[:-1])
        assert "latitude" in refused("ubx", nav_pvt(lat=950000000))


PACKET = {
    "tracker": "box-1", "time_utc": "2026-06-14T12:15:00+02:00", "latitude_deg": 45.5, "longitude_deg": 7.258,
    "height_msl_m": 31245.6, "battery_v": 3.9, "temperature_k": {"inside": 268.2, "outside": 228}, "light": 812,
}  # fmt: skip


def packet(**changes: object) -> str:
    return json.dumps({key: value for key, value in (PACKET | changes).items() if value != "gone"})


class TestJson:
    def test_our_own_packet(self) -> None:
        fix = understood("json", packet())
        assert (fix.tracker, fix.latitude_deg, fix.battery_v) == ("box-1", 45.5, 3.9)
        assert fix.time_utc == HEARD_UTC - timedelta(seconds=3)
        assert fix.temperature_k == {"inside": 268.2, "outside": 228.0}
        assert fix.extra == {"light": 812.0}
        assert not fix.checked

    def test_two_dimensions_have_no_height(self) -> None:
        fix = understood("json", packet(fix="two-dimensional", height_ellipsoid_m=31293.8))
        assert (fix.latitude_deg, fix.height_msl_m, fix.height_ellipsoid_m) == (45.5, None, None)
        assert fix.extra["height_held_msl_m"] == 31245.6

    def test_a_packet_without_a_position_must_say_so(self) -> None:
        fix = understood("json", packet(latitude_deg="gone", longitude_deg="gone", fix="none"))
        assert (fix.latitude_deg, fix.height_msl_m, fix.battery_v) == (None, None, 3.9)
        assert "missing" in refused("json", packet(latitude_deg="gone", longitude_deg="gone"))

    def test_zeros_are_no_position(self) -> None:
        assert understood("json", packet(latitude_deg=0, longitude_deg=0)).fix_quality == "none"

    @pytest.mark.parametrize(
        ("changes", "why"),
        [
            ({"latitude_deg": 91}, "latitude_deg is 91"),
            ({"latitude_deg": "45.5"}, "latitude_deg is not a number"),
            ({"latitude_deg": True}, "latitude_deg is not a number"),
            ({"longitude_deg": "gone"}, "only one"),
            ({"time_utc": "2026-06-14T10:15:00"}, "no zone"),
            ({"time_utc": 1781432100}, "time_utc"),
            ({"height_msl_m": 1e308}, "height_msl_m"),
            ({"height_msl_m": 10**400}, "too large"),
            ({"satellites": 4.5}, "whole"),
            ({"fix": "good"}, "fix is not"),
            ({"temperature_k": {"inside": -4}}, "temperature_k.inside"),
            ({"tracker": "a\nb"}, "tracker"),
        ],
    )
    def test_a_value_that_cannot_be_is_named(self, changes: dict[str, object], why: str) -> None:
        assert why in refused("json", packet(**changes))

    @pytest.mark.parametrize(
        ("text", "why"),
        [
            ("[" * 10_000, "deep"),
            ('{"a":' * 8 + "1" + "}" * 8, "deep"),
            ('{"latitude_deg": NaN}', "NaN"),
            ('{"a": 1, "a": 2}', "twice"),
            ("[1, 2]", "object"),
            ("\xff", "UTF-8"),
            ('{"a": ' + "9" * 5000 + "}", "JSON"),
            ('{"a": [' + "1," * 300 + "1]}", "256"),
            ('{"a": "' + "x" * 17_000 + '"}', "16384"),
        ],
    )
    def test_limits(self, text: str, why: str) -> None:
        assert why in refused("json", text)
