"""Forecast columns in BUFKIT text that the test writes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from pappus.earth import geodesic_inverse, geopotential_height_m
from pappus.errors import BadFile, OutOfRange
from pappus.sources import looks_like_forecast, read_forecast
from pappus.wind import Sampler

RUN = datetime(2026, 3, 4, 6, tzinfo=UTC)
# gas constant of dry air and standard gravity, as ISO 2533 prints them
METRES_PER_K = 287.05287 / 9.80665
KNOT_M_S = 1852.0 / 3600.0
PRESSURES = np.array([905.0, 850.0, 700.0, 500.0, 300.0, 200.0, 100.0, 50.0, 20.0, 10.0, 5.0])

Levels = list[list[float]]


def levels_at(lead: int) -> Levels:
    """PRES TMPC TMWC DWPC THTE DRCT SKNT OMEG HGHT of an isothermal column; the pressures sink with the lead."""
    pressure = PRESSURES - 0.1 * lead * PRESSURES / 1000.0
    height = METRES_PER_K * 253.15 * np.log(1000.0 / pressure)
    table = []
    for p, z in zip(pressure, height, strict=True):
        table.append([p, -20.0, -9999.0, -9999.0, -9999.0, 270.0, 20.0 + lead, -0.1, z])
    return table


def bufkit(
    leads: tuple[int, ...] = (0, 3, 6),
    *,
    change: Callable[[int, Levels], Levels] = lambda lead, levels: levels,
    columns: str = "PRES;TMPC;TMWC;DWPC;THTE;DRCT;SKNT;OMEG;HGHT",
    surface: str = "",
    run: datetime = RUN,
) -> str:
    """The text of a file."""
    names = columns.split(";")
    parts = [f"SNPARM = {columns} \r\nSTNPRM = SHOW;LIFT \r\n\r\n"]
    for lead in leads:
        valid = run + timedelta(hours=lead)
        parts.append(
            f"STID = STNM = 727730 TIME = {valid:%y%m%d/%H%M} \r\nSLAT = 46.92 SLON = -114.08 SELV = 972.0\r\n"
        )
        parts.append(f"STIM = {lead}\r\n\r\nSHOW = 8.73 LIFT = 8.75\r\n\r\n")
        parts.append(" ".join(names[:8]) + "\r\n" + " ".join(names[8:]) + "\r\n")
        for level in change(lead, levels_at(lead)):
            words = [f"{value:.2f}" for value in level]
            parts.append(" ".join(words[:8]) + "\r\n")
            if words[8:]:
                parts.append(" ".join(words[8:]) + "\r\n")
        parts.append("\r\n")
    return "".join(parts) + surface


SURFACE = """STN YYMMDD/HHMM PMSL PRES UWND VWND
T2MS LCLD VSBK P01M
727730 260304/0600 1020.40 909.10 1.50 -2.50
10.50 25.00 20.00 -9999.00
727730 260304/0700 1020.40 909.10 2.50 -3.50
11.50 50.00 10.00 3.60
"""


def put(folder: Path, text: str) -> Path:
    """The text as a file."""
    path = folder / "column.txt"
    path.write_bytes(text.encode())
    return path


def test_a_column_becomes_a_field_in_time(tmp_path: Path) -> None:
    path = put(tmp_path, bufkit())
    assert looks_like_forecast(path)
    (forecast,) = read_forecast([path])
    field = forecast.field
    assert field.wind_u_m_s.shape == (1, 3, 11, 1, 1)
    assert (field.kind, field.issued) == ("forecast", RUN)
    assert field.time_s.tolist() == [0.0, 10800.0, 21600.0]
    assert (field.coverage.first_valid, field.coverage.last_valid) == (RUN, RUN + timedelta(hours=6))
    # a wind from the west; 20 knots are 10.29 m/s (international nautical mile, SI Brochure table 8)
    np.testing.assert_allclose(field.wind_u_m_s[0, :, 0, 0, 0], np.array([20.0, 23.0, 26.0]) * KNOT_M_S, atol=1e-9)
    np.testing.assert_allclose(field.wind_v_m_s, 0.0, atol=1e-9)
    np.testing.assert_allclose(field.temperature_k, 253.15)
    np.testing.assert_allclose(field.pressure_pa[0, 0, :, 0, 0], PRESSURES * 100.0)
    assert field.pressure_pa[0, 2, 0, 0, 0] < field.pressure_pa[0, 0, 0, 0, 0]  # each lead time has its own
    geopotential = geopotential_height_m(field.height_msl_m[0, 0, :, 0, 0], 46.92)
    np.testing.assert_allclose(geopotential, METRES_PER_K * 253.15 * np.log(1000.0 / PRESSURES), atol=0.01)
    assert forecast.ground_height_msl_m is not None
    assert forecast.ground_height_msl_m.item() == pytest.approx(972.0, abs=0.5)


def test_it_covers_a_disc(tmp_path: Path) -> None:
    (forecast,) = read_forecast([put(tmp_path, bufkit())], column_radius_m=100_000.0)
    coverage = forecast.field.coverage
    assert (coverage.centre_deg, coverage.radius_m) == ((46.92, -114.08), 100_000.0)
    sampler = Sampler(forecast.field)
    places = np.array([46.92, 46.92, 47.7, 48.0]), np.array([-114.08, -112.9, -114.08, -114.08])
    far = np.array([geodesic_inverse(46.92, -114.08, *place)[0] for place in zip(*places, strict=True)])
    assert sampler.inside(*places, np.zeros(4)).tolist() == (far <= 100_000.0).tolist() == [True, True, True, False]
    assert coverage.south_deg < 46.92 - 0.89 < 46.92 + 0.89 < coverage.north_deg
    with pytest.raises(OutOfRange, match="radius of the area of a column"):
        read_forecast([put(tmp_path, bufkit())], column_radius_m=0.0)


def test_weather_near_the_ground(tmp_path: Path) -> None:
    (forecast,) = read_forecast([put(tmp_path, bufkit(surface=SURFACE))])
    weather = forecast.surface
    assert weather is not None
    half_past = {"latitude_deg": 46.9, "longitude_deg": -114.0, "time_s": 1800.0}
    assert weather.at("eastward_wind", **half_past) == pytest.approx(2.0)
    assert weather.at("northward_wind", **half_past) == pytest.approx(-3.0)
    assert weather.at("air_temperature", **half_past) == pytest.approx(284.15)
    assert weather.at("low_type_cloud_area_fraction", **half_past) == pytest.approx(0.375)
    assert weather.at("visibility_in_air", **half_past) == pytest.approx(15_000.0)
    assert np.isnan(weather.at("precipitation_flux", **half_past))  # not known at the first hour
    # 3.6 mm in an hour are 1 g/m2 in a second
    assert weather.at("precipitation_flux", 46.9, -114.0, 3600.0) == pytest.approx(0.001)


def test_a_level_that_lacks_a_value_is_left_out(tmp_path: Path) -> None:
    def cut(lead: int, levels: Levels) -> Levels:
        return [*levels[:-1], levels[-1][:-1]] if lead == 0 else levels

    (forecast,) = read_forecast([put(tmp_path, bufkit(change=cut))])
    assert forecast.field.levels == 10
    assert "1 incomplete levels left out" in forecast.field.notes
    assert "cut to the 10 lowest levels, which all lead times have" in forecast.field.notes


def test_a_value_missing_in_the_middle_does_not_shift_the_rest(tmp_path: Path) -> None:
    def cut(lead: int, levels: Levels) -> Levels:
        return [*levels[:5], levels[5][:-1], *levels[6:]]

    (forecast,) = read_forecast([put(tmp_path, bufkit(change=cut))])
    np.testing.assert_allclose(forecast.field.pressure_pa[0, 0, :, 0, 0], np.delete(PRESSURES, 5) * 100.0)


def test_a_missing_number_costs_its_level(tmp_path: Path) -> None:
    def blank(lead: int, levels: Levels) -> Levels:
        levels[4][6] = -9999.0
        return levels

    (forecast,) = read_forecast([put(tmp_path, bufkit(change=blank))])
    assert 30_000.0 not in forecast.field.pressure_pa
    assert forecast.field.levels == 10


def test_a_lead_time_with_few_levels_is_left_out(tmp_path: Path) -> None:
    text = bufkit(change=lambda lead, levels: levels[:6] if lead == 3 else levels)
    (forecast,) = read_forecast([put(tmp_path, text)])
    assert forecast.field.time_s.tolist() == [0.0, 21600.0]
    assert any("1 lead times left out" in note for note in forecast.field.notes)


def test_two_runs_in_one_file_are_two_fields(tmp_path: Path) -> None:
    second = bufkit(run=RUN + timedelta(hours=6)).split("\r\n\r\n", 1)[1]
    forecasts = read_forecast([put(tmp_path, bufkit() + second)])
    assert [one.field.issued for one in forecasts] == [RUN, RUN + timedelta(hours=6)]
    assert [len(one.field.time_s) for one in forecasts] == [3, 3]


def in_feet(lead: int, levels: Levels) -> Levels:
    """Heights in another unit."""
    return [[*level[:-1], level[-1] / 0.3048] for level in levels]


def in_kelvin(lead: int, levels: Levels) -> Levels:
    """Temperatures in another unit."""
    return [[level[0], 253.15, *level[2:]] for level in levels]


def from_900_degrees(lead: int, levels: Levels) -> Levels:
    """A direction that is none."""
    return [[*level[:5], 900.0, *level[6:]] for level in levels]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (bufkit(columns="PRES;TMPC;TMWC;DWPC;THTE;DRCT;SMPS;OMEG;HGHT"), "does not name SKNT"),
        (bufkit(()), "no profile"),
        (bufkit(change=lambda lead, levels: levels[:3]), "no profile has enough complete levels"),
        (bufkit(change=in_feet), "height is outside"),
        (bufkit(change=in_kelvin), "temperature is outside"),
        (bufkit(change=from_900_degrees), "wind direction or speed is absurd"),
        (bufkit(change=lambda lead, levels: levels[::-1]), "heights do not rise"),
        (bufkit().replace("SLAT = 46.92", "SLAT = 146.92"), "absurd"),
        (bufkit().replace("STIM", "STEM"), "does not say STIM"),
        (bufkit().replace("260304/0600", "269904/0600"), "this is no time"),
        ("SNPARM = \r\n", "does not name PRES"),
    ],
)
def test_a_damaged_text_is_refused(tmp_path: Path, text: str, reason: str) -> None:
    with pytest.raises(BadFile, match=reason):
        read_forecast([put(tmp_path, text)])
