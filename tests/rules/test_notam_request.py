"""Requests for a NOTAM: structure after ICAO Annex 15, PANS-AIM and Doc 8126; sources stand in rules_law.json."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pappus.earth import geodesic_inverse
from pappus.errors import BadInput
from pappus.rules import FlightNotice, covering_circle, notam_request
from pappus.rules._coordinates import covering_radius_nm, minutes_text, seconds_text
from pappus.rules._notam import plain_capitals
from references.checks import assert_within
from references.rules_checks import load_rule
from rules.notices import FULL, at

Q_LINE = re.compile(
    r"Q\) (?P<fir>[A-Z]{4})/Q(?P<subject>[A-Z]{2})(?P<condition>[A-Z]{2})/(?P<traffic>[A-Z]+)/(?P<purpose>[A-Z]+)"
    r"/(?P<scope>[A-Z]+)/(?P<lower>\d{3})/(?P<upper>\d{3})/(?P<lat>\d{4})(?P<ns>[NS])(?P<lon>\d{5})(?P<ew>[EW])"
    r"(?P<radius>\d{3})"
)
SUBJECTS = {"WL": "WL ascent of free balloon"}
CONDITIONS = {"LW": "LW will take place"}


def degrees(text: str) -> tuple[float, float]:
    """Latitude and longitude of ``DDMM[SS]NDDDMM[SS]E``, read by the test's own rule."""
    match = re.fullmatch(r"(\d{2})(\d{2})(\d{2})?([NS])(\d{3})(\d{2})(\d{2})?([EW])", text)
    assert match, text
    south, west = match[4] == "S", match[8] == "W"
    latitude = int(match[1]) + int(match[2]) / 60 + int(match[3] or 0) / 3600
    longitude = int(match[5]) + int(match[6]) / 60 + int(match[7] or 0) / 3600
    return (-latitude if south else latitude), (-longitude if west else longitude)


def read_q(text: str) -> dict[str, object]:
    match = Q_LINE.search(text)
    assert match, text
    latitude, longitude = degrees(match["lat"] + match["ns"] + match["lon"] + match["ew"])
    return {
        "fir": match["fir"], "subject": SUBJECTS[match["subject"]], "condition": CONDITIONS[match["condition"]],
        "traffic": match["traffic"], "purpose": match["purpose"], "scope": match["scope"],
        "lower_fl": int(match["lower"]), "upper_fl": int(match["upper"]), "lat": latitude, "lon": longitude,
        "radius_nm": int(match["radius"]),
    }  # fmt: skip


def test_the_q_line_is_read_back_as_the_reference_is() -> None:
    """The reader above against the reference, then the line that we write against the reader."""
    entry = load_rule("notam_q")
    assert_within(read_q(f"Q) {entry['inputs']['q']}"), entry)
    request = notam_request(FULL, region="xaaa")
    found = read_q(request.text)
    assert request.circle is not None
    assert {key: found[key] for key in ("fir", "subject", "condition", "traffic", "scope")} == {
        key: entry["expected"][key] for key in ("fir", "subject", "condition", "traffic", "scope")
    }
    assert found["lat"] == pytest.approx(request.circle.latitude_deg, abs=1e-9)
    assert found["lon"] == pytest.approx(request.circle.longitude_deg, abs=1e-9)
    assert found["radius_nm"] == request.circle.radius_nm


@pytest.mark.parametrize("name", ["notam_coord_round", "notam_coord_round_carry"])
def test_rounding_to_whole_minutes(name: str) -> None:
    entry = load_rule(name)
    latitude, longitude = degrees(entry["inputs"]["e"])
    assert_within({"q": minutes_text(latitude, longitude), "lat": latitude, "lon": longitude}, entry)
    assert seconds_text(latitude, longitude) == entry["inputs"]["e"]


def test_the_circle_of_the_reference() -> None:
    entry = load_rule("notam_circle_covers")
    centre, places = entry["inputs"]["centre"], [entry["inputs"]["launch"], entry["inputs"]["landing"]]
    away_nm = [geodesic_inverse(*centre, *place)[0] / 1852.0 for place in places]
    found = {
        "dist_nm": away_nm,
        "covered": max(away_nm) <= entry["inputs"]["radius_nm"],
        "smallest_integer_radius_nm": covering_radius_nm(tuple(centre), places),
    }
    assert_within(found, entry)


@pytest.mark.parametrize(
    ("place", "minutes", "seconds"),
    [
        ((-45.505556, -7.261111), "4530S00716W", "453020S0071540W"),
        ((0.0, 0.0), "0000N00000E", "000000N0000000E"),
        ((89.9999, 179.9999), "9000N18000E", "900000N1800000E"),
        ((-0.5, -179.5), "0030S17930W", "003000S1793000W"),
    ],
)
def test_places_of_all_quarters(place: tuple[float, float], minutes: str, seconds: str) -> None:
    assert (minutes_text(*place), seconds_text(*place)) == (minutes, seconds)


places = st.tuples(st.floats(-80.0, 80.0), st.floats(-180.0, 180.0)).flatmap(
    lambda middle: st.lists(
        st.tuples(st.floats(-1.0, 1.0), st.floats(-1.0, 1.0)).map(
            lambda off: (middle[0] + off[0], (middle[1] + off[1] + 180.0) % 360.0 - 180.0)
        ),
        min_size=1,
        max_size=6,
    )
)


@settings(max_examples=60)
@given(places)
def test_the_circle_as_written_covers_every_place_and_is_not_much_too_large(found: list[tuple[float, float]]) -> None:
    circle = covering_circle(found)
    centre = degrees(circle.text[:11])
    farthest = max(geodesic_inverse(*centre, *place)[0] for place in found) / 1852.0
    assert farthest <= circle.radius_nm + 1e-5
    apart = max(geodesic_inverse(*one, *other)[0] for one in found for other in found) / 1852.0
    # a circle of the longest distance over sqrt 3 covers any set (Jung 1901); rounding moves the centre 0.71 NM
    assert circle.radius_nm <= apart / 3**0.5 * 1.06 + 2.8


def test_the_centre_is_rounded_to_the_nearest_minute() -> None:
    """45 30 20 N, 7 15 40 E lies 0.41 NM from 4530N00716E and 0.58 NM from 4530N00715E (WGS84)."""
    assert covering_circle([(45.505556, 7.261111)]).text == "4530N00716E001"
    assert covering_circle([(-45.505556, -7.261111)]).text == "4530S00716W001"


def test_a_circle_that_is_too_large_stands_for_the_whole_region() -> None:
    circle = covering_circle([(40.0, 0.0), (50.0, 40.0)])
    assert circle.radius_nm == 999
    far = replace(FULL, landing_area_deg=((50.0, 40.0),))
    request = notam_request(far, region="XAAA")
    assert read_q(request.text)["radius_nm"] == 999
    assert any("whole region" in note for note in request.notes)


def test_the_request_says_that_it_is_a_draft_and_covers_launch_and_landing_area() -> None:
    request = notam_request(FULL, region="XAAA", request_to="the invented office")
    assert "DRAFT, NOT FILED" in request.text
    assert "not legal advice" in request.text
    assert "To: the invented office" in request.text
    centre = degrees(str(request.circle and request.circle.text[:11]))
    assert request.circle is not None
    for place in (*FULL.landing_area_deg, (45.505556, 7.261111)):
        assert geodesic_inverse(*centre, *place)[0] <= request.circle.radius_nm * 1852.0
    assert request.blanks == ()


def lines_of_item_e(text: str) -> list[str]:
    lines = text.splitlines()
    first = next(index for index, line in enumerate(lines) if line.startswith("E) "))
    last = next(index for index, line in enumerate(lines) if line.startswith("F) "))
    return lines[first:last]


def test_item_e_is_plain_capitals_of_69_characters() -> None:
    lines = lines_of_item_e(notam_request(FULL, region="XAAA").text)
    assert len(lines) > 3
    for line in lines:
        assert len(line) <= 69
        assert line.isascii()
        assert line == line.upper()
    words = " ".join(lines)
    for part in ("453020N0071540E", "OESTERVANG FIELD", "DRIFT ESE", "5M/S", "33000M", "452500N0073400E", "WHITE LATEX",
                 "LIGHT CLASS 2.4KG", "TEL +00 000 0000"):  # fmt: skip
        assert part in words, part


def test_times_have_ten_digits_and_run_outwards() -> None:
    text = notam_request(FULL, region="XAAA").text
    assert "B) 2606140900 C) 2606141155" in text
    ragged = replace(FULL, release_utc=at(9, 0) + timedelta(seconds=50), release_end_utc=None)
    later = notam_request(ragged, region="XAAA", end_utc=at(12, 0) + timedelta(seconds=1)).text
    assert "B) 2606140900 C) 2606141201" in later
    midnight = notam_request(FULL, region="XAAA", end_utc=at(0, 0) + timedelta(days=1)).text
    assert "C) 2606142359" in midnight


def test_levels() -> None:
    """F from the surface; G rounded up to 100 ft, unlimited above what three digits write."""
    assert "F) SFC G) UNL)" in notam_request(FULL, region="XAAA").text
    low = notam_request(replace(FULL, top_pressure_altitude_m=9000.0), region="XAAA").text
    assert "/000/296/" in low  # 9000 m are 29 527.6 ft
    assert "F) SFC G) FL296)" in low
    assert "/000/300/" in notam_request(replace(FULL, top_pressure_altitude_m=9144.0), region="XAAA").text
    unknown = notam_request(replace(FULL, top_pressure_altitude_m=None), region="XAAA").text
    assert "/000/999/" in unknown


def test_nothing_known_leaves_blanks_and_drops_nothing() -> None:
    request = notam_request(FlightNotice(), region=None)
    assert request.circle is None
    lines = [line for line in request.text.splitlines() if line[:2] in {"Q)", "A)", "E)", "F)"}]
    assert lines[0] == "Q) ____/QWLLW/IV/M/W/000/999/____"
    assert lines[1] == "A) ____ B) ____ C) ____"
    assert len(request.blanks) == 15
    for blank in request.blanks:
        assert blank in request.text.split("To fill in: ")[1]


def test_a_landing_area_that_is_not_known_makes_no_circle_round_the_launch_alone() -> None:
    request = notam_request(replace(FULL, landing_area_deg=()), region="XAAA")
    assert request.circle is None
    assert "centre and radius: site and landing area" in request.blanks


@pytest.mark.parametrize("region", ["XAA", "XAAAA", "12AB", ""])
def test_a_region_is_four_letters(region: str) -> None:
    with pytest.raises(BadInput, match="four letters"):
        notam_request(FULL, region=region)


def test_an_end_before_the_release_is_refused() -> None:
    with pytest.raises(BadInput, match="end_utc"):
        notam_request(FULL, region="XAAA", end_utc=at(8, 0))


@given(st.text(max_size=200))
def test_any_text_becomes_plain_capitals(text: str) -> None:
    plain, _ = plain_capitals(text)
    assert plain.isascii()
    assert plain == plain.upper()
    assert all(" " <= letter <= "~" for letter in plain)


def test_letters_that_do_not_come_apart_are_named() -> None:
    assert plain_capitals("Gössel–Ås") == ("GOESSEL-AAS", ())
    assert plain_capitals("поле 3") == ("???? 3", ("П", "О", "Л", "Е"))
    request = notam_request(replace(FULL, site_name="поле"), region="XAAA")
    assert any("question mark" in note for note in request.notes)


def test_every_blank_of_a_single_missing_number_is_told() -> None:
    quiet = {"ats_unit", "release_end_utc", "interval_s", "envelope_length_m", "suspension_length_m",
             "transponder_code", "aircraft_address", "beacon_frequency_hz", "climb_limit", "burst", "descent_limit",
             "landing_area_level", "identification", "antenna_length_m", "site_name",
             "top_pressure_altitude_m"}  # fmt: skip
    for entry in fields(FlightNotice):
        if entry.default is None:
            request = notam_request(replace(FULL, **{entry.name: None}), region="XAAA")
            assert bool(request.blanks) is (entry.name not in quiet), entry.name
