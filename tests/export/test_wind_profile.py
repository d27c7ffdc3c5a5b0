"""The wind profile: where the lines stand on their axes, how wide the band is, what is said."""

from __future__ import annotations

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


def test_axes_heights_and_source_are_named(tmp_path: Path) -> None:
    winds = field(lambda z: 10.0 + 0.0 * z, lambda z: 0.0 * z)
    said = words(draw(tmp_path / "a.svg", winds, np.full(winds.levels, 1.0)))
    for text in (
        "wind speed, m/s", "kt", "wind from, ° true", "temperature, °C", "°F", "height above mean sea level, km",
        "thousand ft", "26.0 km (85,300 ft)", "extrapolated above", "nominal burst", "30.0 km (98,400 ft)",
        "ground at release", "225 m (740 ft)", "invented: sounding released 2027-02-13 12:00 UTC", "Winds",
        "pale band: holds the true wind with 90 %", "Invented example.",
    ):  # fmt: skip
        assert text in said


def test_a_column_that_begins_above_the_ground_says_so(tmp_path: Path) -> None:
    known = column_field(lambda z: 10.0 + 0.0 * z, top_msl_m=KNOWN_TOP_MSL_M)
    cut = {
        name: getattr(known, name)[:, :, 5:]
        for name in ("pressure_pa", "height_msl_m", "temperature_k", "wind_u_m_s", "wind_v_m_s")
    }
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
