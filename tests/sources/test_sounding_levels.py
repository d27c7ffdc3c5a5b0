"""What the readers keep, turn round, leave out and work out, on small files made here."""

from __future__ import annotations

import gzip
import hashlib
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from pappus.earth import geopotential_height_m
from pappus.sources import Sounding, read_sounding
from sources.bufr_writer import MISSING_INTEGER, MISSING_REAL, ascent, bufr_message
from sources.sounding_texts import COLUMNS, HEADER, air, archive_text, rows, table

RELEASE = datetime(2024, 2, 3, 4, 5, 6, tzinfo=UTC)


def read_text(folder: Path, text: str) -> Sounding:
    path = folder / "sounding.csv"
    path.write_text(text, "utf-8")
    (sounding,) = read_sounding(path)
    return sounding


def test_bufr_round_trip(tmp_path: Path) -> None:
    path = tmp_path / "x"
    levels = ascent()
    path.write_bytes(bufr_message(RELEASE, 10.5, -179.99, levels))
    (sounding,) = read_sounding(path)
    assert (sounding.station, sounding.release, sounding.is_descent) == ("94461", RELEASE, False)
    assert (sounding.latitude_deg, sounding.longitude_deg) == pytest.approx((10.5, -179.99))
    assert sounding.station_height_msl_m == pytest.approx(100.0)
    assert sounding.pressure_pa == pytest.approx([level.pressure_pa for level in levels], abs=0.5)
    assert geopotential_height_m(sounding.height_msl_m, 10.5) == pytest.approx([lv.geopotential_m for lv in levels])
    assert sounding.temperature_k == pytest.approx([level.temperature_k for level in levels], abs=0.006)
    # wind from 240 deg blows to 60 deg: eastward cos 30, northward sin 30 of the speed
    assert sounding.wind_u_m_s == pytest.approx([level.wind_speed_m_s * 0.8660254 for level in levels], abs=1e-6)
    assert sounding.wind_v_m_s == pytest.approx([level.wind_speed_m_s * 0.5 for level in levels], abs=1e-6)
    assert sounding.level_latitude_deg == pytest.approx([10.5 + i * 1e-3 for i in range(30)], abs=1e-5)
    assert sounding.level_longitude_deg == pytest.approx([-179.99 + i * 2e-3 for i in range(30)], abs=1e-5)
    assert sounding.source.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert sounding.source.description == "radiosonde 94461, release 2024-02-03 04:05 UTC"


def test_packed_file_keeps_the_digest_of_what_lies_on_disk(tmp_path: Path) -> None:
    path = tmp_path / "named.csv"  # the content tells the format, not the name
    path.write_bytes(gzip.compress(b"IUSD01 EDZW 030000\r\r\n" + bufr_message(RELEASE, 10.0, 20.0, ascent())))
    (sounding,) = read_sounding(path)
    assert sounding.levels == 30
    assert sounding.source.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()


def test_points_of_shear_after_the_levels_are_no_levels(tmp_path: Path) -> None:
    path = tmp_path / "x"
    path.write_bytes(bufr_message(RELEASE, 10.0, 20.0, ascent(), shear_points=3))
    (sounding,) = read_sounding(path)
    assert sounding.levels == 30
    assert sounding.pressure_pa.min() > 10_000  # the points of shear were written at 99 Pa


def test_subsets_are_soundings_of_their_own(tmp_path: Path) -> None:
    path = tmp_path / "x"
    path.write_bytes(bufr_message(RELEASE, 10.0, 20.0, ascent(), subsets=2))
    assert [sounding.station for sounding in read_sounding(path)] == ["94461", "94462"]


def test_levels_out_of_time_order_are_sorted(tmp_path: Path) -> None:
    levels = ascent()
    path = tmp_path / "x"
    path.write_bytes(bufr_message(RELEASE, 10.0, 20.0, levels[::2] + levels[1::2]))
    (sounding,) = read_sounding(path)
    assert sounding.time_s is not None
    assert sounding.time_s.tolist() == [60.0 * i for i in range(30)]


def test_descent_comes_out_lowest_first(tmp_path: Path) -> None:
    falling = [level._replace(time_s=1800 - level.time_s) for level in ascent()]
    path = tmp_path / "x"
    for order in (falling, falling[::-1]):  # bottom-up, as encoders write it, and top-down
        path.write_bytes(bufr_message(RELEASE, 10.0, 20.0, order, template=309056))
        (sounding,) = read_sounding(path)
        assert sounding.is_descent
        assert sounding.levels == 30
        assert (np.diff(sounding.height_msl_m) > 0).all()


def test_missing_values_of_bufr(tmp_path: Path) -> None:
    levels = ascent()
    levels[4] = levels[4]._replace(wind_from_deg=MISSING_INTEGER, wind_speed_m_s=MISSING_REAL)
    levels[8] = levels[8]._replace(temperature_k=MISSING_REAL)
    levels[12] = levels[12]._replace(geopotential_m=MISSING_REAL)
    levels[16] = levels[16]._replace(temperature_k=MISSING_REAL, wind_speed_m_s=MISSING_REAL)
    path = tmp_path / "x"
    path.write_bytes(bufr_message(RELEASE, 10.0, 20.0, levels))
    (sounding,) = read_sounding(path)
    assert sounding.levels == 28
    assert "1 level without wind left out" in sounding.notes
    assert "1 level without temperature and wind left out" in sounding.notes
    assert any(note.startswith("1 level without temperature: interpolated") for note in sounding.notes)
    assert any(note.startswith("1 level without height: worked out") for note in sounding.notes)
    # two levels without wind are gone, so the twelfth is now at 11
    whole = ascent()
    assert geopotential_height_m(sounding.height_msl_m[11], 10.0) == pytest.approx(whole[12].geopotential_m, abs=2.0)
    assert sounding.temperature_k[7] == pytest.approx(whole[8].temperature_k, abs=0.05)


def test_table_in_our_words(tmp_path: Path) -> None:
    sounding = read_text(tmp_path, table(rows()))
    assert (sounding.station, sounding.latitude_deg, sounding.longitude_deg) == ("TEST 1", -36.6, -64.3)
    assert sounding.release == datetime(2026, 5, 1, 11, 30, tzinfo=UTC)
    assert sounding.height_msl_m == pytest.approx(150.0 + 500.0 * np.arange(40))  # geometric stays geometric
    assert sounding.level_latitude_deg is None
    assert sounding.notes == ("40 levels with wind, 150 to 19650 m above mean sea level",)


def test_table_with_wind_components_and_geopotential(tmp_path: Path) -> None:
    text = table(
        [f"{height},{pressure},{temperature},3.5,-4.5" for height, pressure, temperature in air(np.arange(20) * 400.0)],
        columns="geopotential_height_m,pressure_hPa,temperature_C,wind_u_m_s,wind_v_m_s\n",
    )
    sounding = read_text(tmp_path, text)
    assert (sounding.wind_u_m_s == 3.5).all()
    assert (sounding.wind_v_m_s == -4.5).all()
    assert geopotential_height_m(sounding.height_msl_m, -36.6) == pytest.approx(400.0 * np.arange(20))


def test_table_with_times_and_places(tmp_path: Path) -> None:
    places = [f"2026-05-01T11:{30 + i // 2}:{i % 2 * 30:02d}Z,{-36.6 + i / 100},{179.9 + i / 100}," for i in range(40)]
    text = table(
        map("".join, zip(places, rows(), strict=True)),
        header="",
        columns="time_utc,latitude_deg,longitude_deg," + COLUMNS,
    )
    sounding = read_text(tmp_path, text)
    assert sounding.release == datetime(2026, 5, 1, 11, 30, tzinfo=UTC)
    assert sounding.time_s == pytest.approx(30.0 * np.arange(40))
    assert sounding.level_longitude_deg is not None
    assert sounding.level_longitude_deg[[0, 20]] == pytest.approx([179.9, -179.9])
    assert sounding.station == "sounding"


def test_flight_up_and_down_is_cut_at_the_top(tmp_path: Path) -> None:
    up_and_down = rows(40) + rows(38)[::-1]
    stamped = [f"2026-05-01T12:{i // 60:02d}:{i % 60:02d},{row}" for i, row in enumerate(up_and_down)]
    sounding = read_text(tmp_path, table(stamped, columns="time_utc," + COLUMNS))
    assert (sounding.levels, sounding.is_descent) == (40, False)
    assert "38 levels after the highest left out" in sounding.notes
    falling = read_text(tmp_path, table(stamped[30:], columns="time_utc," + COLUMNS))
    assert (falling.levels, falling.is_descent) == (39, True)


def test_slips_are_left_out_and_counted(tmp_path: Path) -> None:
    lines = rows()
    lines[5] = "2650.0,734.0,-2.1,250,-9999"
    lines[8] = lines[8].replace(",250,", ",777,")
    lines[11] = lines[10]  # a level twice
    lines[14] = "17150.0," + lines[14].split(",", 1)[1]  # a height that belongs far above
    lines[20] = lines[20].rsplit(",", 1)[0] + ",301"  # faster than any wind
    lines[23] = lines[23].replace("250", "west")
    lines[30] = "half a line"
    sounding = read_text(tmp_path, table(lines))
    assert sounding.levels == 40 - 7
    assert "2 levels out of order in height or pressure, or repeated, left out" in sounding.notes
    assert "4 levels without wind left out" in sounding.notes
    assert "1 level with an impossible wind speed, taken as missing" in sounding.notes
    assert "lines left out that have more or fewer columns than the header: 1" in sounding.notes
    assert any("wind_from_deg" in note and "'west'" in note for note in sounding.notes)
    # a single high outlier does not swallow what lies between
    assert 15_000 < sounding.height_msl_m[-8] < sounding.height_msl_m[-1] == pytest.approx(150.0 + 500.0 * 39)


@pytest.mark.parametrize("missing", ["height_msl_m", "pressure_hPa"])
def test_heights_and_pressures_are_worked_out(tmp_path: Path, missing: str) -> None:
    # every fourth level keeps both; truth is the standard atmosphere (ambiance), temperatures are to 0.01 K
    place = COLUMNS.split(",").index(missing)
    lines = [row.split(",") for row in rows(60)]
    for number, line in enumerate(lines):
        if number % 4:
            line[place] = ""
    sounding = read_text(tmp_path, table([",".join(line) for line in lines]))
    truth = np.array(list(air(150.0 + 500.0 * np.arange(60))))
    assert sounding.levels == 60
    assert sounding.height_msl_m == pytest.approx(truth[:, 0], abs=2.0)
    assert sounding.pressure_pa == pytest.approx(truth[:, 1] * 100, rel=3e-4)
    assert any(note.startswith("45 levels without") and "worked out" in note for note in sounding.notes)


def test_heights_from_the_station_alone(tmp_path: Path) -> None:
    lines = ["," + row.split(",", 1)[1] for row in rows()]
    header = HEADER.replace("-36.6", "45") + "# station_height_msl_m: 150\n"  # at 45 deg the standard gravity holds
    sounding = read_text(tmp_path, table(lines, header=header))
    # trapezoids of 500 m and the difference of standard and normal gravity: some metres at 20 km
    assert sounding.height_msl_m == pytest.approx(150.0 + 500.0 * np.arange(40), abs=12.0)
    assert any("put at the height of the station" in note for note in sounding.notes)


def test_wide_gap_in_the_wind_is_said(tmp_path: Path) -> None:
    lines = [row if not 10 <= i < 20 else row.rsplit(",", 2)[0] + ",," for i, row in enumerate(rows())]
    assert "no wind between 4650 and 10150 m above mean sea level" in read_text(tmp_path, table(lines)).notes


@pytest.mark.parametrize(
    ("clock", "release", "note"),
    [
        ("01 00 2303", (2010, 5, 31, 23, 3), ""),
        ("01 00 0015", (2010, 6, 1, 0, 15), ""),
        ("01 12 1100", (2010, 6, 1, 11, 0), ""),
        ("01 99 1130", (2010, 6, 1, 11, 30), ""),
        ("01 00 2399", (2010, 5, 31, 23, 0), "the minute of release is not known"),
        ("01 12 9999", (2010, 6, 1, 12, 0), "the release time is not known"),
    ],
)
def test_release_times_of_the_archive(tmp_path: Path, clock: str, release: tuple[int, ...], note: str) -> None:
    sounding = read_text(tmp_path, archive_text().replace("01 00 2303", clock))
    assert sounding.release == datetime(*release, tzinfo=UTC)
    assert any(text.startswith(note) for text in sounding.notes)


def test_archive_markers(tmp_path: Path) -> None:
    # -9999 never reported, -8888 removed by the archive; the surface level carries a 1 in its type
    lines = archive_text().splitlines()
    lines[1] = "21" + lines[1][2:]
    lines[6] = lines[6][:40] + "-8888-9999 "[:5] + " -9999"
    lines[9] = lines[9][:22] + "-8888 " + lines[9][28:]
    sounding = read_text(tmp_path, "\n".join(lines) + "\n" + lines[-1][:30])
    assert sounding.levels == 19
    assert sounding.station_height_msl_m == pytest.approx(12.0, abs=0.1)
    assert "1 level without wind left out" in sounding.notes
    assert any(note.startswith("1 level without temperature: interpolated") for note in sounding.notes)
    assert sounding.time_s is not None
    assert sounding.time_s[[1, -1]] == pytest.approx([60.0, 19 * 60.0])  # mmmss


def test_fewer_lines_than_the_header_states(tmp_path: Path) -> None:
    text = "\n".join(archive_text().splitlines()[:16]) + "\n10  1500  3"
    sounding = read_text(tmp_path, text)
    assert sounding.levels == 15
    assert "the header states 20 levels, the file holds 15 whole ones" in sounding.notes
