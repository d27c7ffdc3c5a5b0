"""Made-up flights of each form: what is read, what is left out and said, what is refused and how."""

from __future__ import annotations

import gzip
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from ambiance import Atmosphere

from pappus.errors import BadFile
from pappus.sources import Sounding, read_sounding
from pappus.sources.soundings import _headed_table, _profile_text, _tracker_table
from pappus.sources.soundings._height_kind import as_geopotential
from pappus.sources.soundings._levels import RawLevels
from pappus.sources.soundings._track_jumps import blank_jumps
from sources import flight_texts as made

RELEASE = datetime(2027, 5, 1, 11, 30, tzinfo=UTC)


def read(folder: Path, content: str | bytes, *, packed: bool = False) -> list[Sounding]:
    path = folder / "flight.dat"
    data = content if isinstance(content, bytes) else content.encode()
    path.write_bytes(gzip.compress(data) if packed else data)
    return read_sounding(path)


def refused(folder: Path, content: str | bytes) -> str:
    with pytest.raises(BadFile) as caught:
        read(folder, content)
    for finding in caught.value.findings:
        assert "\n" not in str(finding)
        assert finding.fix
    return str(caught.value)


def said(sounding: Sounding, text: str) -> bool:
    return any(text in note for note in sounding.notes)


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize("text", [made.profile_text(), made.tracker_table(), made.headed_table(400.0)])
def test_a_whole_flight_gives_both_legs(tmp_path: Path, text: str, packed: bool) -> None:
    ascent, descent = read(tmp_path, text, packed=packed)
    assert (ascent.is_descent, descent.is_descent) == (False, True)
    assert (ascent.release, descent.release) == (RELEASE, RELEASE + timedelta(seconds=made.UP_S))
    # the table with a head leaves the kind of its height open; taken as geopotential the top is 33 m higher
    assert ascent.height_msl_m[[0, -1]] == pytest.approx([made.GROUND_M, made.TOP_M], abs=35.0)
    assert ascent.time_s is not None
    assert descent.time_s is not None
    assert ascent.time_s[-1] == made.UP_S
    assert descent.time_s[0] == 400.0
    assert descent.height_msl_m[0] == pytest.approx(made.TOP_M - 400.0 * made.DESCENT_M_S, abs=16.0)
    for leg in (ascent, descent):
        # ISO 2533 by the package ambiance, at the heights that come back
        middle = leg.levels // 2
        assert leg.temperature_k[middle] == pytest.approx(Atmosphere(leg.height_msl_m[middle]).temperature[0], abs=0.2)
        assert leg.positions_measured
    slopes = np.diff(descent.height_msl_m) / np.diff(descent.time_s)
    assert slopes == pytest.approx(np.full(descent.levels - 1, -made.DESCENT_M_S), abs=0.2)


def test_profile_text_leaves_out_the_smoothed_seconds(tmp_path: Path) -> None:
    ascent, descent = read(tmp_path, made.profile_text())
    assert descent.time_s is not None
    assert descent.time_s[-1] == 40.0
    assert said(descent, "3 records in the first 40 s after the highest left out")
    assert not said(ascent, "smoothed")


@pytest.mark.parametrize(("seconds", "legs"), [(0.0, 1), (30.0, 1), (120.0, 1), (140.0, 2)])
def test_a_short_tail_is_no_descent(tmp_path: Path, seconds: float, legs: int) -> None:
    """At 140 s eleven records stand beyond the smoothed ones, at 120 s nine: one fewer than a sounding needs."""
    found = read(tmp_path, made.profile_text(seconds))
    assert len(found) == legs
    assert said(found[0], "too little for a descent") is (legs == 1 and seconds > 0.0)


@pytest.mark.parametrize(
    ("date", "clock", "expected"),
    [
        ("Sunday, August 20, 2017", "5:45:08 PM", datetime(2017, 8, 20, 17, 45, 8, tzinfo=UTC)),
        ("Wednesday, 10 June 2020", "17:05:54", datetime(2020, 6, 10, 17, 5, 54, tzinfo=UTC)),
        ("Monday, August 21, 2017", "12:00:01 AM", datetime(2017, 8, 21, 0, 0, 1, tzinfo=UTC)),
        ("Monday, August 21, 2017", "12:00:01 PM", datetime(2017, 8, 21, 12, 0, 1, tzinfo=UTC)),
    ],
)
def test_launch_times(tmp_path: Path, date: str, clock: str, expected: datetime) -> None:
    text = made.profile_text().replace("Saturday, 1 May 2027", date).replace("11:30:00", clock)
    ascent = read(tmp_path, text)[0]
    assert ascent.release == expected
    assert said(ascent, "taken as UTC")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1"])
def test_degree_signs_of_any_encoding(tmp_path: Path, encoding: str) -> None:
    assert len(read(tmp_path, made.profile_text().encode(encoding))) == 2


def test_units_are_read_not_guessed(tmp_path: Path) -> None:
    plain = read(tmp_path, made.profile_text())[0]
    feet = read(tmp_path, made.profile_text(units="[sec]\t[hPa]\t[°C]\t[%]\t[km/h]\t[°]\t[°]\t[°]\t[m]\t[kg/m3]"))[0]
    assert np.hypot(feet.wind_u_m_s, feet.wind_v_m_s) * 3.6 == pytest.approx(
        np.hypot(plain.wind_u_m_s, plain.wind_v_m_s),
        abs=0.1,  # the turn from the release to the level holds a part of the climb, which is the same in both
    )
    text = refused(tmp_path, made.profile_text(units="[sec]\t[hPa]\t[°F]\t[%]\t[m/s]\t[°]\t[°]\t[°]\t[m]\t[kg/m3]"))
    assert ": T = F" in text
    assert "unit is not understood" in text


def test_profile_text_names_what_is_missing(tmp_path: Path) -> None:
    names = "Time\tP\tT\tHu\tFf\tDd\tLong.\tLat.\tAlt\tD"
    text = refused(tmp_path, made.profile_text(names=names))
    assert "Ws (wind speed), Wd (direction the wind comes from)" in text
    assert "its columns are Time, P, T, Hu, Ff" in text
    assert "when the flight was launched" in refused(tmp_path, made.profile_text().replace("1 May", "1 Brumaire"))
    assert "when the flight was launched" in refused(tmp_path, made.profile_text().replace("11:30:00", "25:30:00"))


def test_profile_text_cut_short_says_so(tmp_path: Path) -> None:
    whole = made.profile_text()
    cut = whole[: int(len(whole) * 0.7)]
    (ascent,) = read(tmp_path, cut)
    assert said(ascent, "ends inside the record")
    assert said(ascent, "more or fewer columns than the header: 1")
    assert not said(read(tmp_path, whole)[0], "cut short")


def test_a_height_that_jumps_does_not_end_the_ascent(tmp_path: Path) -> None:
    text = made.profile_text().replace("\t5200.0\t", "\t31000.0\t").replace("\t7200.0\t", "\t999999.0\t", 1)
    ascent, descent = read(tmp_path, text)
    assert ascent.height_msl_m[-1] == pytest.approx(made.TOP_M, abs=0.1)
    assert said(ascent, "2 levels with an impossible height")
    assert not said(descent, "999999")


def test_tracker_says_what_it_left_out(tmp_path: Path) -> None:
    ascent, _ = read(tmp_path, made.tracker_table())
    assert said(ascent, "60 records of the 600 s on the ground before the release left out")
    # it travels to the east at 36 km/h: a wind from the west of 10 m/s
    assert ascent.wind_u_m_s[1:] == pytest.approx(np.full(ascent.levels - 1, 10.0))
    assert np.abs(ascent.wind_v_m_s).max() < 1e-9


def test_tracker_that_starts_in_the_air(tmp_path: Path) -> None:
    ascent, _ = read(tmp_path, made.tracker_table(wait_s=0.0))
    assert ascent.release == RELEASE
    assert said(ascent, "the record starts in the climb")


def test_tracker_on_the_ground_after_the_flight(tmp_path: Path) -> None:
    _, descent = read(tmp_path, made.tracker_table(descent_s=590.0, after_s=900.0))
    assert descent.time_s is not None
    assert descent.time_s[0] == pytest.approx(590.0, abs=made.STEP_S)
    assert said(descent, "on the ground after the landing left out")


def test_tracker_without_fix_and_with_repeated_seconds(tmp_path: Path) -> None:
    lines = made.tracker_table().splitlines()
    for at in (5, 80, 81):
        cells = lines[at].split(",")
        lines[at] = ",".join([*cells[:4], "0.0", "0.0", "0.0", "0.0", "0.0"])
    lines.insert(100, lines[100])
    ascent, _ = read(tmp_path, "\n".join(lines) + "\n")
    assert said(ascent, "3 records without a satellite fix left out")
    assert said(ascent, "1 record with a time that was there before left out")
    assert ascent.height_msl_m[0] == pytest.approx(made.GROUND_M, abs=20.0)


def test_tracker_that_never_left(tmp_path: Path) -> None:
    lines = made.tracker_table(wait_s=2000.0).splitlines()
    assert "never climbs" in refused(tmp_path, "\n".join(lines[:200]) + "\n")
    no_fix = "\n".join([lines[0], *(",".join([*line.split(",")[:4], "0", "0", "0", "0", "0"]) for line in lines[1:])])
    assert "no record has a satellite fix" in refused(tmp_path, no_fix)


def test_tracker_names_what_is_missing(tmp_path: Path) -> None:
    columns = "Time,NodeID,Temperature(degree C),P,Lat,Lon,Height(m),Speed(mph),Direction(degree)"
    text = refused(tmp_path, made.tracker_table(columns=columns))
    assert "Pressure(hPa) (pressure), Speed(km/hr) (speed over ground)" in text


def test_sensor_that_ends_at_its_coldest(tmp_path: Path) -> None:
    """Temperatures below -30 degrees become -30: pressure and height give back the standard atmosphere."""
    lines = made.tracker_table(descent_s=0.0).splitlines()
    for at, line in enumerate(lines[1:], 1):
        cells = line.split(",")
        cells[2] = f"{max(float(cells[2]), -30.0):.2f}"
        lines[at] = ",".join(cells)
    (ascent,) = read(tmp_path, "\n".join(lines) + "\n")
    truth = Atmosphere(ascent.height_msl_m).temperature
    cold = (truth < 243.15) & (ascent.height_msl_m < made.TOP_M - 600.0)
    assert cold.sum() > 50
    assert np.abs(ascent.temperature_k - truth)[cold].max() < 1.5
    assert said(ascent, "end of the sensor's range: worked out")


def test_headed_table_gaps_and_places(tmp_path: Path) -> None:
    text = made.headed_table()
    plain = read(tmp_path, text)[0]
    assert (plain.station, plain.latitude_deg, plain.longitude_deg) == ("Nowhere", -36.6, -64.3)
    assert plain.station_height_msl_m == 200.0
    assert not said(plain, "each other's")
    swapped = text.replace("GPSLon   GPSLat", "GPSLat   GPSLon")
    turned = read(tmp_path, swapped)[0]
    assert (turned.latitude_deg, turned.longitude_deg) == (-36.6, -64.3)
    assert said(turned, "each other's")
    gaps = read(tmp_path, text.replace("     10.20", "   9000.00"))[0]
    assert said(gaps, "1 level without wind left out")


def test_headed_table_names_what_is_missing(tmp_path: Path) -> None:
    names = "Time    Press       Alt      Temp      Dir     W Spd      GPSLon   GPSLat"
    assert "W Dir (direction the wind comes from)" in refused(tmp_path, made.headed_table(names=names))
    units = "sec     hPa         ft       C         deg       m/s        deg      deg"
    assert "Alt = ft" in refused(tmp_path, made.headed_table(units=units))
    assert "8 names of columns and 3 units" in refused(tmp_path, made.headed_table(units="sec hPa km"))
    assert "when the flight was launched" in refused(tmp_path, made.headed_table().replace("20270501", "20271301"))
    assert "the head should have" in refused(tmp_path, "\n".join(made.headed_table().splitlines()[:6]) + "\n")


def test_station_list(tmp_path: Path) -> None:
    soundings = read(tmp_path, made.station_list_text())
    assert [sounding.station for sounding in soundings] == ["X1", "X2", "X3"]
    for sounding in soundings:
        assert sounding.wind_u_m_s == pytest.approx(np.full(sounding.levels, 20 * 1852 / 3600))
        assert sounding.time_s is None
        assert said(sounding, "where the station is")


def test_station_list_with_bad_entries(tmp_path: Path) -> None:
    entries = made.station_list(6)
    listed = entries["profiles"]
    listed[0]["profile"] = []
    listed[1]["valid"] = "noon"
    listed[2] = 7
    listed[3]["profile"] = [{"pres": 1e999, "hght": "x", "tmpc": True, "drct": None, "sknt": 10**400}]
    listed[4]["profile"] = [{"pres": 500.0}]
    (good,) = read(tmp_path, json.dumps(entries))
    assert good.station == "X6"
    assert sum(note.startswith("not used") for note in good.notes) == 5
    for reason in ("no levels", "'noon', not a time", "no names for its parts", "X4", "has hght, tmpc"):
        assert said(good, reason), reason


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        ('{"profiles": []}', "list of profiles is empty"),
        ('{"profiles": 5}', "list of profiles is empty"),
        ('{"profiles": [1, 2', "JSON is cut short or damaged"),
        ('{"profiles": ' + "[" * 100_000, "JSON is cut short or damaged"),
        (made.station_list_text(1)[:-40], "JSON is cut short or damaged"),
    ],
)
def test_station_list_refused(tmp_path: Path, content: str, reason: str) -> None:
    assert reason in refused(tmp_path, content)


def test_text_of_unknown_layout_says_what_it_lacks(tmp_path: Path) -> None:
    rows = "\n".join(f"{k}\t{1000 - k}\t{20 - k / 10}\t{k * 30}" for k in range(30))
    text = refused(tmp_path, f"Seconds\tPress\tTemp\tGeopot\n{rows}\n")
    assert "line 2: a table of 4 columns and 30 rows" in text
    assert "names a wind speed, a wind direction" in text
    named = refused(tmp_path, f"t\tpress\ttemp\twspd wdir\n{rows}\n")
    assert "the names above it are not known here" in named


@pytest.mark.parametrize("stands_for_geometric", [False, True])
@pytest.mark.parametrize("kind", ["geometric", "geopotential"])
def test_kind_of_height(kind: str, stands_for_geometric: bool) -> None:
    """Standard atmosphere to 30 km (ISO 2533 by the package ambiance), whose tables hold both kinds of height."""
    air = Atmosphere(np.arange(0.0, 30_000.0, 100.0))
    given = air.h if kind == "geometric" else air.H
    notes: list[str] = []
    result = as_geopotential(
        given, air.pressure, air.temperature, 45.0, notes, stands_for_geometric=stands_for_geometric
    )
    assert notes[0].startswith(f"heights taken as {kind}: 0.0")
    assert result == pytest.approx(air.H, abs=5.0)


def test_kind_of_height_that_cannot_be_told() -> None:
    """Below 300 hPa alone nothing tells; what the file suggests is taken."""
    air = Atmosphere(np.arange(0.0, 9_000.0, 100.0))
    for geometric in (False, True):
        notes: list[str] = []
        result = as_geopotential(air.h, air.pressure, air.temperature, 45.0, notes, stands_for_geometric=geometric)
        assert notes[0].endswith("pressure and temperature do not tell")
        assert result == pytest.approx(air.H if geometric else air.h, abs=3.0)


def test_excursion_is_blanked_and_the_rest_kept() -> None:
    levels = RawLevels.missing(200)
    levels.time_s = np.arange(200.0)
    levels.latitude_deg, levels.longitude_deg = 10.0 + levels.time_s * 1e-4, np.full(200, 179.99) + levels.time_s * 1e-4
    levels.longitude_deg = (levels.longitude_deg + 180.0) % 360.0 - 180.0  # crosses the date line half way
    truth = levels.latitude_deg.copy()
    levels.latitude_deg[50:60] += 3.0
    levels.latitude_deg[120] -= 1.0
    notes: list[str] = []
    blank_jumps(levels, notes)
    bad = np.isnan(levels.latitude_deg)
    assert np.flatnonzero(bad).tolist() == [*range(50, 60), 120]
    assert (np.isnan(levels.longitude_deg) == bad).all()
    assert (levels.latitude_deg[~bad] == truth[~bad]).all()
    assert notes == ["11 records at a place it could not have reached, the place taken as missing"]


def test_coarse_positions_are_no_jumps() -> None:
    """Positions to 0.01 degrees step by a kilometre at once."""
    levels = RawLevels.missing(300)
    levels.time_s = np.arange(300.0)
    levels.latitude_deg = np.round(20.0 + levels.time_s * 2e-4, 2)
    levels.longitude_deg = np.round(30.0 + levels.time_s * 3e-4, 2)
    notes: list[str] = []
    blank_jumps(levels, notes)
    assert notes == []
    assert np.isfinite(levels.latitude_deg).all()


@pytest.mark.parametrize("form", [_profile_text, _tracker_table, _headed_table])
def test_documents_name_every_column(form: ModuleType) -> None:
    text = (Path(__file__).parents[2] / "docs" / "winds.md").read_text(encoding="utf-8")
    for name in form._NEEDED:
        assert f"`{name}`" in text, name


def test_a_column_that_is_there_twice_is_refused(tmp_path: Path) -> None:
    names = "Time\tP\tT\tHu\tWs\tWd\tLong.\tLat.\tAlt\tT"
    assert " = T: the table has this column twice" in refused(tmp_path, made.profile_text(names=names))


def test_netcdf_of_a_whole_flight_gives_both_legs(tmp_path: Path) -> None:
    import netCDF4

    seconds, height = made.heights(400.0)
    air = Atmosphere(height)
    columns = {
        "lat": ("latitude", "degree_north", np.full(seconds.size, -36.6)),
        "lon": ("longitude", "degree_east", np.full(seconds.size, -64.3)),
        "alt": ("altitude", "m", height),
        "pres": ("air_pressure", "hPa", air.pressure / 100.0),
        "temp": ("air_temperature", "K", air.temperature),
        "u": ("eastward_wind", "m s-1", np.full(seconds.size, 7.0)),
        "v": ("northward_wind", "m s-1", np.full(seconds.size, -3.0)),
    }
    with netCDF4.Dataset(tmp_path / "flight.nc", "w") as dataset:
        dataset.createDimension("time", seconds.size)
        dataset.createVariable("time", "f8", ("time",))[:] = seconds
        dataset["time"].units = "seconds since 2027-05-01T11:30:00Z"
        for name, (standard_name, unit, values) in columns.items():
            variable = dataset.createVariable(name, "f8", ("time",))
            variable.standard_name, variable.units = standard_name, unit
            variable[:] = values
    ascent, descent = read_sounding(tmp_path / "flight.nc")
    assert (ascent.is_descent, descent.is_descent) == (False, True)
    assert (ascent.release, descent.release) == (RELEASE, RELEASE + timedelta(seconds=made.UP_S))
    assert descent.time_s is not None
    assert descent.time_s[0] == 400.0
