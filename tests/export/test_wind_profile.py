"""The wind profile: where the lines stand on their axes, how wide the band is, what is said."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pictures import BLUE, GROUND, PALE, pixels, runs, straight_flights, where, words
from scipy import stats

from columns import column_field
from pappus.export import draw_wind_profile
from pappus.wind import WindField, extend, subdivide

KNOWN_TOP_MSL_M = 26_000.0
CUBES = ("pressure_pa", "height_msl_m", "temperature_k", "wind_u_m_s", "wind_v_m_s")


def field(u: Any, v: Any) -> WindField:
    known = column_field(u, v, top_msl_m=KNOWN_TOP_MSL_M)
    return subdivide(extend(known, bottom_msl_m=-500.0, top_msl_m=34_000.0), step_m=250.0)


def draw(path: Path, winds: WindField, sd: Any = None, **keys: Any) -> Path:
    usual = {"known_top_msl_m": KNOWN_TOP_MSL_M, "title": "Winds", "footer": "Invented example."} | keys
    draw_wind_profile(path, field=winds, nominal=straight_flights((-37.2, -63.8)), wind_sd_m_s=sd, **usual)
    return path


def panels(picture: Any) -> list[tuple[int, int]]:
    """First and last column of each panel, from its strip of ground."""
    ground = where(picture, GROUND)
    return [run for run in runs(ground[int(np.argmax(ground.sum(axis=1)))]) if run[1] - run[0] > 100]


def row_at(picture: Any, share: float) -> int:
    """Row at a share of the way from the ground to about the top of the frame."""
    ground = int(np.flatnonzero(where(picture, GROUND).sum(axis=1) > 300).min())
    return round(ground - 680.0 * share)


def line_share(picture: Any, panel: int, row: int) -> float:
    """Where the blue line crosses a panel in a row, as a share of the panel's width."""
    left, right = panels(picture)[panel]
    return float((np.flatnonzero(where(picture, BLUE, 20)[row, left:right]).mean() + 0.5) / (right - left))


def bluish(picture: Any) -> Any:
    """Band and line, their blended edges included."""
    return picture[..., 2] - picture[..., 0] > 20


@pytest.mark.parametrize(
    ("u", "v", "wind_from_deg"), [(10.0, 0.0, 270.0), (-10.0, 0.0, 90.0), (0.0, 10.0, 180.0), (10.0, 10.0, 225.0)]
)
def test_wind_is_named_by_where_it_blows_from(tmp_path: Path, u: float, v: float, wind_from_deg: float) -> None:
    """A westerly is 270 degrees (WMO-No. 8, Guide to Instruments, chapter on surface wind; from memory)."""
    picture = pixels(draw(tmp_path / "a.png", field(lambda z: u + 0.0 * z, lambda z: v + 0.0 * z)))
    assert line_share(picture, 1, row_at(picture, 0.5)) == pytest.approx(wind_from_deg / 360.0, abs=0.006)


def test_twice_the_wind_stands_twice_as_far_from_calm(tmp_path: Path) -> None:
    picture = pixels(draw(tmp_path / "a.png", field(lambda z: np.where(z < 13_000.0, 12.0, 24.0), lambda z: 0.0 * z)))
    low, high = (line_share(picture, 0, row_at(picture, share)) for share in (0.25, 0.7))
    assert high / low == pytest.approx(2.0, abs=0.02)


def test_the_band_is_the_circle_that_holds_90_percent(tmp_path: Path) -> None:
    """Radius from the Rayleigh distribution of scipy; the angle under which it is seen from plane trigonometry."""
    winds, sd_m_s, speed_m_s = field(lambda z: 20.0 + 0.0 * z, lambda z: 0.0 * z), 2.0, 20.0
    reach_m_s = float(stats.rayleigh.ppf(0.9, scale=sd_m_s))
    picture = pixels(draw(tmp_path / "a.png", winds, np.full(winds.levels, sd_m_s)))
    row = row_at(picture, 0.5)
    shown = bluish(picture)
    (left, _), (compass_left, compass_right), _ = panels(picture)

    band = [run for run in runs(shown[row]) if run[1] - run[0] > 10]
    speed_px = (line_share(picture, 0, row) * (panels(picture)[0][1] - left)) / speed_m_s
    assert (band[0][0] - left) / speed_px == pytest.approx(speed_m_s - reach_m_s, abs=0.3)
    assert (band[0][1] - left) / speed_px == pytest.approx(speed_m_s + reach_m_s, abs=0.3)

    width_deg = 360.0 * (band[1][1] - band[1][0]) / (compass_right - compass_left)
    assert width_deg == pytest.approx(2.0 * np.degrees(np.arcsin(reach_m_s / speed_m_s)), abs=4.0)


def test_an_error_larger_than_the_wind_leaves_any_direction(tmp_path: Path) -> None:
    winds = field(lambda z: 2.0 + 0.0 * z, lambda z: 0.0 * z)
    picture = pixels(draw(tmp_path / "a.png", winds, np.full(winds.levels, 3.0)))
    left, right = panels(picture)[1]
    row = row_at(picture, 0.5)
    covered = bluish(picture)[row, left + 3 : right - 3]
    assert covered.all()


def test_a_wind_that_turns_through_north_comes_in_again_on_the_other_side(tmp_path: Path) -> None:
    def angle(z: Any) -> Any:
        return np.radians(300.0 + z / 26_000.0 * 120.0)  # from 300 degrees at the sea to 60 degrees at the top

    picture = pixels(
        draw(tmp_path / "a.png", field(lambda z: -10 * np.sin(angle(z)), lambda z: -10 * np.cos(angle(z))))
    )
    assert line_share(picture, 1, row_at(picture, 0.15)) > 0.8
    assert line_share(picture, 1, row_at(picture, 0.75)) < 0.2


def forecast(angles_deg: Any, speeds_m_s: Any, warmer_k: Any) -> WindField:
    """Several members of one column: direction as a function of height, speed, temperature added to standard air."""
    one = column_field(top_msl_m=KNOWN_TOP_MSL_M)
    cubes = {name: np.repeat(getattr(one, name), len(speeds_m_s), axis=0) for name in CUBES}
    for member, (angle, speed, warmer) in enumerate(zip(angles_deg, speeds_m_s, warmer_k, strict=True)):
        radians = np.radians(angle(one.height_msl_m[0]))
        cubes["wind_u_m_s"][member], cubes["wind_v_m_s"][member] = -speed * np.sin(radians), -speed * np.cos(radians)
        cubes["temperature_k"][member] += warmer
    known = replace(one, kind="forecast", name="forecast of nobody, run 2027-02-13 12:00 UTC", **cubes)
    return subdivide(extend(known, bottom_msl_m=-500.0, top_msl_m=34_000.0), step_m=250.0)


def middles(lines: Any) -> Any:
    """Middles of the lines that cross a row of a panel."""
    return np.array([0.5 * (first + behind) for first, behind in runs(lines)])


def test_each_member_is_a_thin_line_beside_the_mean(tmp_path: Path) -> None:
    speeds, warmer = np.array([10.0, 16.0, 34.0]), np.array([-40.0, 10.0, 30.0])
    picture = pixels(draw(tmp_path / "a.png", forecast(3 * [lambda z: 270.0 + 0.0 * z], speeds, warmer)))
    row = row_at(picture, 0.5)
    (speed_left, speed_right), _, (left, right) = panels(picture)
    firm = where(picture, BLUE, 20)[row, speed_left:speed_right]
    assert [width > 2 for width in (np.diff(run)[0] for run in runs(firm))] == [True]

    at = middles(bluish(picture)[row, speed_left:speed_right])
    assert at / line_share(picture, 0, row) / (speed_right - speed_left) == pytest.approx(
        np.array([10.0, 16.0, 20.0, 34.0]) / 20.0, abs=0.03
    )
    reddish = picture[row, left:right, 0] - picture[row, left:right, 2] > 20
    steps = np.diff(middles(reddish))  # from -40 to 0, which is the mean, to 10 and to 30
    assert steps / steps.sum() == pytest.approx(np.array([40.0, 10.0, 20.0]) / 70.0, abs=0.02)


def test_members_that_turn_through_north_draw_nothing_across_the_compass(tmp_path: Path) -> None:
    """From 320 degrees at the sea over north to 40 at the top, 20 more or less: no line comes near the south."""

    def turning(apart_deg: float) -> Any:
        return lambda z: 320.0 + apart_deg + 80.0 * z / KNOWN_TOP_MSL_M

    winds = forecast([turning(apart) for apart in (-20.0, 0.0, 20.0)], 3 * [20.0], 3 * [0.0])
    picture = pixels(draw(tmp_path / "a.png", winds))
    left, right = panels(picture)[1]
    rows = slice(row_at(picture, 0.75), row_at(picture, 0.05))
    at_deg = (
        360.0 * (np.arange(right - left) + 2.0) / (right - left + 3.0)
    )  # the frame covers three pixels of the ground
    assert not bluish(picture)[rows, left:right][:, (at_deg > 70.0) & (at_deg < 290.0)].any()
    # below all three are west of north, then one after the other comes in again at the other side
    for share, west_of_north in ((0.05, 3), (0.5, 1), (0.7, 0)):
        at = middles(bluish(picture)[row_at(picture, share), left:right])
        at_deg = 360.0 * (at + 1.5) / (right - left + 3.0)
        assert np.count_nonzero(at_deg > 180.0) == west_of_north
        assert np.diff(np.sort((at_deg + 180.0) % 360.0)) == pytest.approx([20.0, 20.0], abs=2.0)


def test_the_note_says_what_the_thin_lines_are(tmp_path: Path) -> None:
    west = lambda z: 270.0 + 0.0 * z  # noqa: E731  a formula reads best on one line
    said = words(draw(tmp_path / "a.svg", forecast(12 * [west], np.arange(12.0) + 5.0, 12 * [0.0])))
    assert "thin lines: 12 forecast members" in said
    assert "run 2027-02-13 12:00 UTC, 12 members" in said
    said = words(draw(tmp_path / "b.svg", forecast([west], [5.0], [0.0])))
    assert "thin lines" not in said
    assert re.search("run 2027-02-13 12:00 UTC, 1 member$", said, re.M)


def test_the_band_lies_about_the_mean_of_the_members(tmp_path: Path) -> None:
    """Radius from the Rayleigh distribution of scipy."""
    winds = forecast(2 * [lambda z: 270.0 + 0.0 * z], [14.0, 26.0], 2 * [0.0])
    picture = pixels(draw(tmp_path / "a.png", winds, np.full(winds.levels, 4.0)))
    row, (left, right) = row_at(picture, 0.5), panels(picture)[0]
    band = max(runs(bluish(picture)[row, left:right]), key=lambda run: run[1] - run[0])
    px_per_m_s = line_share(picture, 0, row) * (right - left) / 20.0
    reach_m_s = float(stats.rayleigh.ppf(0.9, scale=4.0))
    assert np.array(band) / px_per_m_s == pytest.approx([20.0 - reach_m_s, 20.0 + reach_m_s], abs=0.4)


def test_the_same_winds_give_the_same_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    winds = field(lambda z: 10.0 + 0.0 * z, lambda z: 0.0 * z)
    files = []
    for second in ("0", "86400"):  # of the epoch; matplotlib dates a file by this when it dates it
        monkeypatch.setenv("SOURCE_DATE_EPOCH", second)
        files.append(draw(tmp_path / f"{second}.svg", winds, np.full(winds.levels, 1.0)).read_bytes())
    assert files[0] == files[1]
    assert b"clip-path" in files[0]


def test_axes_heights_and_source_are_named(tmp_path: Path) -> None:
    winds = field(lambda z: 10.0 + 0.0 * z, lambda z: 0.0 * z)
    said = words(draw(tmp_path / "a.svg", winds, np.full(winds.levels, 1.0)))
    for text in (
        "wind speed, m/s", "kt", "wind from, ° true", "temperature, °C", "°F", "height above mean sea level, km",
        "thousand ft", "26.0 km (85,300 ft)", "extrapolated above", "nominal burst", "30.0 km (98,400 ft)",
        "ground at release", "225 m (740 ft)", "invented", "Winds",
        "pale band: holds the true wind with 90 %", "Invented example.",
    ):  # fmt: skip
        assert text in said


def test_a_column_that_begins_above_the_ground_says_so(tmp_path: Path) -> None:
    known = column_field(lambda z: 10.0 + 0.0 * z, top_msl_m=KNOWN_TOP_MSL_M)
    cut = {name: getattr(known, name)[:, :, 5:] for name in CUBES}
    winds = extend(replace(known, **cut), bottom_msl_m=0.0, top_msl_m=34_000.0)
    said = words(draw(tmp_path / "a.svg", winds))
    assert "extrapolated below" in said
    assert "2,500 m (8,200 ft)" in said


def test_an_unknown_error_is_said_and_no_band_is_drawn(tmp_path: Path) -> None:
    winds = field(lambda z: 10.0 + 0.0 * z, lambda z: 0.0 * z)
    assert "the error of these winds is not known: no band is drawn" in words(draw(tmp_path / "a.svg", winds))
    assert where(pixels(draw(tmp_path / "a.png", winds)), PALE).sum() == 0


def test_errors_on_other_levels_are_refused(tmp_path: Path) -> None:
    winds = field(lambda z: 10.0 + 0.0 * z, lambda z: 0.0 * z)
    with pytest.raises(ValueError, match="levels"):
        draw(tmp_path / "a.png", winds, np.ones(winds.levels - 1))
