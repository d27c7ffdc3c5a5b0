"""The curves against delay and lift: values where they belong, axes with units, gaps said."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pictures import pixels, words

from pappus.export import CURVE_LEVELS, DelayCurve, LiftCurve, draw_delay_curve, draw_lift_curve

GRAM_FORCE_N = 0.00980665
"""Exact: standard gravity (SI brochure, 9th edition; 3rd CGPM 1901) times one gram."""
WIDTHS = np.array([0.6, 0.85, 1.0, 1.2, 1.6])


def delay(**keys: Any) -> DelayCurve:
    minutes = np.arange(0.0, 121.0, 10.0)
    usual: dict[str, Any] = {
        "delay_s": 60.0 * minutes, "moved_m": (2000.0 + 200.0 * minutes)[:, None] * WIDTHS,
        "bearing_deg": np.full(13, 90.0), "permitted": "the permitted plain", "leaves_after_s": 74 * 60.0,
        "lasts_s": 7200.0,
    }  # fmt: skip
    return DelayCurve(**(usual | keys))


def lift(**keys: Any) -> LiftCurve:
    grams = np.linspace(1800.0, 2600.0, 17)
    usual: dict[str, Any] = {
        "lift_n": GRAM_FORCE_N * grams,
        "burst_msl_m": 33_000.0 - 3.0 * (grams - 1800.0)[:, None] + np.array([-900.0, -300.0, 0.0, 300.0, 700.0]),
        "moved_m": (1000.0 + 40.0 * np.abs(grams - 2200.0))[:, None] * WIDTHS,
        "bearing_deg": np.where(grams < 2200.0, 95.0, 280.0),
        "planned_lift_n": GRAM_FORCE_N * 2200.0, "tolerance_n": GRAM_FORCE_N * 50.0, "wanted_height_msl_m": 31_000.0,
    }  # fmt: skip
    return LiftCurve(**(usual | keys))


@pytest.fixture
def figure_of(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    def drawn(draw: Any, curve: Any) -> Any:
        kept: list[Any] = []
        monkeypatch.setattr("pappus.export._curves.save", lambda figure, path: kept.append(figure))
        draw("unused.png", curve, title="a", footer="b")
        return kept[0]

    return drawn


def test_axes_are_named_with_units(tmp_path: Path) -> None:
    draw_delay_curve(tmp_path / "d.svg", delay(), title="Landing against delay", footer="Invented.")
    said = words(tmp_path / "d.svg")
    for text in ("delay of the release [min]", "landing moves [km]", "[mi]", "50 % of flights", "90 % of flights"):
        assert text in said
    draw_lift_curve(tmp_path / "l.svg", lift(), title="Burst and landing", footer="Invented.")
    said = words(tmp_path / "l.svg")
    for text in ("lift on the scale [gf]", "lift on the scale [N]", "burst, above sea level [km]", "[1,000 ft]"):
        assert text in said
    for text in ("landing moves [km]", "wanted 31.0 km (101,700 ft)", "planned", "Planned 2200 gf (21.6 N)"):
        assert text in said


def test_the_middle_and_the_bands_are_those_given(figure_of: Callable[..., Any]) -> None:
    assert CURVE_LEVELS == (0.05, 0.25, 0.5, 0.75, 0.95)
    curve = delay()
    axes = figure_of(draw_delay_curve, curve).axes[0]
    middle = next(line for line in axes.lines if line.get_linewidth() == 2.0 and len(line.get_xdata()) == 13)
    np.testing.assert_allclose(middle.get_xdata(), curve.delay_s / 60.0)
    np.testing.assert_allclose(middle.get_ydata(), curve.moved_m[:, 2] / 1000.0)
    wide, narrow = (collection.get_paths()[0].get_extents() for collection in axes.collections[:2])
    assert (wide.y0, wide.y1) == pytest.approx((1.2, 41.6))
    assert (narrow.y0, narrow.y1) == pytest.approx((1.7, 31.2))


def test_scales_agree_between_units(figure_of: Callable[..., Any]) -> None:
    """One statute mile is 1,609.344 m, one foot 0.3048 m (international yard and pound agreement 1959)."""
    figure = figure_of(draw_lift_curve, lift())
    figure.canvas.draw()
    move, burst = figure.axes[0], figure.axes[1]
    miles = next(axis for axis in move.child_axes if axis.get_ylabel() == "[mi]")
    assert miles.get_ylim()[1] == pytest.approx(move.get_ylim()[1] / 1.609344)
    feet = next(axis for axis in burst.child_axes if axis.get_ylabel() == "[1,000 ft]")
    assert feet.get_ylim()[0] == pytest.approx(burst.get_ylim()[0] / 0.3048)
    newtons = next(axis for axis in burst.child_axes if axis.get_xlabel())
    assert newtons.get_xlim() == pytest.approx((1800 * GRAM_FORCE_N, 2600 * GRAM_FORCE_N))


@pytest.mark.parametrize(("bearing", "east", "north"), [(0.0, 0, 1), (90.0, 1, 0), (180.0, 0, -1), (270.0, -1, 0)])
def test_arrows_point_as_on_a_map(figure_of: Callable[..., Any], bearing: float, east: int, north: int) -> None:
    axes = figure_of(draw_delay_curve, delay(bearing_deg=np.full(13, bearing))).axes[0]
    arrows = [text for text in axes.texts if getattr(text, "arrow_patch", None) is not None]
    assert len(arrows) >= 5
    for arrow in arrows:
        step = np.subtract(arrow.xy, arrow.xyann)
        np.testing.assert_allclose(step / np.hypot(*step), (east, north), atol=1e-9)


def test_where_it_leaves_is_a_line_at_its_minute(figure_of: Callable[..., Any]) -> None:
    figure = figure_of(draw_delay_curve, delay())
    axes = figure.axes[0]
    assert any(np.allclose(line.get_xdata(), 74.0) for line in axes.lines)
    assert any("leaves the permitted plain\nafter 74 min" in text.get_text() for text in axes.texts)
    stays = figure_of(draw_delay_curve, delay(leaves_after_s=None))
    assert not any("leaves" in text.get_text() for text in stays.axes[0].texts)
    assert any("stays in the permitted plain" in text.get_text().replace("\n", " ") for text in stays.texts)


def test_what_is_not_known_is_said(tmp_path: Path) -> None:
    gone = delay().moved_m.copy()
    gone[-2:] = np.nan
    draw_delay_curve(tmp_path / "d.svg", delay(moved_m=gone, permitted="", leaves_after_s=None), title="a", footer="b")
    said = words(tmp_path / "d.svg")
    assert "cannot tell where the curve has a gap" in said
    assert "(2 points)" in said
    assert "names no permitted landing area" in said
    assert "A release 100 min later lands 22.0 km" in said
    nothing = np.full_like(gone, np.nan)
    draw_delay_curve(tmp_path / "n.svg", delay(moved_m=nothing), title="a", footer="b")
    assert "Cannot tell: no later release lands in the data" in words(tmp_path / "n.svg")


def test_the_picture_is_made_for_paper(tmp_path: Path) -> None:
    """10 in. wide at 200 dots an inch: 273 an inch when it is as wide as A4 less its margins (186 mm)."""
    draw_delay_curve(tmp_path / "d.png", delay(), title="a", footer="b")
    assert pixels(tmp_path / "d.png").shape[1] == 2000


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"delay_s": np.zeros(13)}, "increasing"),
        ({"moved_m": np.zeros((13, 3))}, r"must be \(13, 5\)"),
        ({"bearing_deg": np.zeros(4)}, "bearing_deg"),
    ],
)
def test_arrays_that_do_not_fit_are_refused(tmp_path: Path, change: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        draw_delay_curve(tmp_path / "d.png", replace(delay(), **change), title="a", footer="b")
