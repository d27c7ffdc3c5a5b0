"""The landing map: true proportions, true scale, what is drawn and what is said."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from pictures import FILLS, INK, SITE, area_of, pixels, runs, scattered_ends, straight_flights, where, words

from pappus.errors import OutOfRange
from pappus.export import draw_landing_map
from pappus.ground import MapLines, PlaceIndex
from pappus.landing import AreaLevel
from pappus.trajectory import Flights, Outcome


def draw(path: Path, flights: Flights, *, site: tuple[float, float] = SITE, **keys: Any) -> Path:
    end = (site[0] + 0.2, site[1] + 0.8)
    usual = {
        "area": area_of(flights),
        "nominal": straight_flights(end, site=site),
        "off_nominal": np.zeros(len(flights.outcome), dtype=bool),
        "lines": MapLines((), ()),
        "places": one_place(SITE[0] + 90.0, 0.0),
    }
    draw_landing_map(
        path, flights=flights, site_name="Site A", site_latitude_deg=site[0], site_longitude_deg=site[1],
        title="Where the steam goes", footer="Invented example.", **(usual | keys),
    )  # fmt: skip
    return path


def one_place(latitude_deg: float, longitude_deg: float, name: str = "Kettle Town") -> PlaceIndex:
    spelled = name.encode()
    return PlaceIndex(
        spelled, np.array([0, len(spelled)]), np.array([b"AR"]), np.array([latitude_deg]), np.array([longitude_deg]),
        np.array([900]),
    )  # fmt: skip


def square_level(probability: float, south: float, north: float, west: float, east: float) -> AreaLevel:
    ring = np.array([(south, west), (south, east), (north, east), (north, west), (south, west)])
    return AreaLevel(probability, True, "", 100.0, 1.0, ((ring,),))


def test_squares_on_the_ground_and_the_scale_bars_agree_with_geodesics(tmp_path: Path) -> None:
    """Lengths from geographiclib (Karney 2013); a mile is 1609.344 m by the agreement of 1959."""
    flights = straight_flights(scattered_ends())
    south, north, west, east = -37.30, -37.05, -64.05, -63.60
    level = square_level(0.5, south, north, west, east)
    unseen = AreaLevel(0.9, False, "not made for this test", None, None, ())
    area = replace(area_of(flights), parts=(level, unseen, replace(unseen, probability=0.95)))
    picture = pixels(draw(tmp_path / "map.png", flights, area=area))
    said = words(draw(tmp_path / "map.svg", flights, area=area))

    fill = where(picture, FILLS[0])
    rows, columns = np.flatnonzero(fill.sum(axis=1) > 60), np.flatnonzero(fill.sum(axis=0) > 60)
    height_px, width_px = np.ptp(rows) + 3.0, np.ptp(columns) + 3.0  # half of each edge is covered by the outline
    height_km = Geodesic.WGS84.Inverse(south, west, north, west)["s12"] / 1000.0
    width_km = Geodesic.WGS84.Inverse(0.5 * (south + north), west, 0.5 * (south + north), east)["s12"] / 1000.0
    assert width_px / height_px == pytest.approx(width_km / height_km, rel=0.015)

    bars = [max((b - a for a, b in runs(row)), default=0) for row in where(picture, INK, 40)[int(rows[-1]) :]]
    long_rows = [length for length in bars if length > 100]
    kilometre_bar, mile_bar = long_rows[0], long_rows[-1]
    kilometres, miles = (float(re.search(rf"^([\d.]+) {unit}$", said, re.M)[1]) for unit in ("km", "mi"))
    assert kilometre_bar / kilometres == pytest.approx(width_px / width_km, rel=0.015)
    assert mile_bar / miles / (kilometre_bar / kilometres) == pytest.approx(1.609344, rel=0.015)


def test_the_legend_the_title_and_the_small_print_are_there(tmp_path: Path) -> None:
    flights = straight_flights(scattered_ends(300))
    off = np.arange(300) < 12
    said = words(draw(tmp_path / "map.svg", flights, off_nominal=off))
    for text in (
        "Where the steam goes", "Invented example.", "50 % of flights land in", "90 % of flights land in",
        "95 % of flights land in", "nominal flight, up", "nominal flight, down", "predicted flights, up",
        "site of release", "landings (288)", "landings, off-nominal (12)", "▲ north is up",
        "300 predicted flights: 300 landed in the data. 150 flights are drawn as lines.",
    ):  # fmt: skip
        assert text in said
    assert re.search(r"[\d,]+ km² \([\d,]+ sq mi\)", said)
    assert re.search(r"^37\.\d° S$", said, re.M)
    assert re.search(r"^6[34]\.\d° W$", said, re.M)


def test_off_nominal_landings_have_another_mark_and_hue(tmp_path: Path) -> None:
    flights = straight_flights(scattered_ends(40))
    vermillion = "#d55e00"  # of Okabe & Ito 2008
    none = where(pixels(draw(tmp_path / "a.png", flights)), vermillion, 25)
    some = where(pixels(draw(tmp_path / "b.png", flights, off_nominal=np.arange(40) < 20)), vermillion, 25)
    assert none.sum() == 0
    assert some.sum() > 20 * 5


def test_areas_get_paler_from_50_to_95_percent_also_without_colour(tmp_path: Path) -> None:
    """Relative luminance of WCAG 2.1 (weights of ITU-R BT.709)."""
    picture = pixels(draw(tmp_path / "map.png", straight_flights(scattered_ends())))
    luminance = []
    for fill in FILLS:
        assert where(picture, fill).sum() > 500
        share = np.array([int(fill[place : place + 2], 16) for place in (1, 3, 5)]) / 255.0
        linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
        luminance.append(float(linear @ (0.2126, 0.7152, 0.0722)))
    contrast = [(b + 0.05) / (a + 0.05) for a, b in pairwise(luminance)]
    assert min(contrast) > 1.3


def test_without_a_landed_flight_the_map_is_drawn_and_says_so(tmp_path: Path) -> None:
    flights = straight_flights(scattered_ends(50), outcome=Outcome.LEFT_COVERAGE)
    nominal = straight_flights((-37.2, -63.8), outcome=Outcome.LEFT_COVERAGE)
    picture = pixels(draw(tmp_path / "map.png", flights, nominal=nominal))
    said = words(draw(tmp_path / "map.svg", flights, nominal=nominal))
    assert "◇ No landing area." in said
    assert "50 predicted flights: 0 landed in the data, 50 did not." in said
    assert "last known places, not landed (50)" in said
    assert "no area for 95 % of all flights: only 0 flights landed in the data; an area needs 20" in said
    assert "landing (" not in said
    assert sum(where(picture, fill).sum() for fill in FILLS) == 0
    assert where(picture, INK, 40).sum() > 2000


def test_a_map_over_the_date_line_is_the_same_map(tmp_path: Path) -> None:
    """The earth turns: flights, coast and place moved by 244.3 degrees of longitude look as before."""
    pictures = []
    for name, longitude in (("here", SITE[1]), ("there", SITE[1] + 244.3)):
        site = (SITE[0], longitude)
        coast = np.array([(longitude + 0.1, SITE[0] + 0.1), (longitude + 1.0, SITE[0] - 0.1)])
        coast[:, 0] = (coast[:, 0] + 180.0) % 360.0 - 180.0
        if np.ptp(coast[:, 0]) > 180.0:  # data files cut their lines at the date line
            cut = coast[0] + (180.0 - coast[0, 0]) * np.array([1.0, -0.2 / 0.9])
            lines = MapLines((np.array([coast[0], cut]), np.array([cut - (360.0, 0.0), coast[1]])), ())
        else:
            lines = MapLines((coast,), ())
        flights = straight_flights(scattered_ends(site=site), site=site)
        place = one_place(SITE[0] + 0.02, (longitude + 0.7 + 180.0) % 360.0 - 180.0)
        pictures.append(pixels(draw(tmp_path / f"{name}.png", flights, site=site, lines=lines, places=place)))
        said = words(draw(tmp_path / f"{name}.svg", flights, site=site, lines=lines, places=place))
        assert "coast" in said
        assert ("180°" in said) == (name == "there")
    here, there = pictures
    assert here.shape == there.shape
    # meridians and the names of meridians stand elsewhere
    assert np.mean(np.any(np.abs(here - there) > 60, axis=-1)) < 0.01
    for fill in FILLS:
        assert where(there, fill).sum() == pytest.approx(where(here, fill).sum(), rel=0.03)


def test_a_town_is_named_beside_its_place(tmp_path: Path) -> None:
    flights = straight_flights(scattered_ends())
    with_town = pixels(draw(tmp_path / "a.png", flights, places=one_place(SITE[0] + 0.02, SITE[1] + 0.7)))
    without = pixels(draw(tmp_path / "b.png", flights))
    rows, columns = np.nonzero(np.any(np.abs(with_town - without) > 30, axis=-1))
    assert 60 < np.ptp(columns) < 200
    assert 10 < np.ptp(rows) < 40


def test_a_name_that_cannot_be_drawn_is_left_out(tmp_path: Path) -> None:
    flights = straight_flights(scattered_ends())
    place = one_place(SITE[0] + 0.02, SITE[1] + 0.7, name="\u6e6f\u6c17")
    picture = pixels(draw(tmp_path / "a.png", flights, places=place))
    assert np.array_equal(picture, pixels(draw(tmp_path / "b.png", flights)))


def test_titles_may_hold_anything(tmp_path: Path) -> None:
    flights = straight_flights(scattered_ends(30))
    title = "cost 5 $ & <b>x_2^3</b> $\\bad \u6e6f" + 12 * " and so on"
    draw_landing_map(
        tmp_path / "map.svg", area=area_of(flights), flights=flights, nominal=straight_flights((-37.2, -63.8)),
        off_nominal=np.zeros(30, dtype=bool), site_name=r"$\frac{1}$", site_latitude_deg=SITE[0],
        site_longitude_deg=SITE[1], lines=None, places=None, title=title,
        footer="",
    )  # fmt: skip
    said = words(tmp_path / "map.svg")
    assert "cost 5 $ & <b>x_2^3</b> $\\bad ? and so on" in said
    assert "not on this map for want of data: coast and borders and places" in said


def test_a_small_area_is_pointed_at(tmp_path: Path) -> None:
    wide = straight_flights(scattered_ends(60))
    small = straight_flights(scattered_ends(60, spread_deg=0.001))
    blue = "#0072b2"
    label = where(pixels(draw(tmp_path / "small.png", small)), blue, 40)
    assert label[:, : label.shape[1] // 2 + 400].sum() > 150
    assert np.ptp(np.flatnonzero(label[:900].any(axis=0))) > 60
    assert where(pixels(draw(tmp_path / "wide.png", wide)), FILLS[2]).sum() > 3000


def test_ends_outside_the_map_are_counted(tmp_path: Path) -> None:
    ends = scattered_ends(1000)
    ends[17] += (8.0, 30.0)
    said = words(draw(tmp_path / "map.svg", straight_flights(ends)))
    assert "1 flight ends outside this map" in said
    assert "outside this map" not in words(draw(tmp_path / "all.svg", straight_flights(scattered_ends(15))))


def test_what_cannot_be_drawn_is_refused(tmp_path: Path) -> None:
    polar = (-89.0, 0.0)
    with pytest.raises(OutOfRange, match="latitude of a map"):
        draw(tmp_path / "map.png", straight_flights(scattered_ends(30, site=polar), site=polar), site=polar)
    with pytest.raises(ValueError, match="off_nominal"):
        draw(tmp_path / "map.png", straight_flights(scattered_ends(30)), off_nominal=np.zeros(29, dtype=bool))


def test_the_door_opens_without_matplotlib() -> None:
    code = "import sys, pappus.export; sys.exit('matplotlib' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_many_ends_leave_the_areas_to_be_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each third of 2,500 flights has a mark, and the map says so; the legend counts them all."""
    flights = straight_flights(scattered_ends(2500))
    said = words(draw(tmp_path / "many.svg", flights))
    assert "one flight in 3 has a mark at its end" in said
    assert "landings (2,500)" in said
    kept: list[Any] = []
    monkeypatch.setattr("pappus.export._map.save", lambda figure, path: kept.append(figure))
    for count, marked in ((2500, 834), (900, 900)):
        draw(tmp_path / "unused.png", straight_flights(scattered_ends(count)))
        lines = [line for axes in kept[-1].axes for line in axes.lines if line.get_markersize() == 2.4]
        assert [len(line.get_xdata()) for line in lines] == [marked]
    assert not any("has a mark at its end" in text.get_text() for text in kept[-1].texts)
