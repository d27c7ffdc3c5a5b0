"""What a crew's own data add to the landing map: in the right place, in the legend, and said where it is not known."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from pictures import FILLS, SITE, area_of, pixels, straight_flights, where, words

from pappus.export import AreaKind, LineKind, MapArea, MapLayers, draw_landing_map
from pappus.export._look import Labels
from pappus.ground import MapLines

WATER, WIDE, MAIN, SMALL = "#2f6175", "#7d5f36", "#a08457", "#c6b596"
AIRSPACE, PERMIT, KEEP_OUT = "#cc79a7", "#009e73", "#d55e00"  # hues of Okabe & Ito 2008
NOTHING = MapLayers({}, (), (), (), ())
GAP = (np.nan, np.nan)


def draw(path: Path, layers: MapLayers | None, *, site: tuple[float, float] = SITE, spread: float = 0.08) -> Path:
    """The map of an invented flight, about 100 km wide with the usual spread, 8 km with one of 0.001."""
    way = (0.2, 0.8) if spread > 0.01 else (0.02, 0.06)
    middle = np.array(site) + way
    ends = middle + spread * np.random.default_rng(3).standard_normal((200, 2))
    flights = straight_flights(ends, site=site)
    draw_landing_map(
        path, area=area_of(flights), flights=flights, nominal=straight_flights(tuple(middle), site=site),
        off_nominal=np.zeros(200, dtype=bool), site_name="Site A", site_latitude_deg=site[0],
        site_longitude_deg=site[1], lines=MapLines((), ()), places=None, title="Where the steam goes",
        footer="Invented example.", layers=layers,
    )  # fmt: skip
    return path


def square(south: float, north: float, west: float, east: float) -> Any:
    return np.array([(south, west), (south, east), (north, east), (north, west)])


def near(site: tuple[float, float], *offsets: tuple[float, float]) -> Any:
    """Places by their distance from the site [deg]; longitudes from -180 to 180, as files have them."""
    points = np.array(site) + np.array(offsets, dtype=float)
    return np.column_stack((points[:, 0], (points[:, 1] + 180.0) % 360.0 - 180.0))


def area(kind: AreaKind, *rings: Any, name: str = "", limits: str = "") -> MapArea:
    return MapArea(kind, rings, name, limits)


def everything(site: tuple[float, float] = SITE) -> MapLayers:
    """One of each, on a map of 8 km and on one of 100 km."""
    kinds: tuple[LineKind, ...] = ("wide road", "main road", "small road", "railway", "power line", "waterway")
    lines = {
        kind: near(site, (0.002 + 0.004 * row, 0.0), (0.002 + 0.004 * row, 0.05), GAP, (0.03, 0.0), (0.031, 0.0), GAP)
        for row, kind in enumerate(kinds)
    }
    sides: dict[AreaKind, tuple[float, float]] = {
        "water": (0.0, 0.01), "water or land": (0.011, 0.014), "airspace": (0.015, 0.03),
        "keep-out": (0.031, 0.04), "permitted landing": (0.041, 0.047), "permit area": (0.048, 0.06),
    }  # fmt: skip
    areas = [
        area(kind, near(site, (-0.01, west), (-0.01, east), (0.015, east), (0.015, west)))
        for kind, (west, east) in sides.items()
    ]
    south, west = near(site, (-0.02, -0.005))[0]
    north, east = near(site, (0.028, 0.055))[0]
    return MapLayers(lines, tuple(areas), ((south, north, west, east),), ("© the surveyors of the moon",), ())


def seen(path: Path, colour: str) -> int:
    return int(where(pixels(path), colour, 12).sum())


def test_each_layer_is_on_the_map_and_in_the_legend(tmp_path: Path) -> None:
    plain, full = draw(tmp_path / "a.png", NOTHING, spread=0.001), draw(tmp_path / "b.png", everything(), spread=0.001)
    for colour, least in (
        (WATER, 500), (WIDE, 600), (MAIN, 300), (SMALL, 100), (AIRSPACE, 300), (PERMIT, 600), (KEEP_OUT, 600),
    ):  # fmt: skip
        assert seen(full, colour) - seen(plain, colour) > least  # rims of blue lines have any tone
    said = words(draw(tmp_path / "b.svg", everything(), spread=0.001))
    for text in (
        "water", "sea or land, cannot tell", "rivers, streams, canals", "motorways, trunk roads", "other main roads",
        "small roads", "railways", "power lines", "airspace, floor to ceiling", "keep-out zone", "permitted landing",
        "permit area of the flight", "edge of the map data", "© the surveyors of the moon",
        "• roads and water known inside the dashed frame only",
    ):  # fmt: skip
        assert text in said.splitlines(), text
    nothing = words(draw(tmp_path / "a.svg", NOTHING, spread=0.001))
    assert not {"water", "railways", "edge of the map data"} & set(nothing.splitlines())


def test_without_a_field_pack_the_map_says_what_it_does_not_show(tmp_path: Path) -> None:
    note = "no field pack was used: water, roads, airspace and zones are not on this map"
    assert note in words(draw(tmp_path / "a.svg", None))
    assert note not in words(draw(tmp_path / "b.svg", NOTHING))


def test_roads_lie_where_geodesics_put_them(tmp_path: Path) -> None:
    """Two roads along parallels and two along meridians; lengths from geographiclib (Karney 2013)."""
    south, north, west, east = -37.36, -37.02, -64.55, -63.62
    roads = np.array([
        (south, west), (south, east), GAP, (north, west), (north, east), GAP,
        (south, west), (north, west), GAP, (south, east), (north, east), GAP,
    ])  # fmt: skip
    picture = where(pixels(draw(tmp_path / "map.png", MapLayers({"wide road": roads}, (), (), (), ()))), WIDE, 12)
    picture = picture[: picture.shape[0] * 2 // 3]  # without the legend
    rows, columns = np.flatnonzero(picture.sum(axis=1) > 200), np.flatnonzero(picture.sum(axis=0) > 100)
    height_px = np.mean(rows[rows > rows.mean()]) - np.mean(rows[rows < rows.mean()])
    width_px = np.mean(columns[columns > columns.mean()]) - np.mean(columns[columns < columns.mean()])
    height = Geodesic.WGS84.Inverse(south, west, north, west)["s12"]
    middle = 0.5 * (south + north)
    width = Geodesic.WGS84.Inverse(middle, west, middle, east)["s12"]
    assert width_px / height_px == pytest.approx(width / height, rel=0.01)


def test_roads_are_seen_inside_the_landing_area_and_under_its_outline(tmp_path: Path) -> None:
    across = near(SITE, (0.2, 0.3), (0.2, 1.3), GAP)
    layers = MapLayers({"wide road": across}, (), (), (), ())
    plain, crossed = pixels(draw(tmp_path / "a.png", NOTHING)), pixels(draw(tmp_path / "b.png", layers))
    plain, crossed = (picture[:900] for picture in (plain, crossed))
    road = where(crossed, WIDE, 12)
    for fill in FILLS:
        assert (road & where(plain, fill)).sum() > 20
    outline = where(plain, "#0072b2", 2)
    assert (road & outline).sum() == 0


def test_a_map_over_the_date_line_has_the_same_layers(tmp_path: Path) -> None:
    there = (SITE[0], SITE[1] + 244.56)  # the date line runs through the middle of the areas
    here_picture = pixels(draw(tmp_path / "a.png", everything(), spread=0.001))
    there_picture = pixels(draw(tmp_path / "b.png", everything(there), site=there, spread=0.001))
    assert there[1] < 180.0 < there[1] + 0.06
    assert here_picture.shape == there_picture.shape
    for colour in (WATER, WIDE, MAIN, SMALL, AIRSPACE, PERMIT, KEEP_OUT):
        amounts = [where(picture, colour, 12).sum() for picture in (here_picture, there_picture)]
        assert amounts[1] == pytest.approx(amounts[0], rel=0.05)


def test_a_wide_map_leaves_out_fine_lines_and_names_them(tmp_path: Path) -> None:
    said = words(draw(tmp_path / "a.svg", everything()))
    note = "not drawn on a map this wide, though known: small roads; railways; power lines; rivers, streams, canals"
    assert note in said
    assert "railways" not in said.splitlines()
    assert "other main roads" in said.splitlines()
    assert "not drawn on a map" not in words(draw(tmp_path / "b.svg", everything(), spread=0.001))


@pytest.mark.parametrize(
    ("box", "note"),
    [
        ((-40.0, -35.0, -67.0, -61.0), None),
        ((-37.4, -37.3, -65.5, -64.3), "roads and water known inside the dashed frame only"),
        ((10.0, 11.0, 20.0, 21.0), "the map data of the field pack lie elsewhere: roads and water of this map"),
    ],
)
def test_the_map_says_where_its_data_end(
    tmp_path: Path, box: tuple[float, float, float, float], note: str | None
) -> None:
    said = words(draw(tmp_path / "map.svg", MapLayers({}, (), (box,), (), ())))
    possible = ("inside the dashed frame only", "lie elsewhere")
    assert any(text in said for text in possible) == (note is not None)
    assert note is None or note in said
    assert ("edge of the map data" in said) == (note is not None and "dashed" in note)


def test_an_area_that_holds_the_whole_map_is_said_in_words(tmp_path: Path) -> None:
    wide = square(-50.0, -20.0, -80.0, -50.0)
    layers = MapLayers({}, (area("airspace", wide, name="KETTLE TMA", limits="FL 95 to FL 245"),), (), (), ())
    said = words(draw(tmp_path / "map.svg", layers))
    assert "this whole map lies inside: airspace KETTLE TMA FL 95 to FL 245" in said
    hole = square(-40.0, -30.0, -70.0, -60.0)
    layers = MapLayers({}, (area("airspace", wide, hole, name="KETTLE TMA"),), (), (), ())
    assert "lies inside" not in words(draw(tmp_path / "hole.svg", layers))


def test_airspace_is_listed_also_where_its_name_has_no_room(tmp_path: Path) -> None:
    ring = square(-37.3, -37.0, -64.5, -64.2)
    areas = tuple(area("airspace", ring, name=f"K{number}", limits="R, SFC to FL 60") for number in range(12))
    said = words(draw(tmp_path / "map.svg", MapLayers({}, areas, (), (), ()))).replace("\n", " ")
    assert "airspace with an edge on this map: K0, R, SFC to FL 60; K1, R, SFC to FL 60;" in said
    assert "K9, R, SFC to FL 60; and 2 more" in said


def test_names_and_heights_are_written_on_airspace_and_zones(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    written: list[str] = []
    add = Labels.add

    def listen(self: Labels, text: str, *place: float, **style: Any) -> bool:
        placed = add(self, text, *place, **style)
        written.extend([text] if placed else [])
        return placed

    monkeypatch.setattr(Labels, "add", listen)
    layers = MapLayers(
        {},
        (
            area("airspace", square(-37.3, -37.0, -64.5, -64.2), name="KETTLE CTR", limits="D, SFC to 3500 ft"),
            area("keep-out", square(-37.5, -37.45, -64.2, -64.0), name="keep-out school"),
            area("permit area", square(-37.9, -37.1, -64.9, -60.0), name="permit " + 40 * "x"),
            area("keep-out", square(20.0, 21.0, 30.0, 31.0), name="on the other side"),
            area("keep-out", square(-37.1, -37.05, -64.1, -64.0), name="\u6e6f\u6c17"),
        ),
        (), (), ("zones.kml is not on this map: damaged",),
    )  # fmt: skip
    assert "• zones.kml is not on this map: damaged" in words(draw(tmp_path / "map.svg", layers))
    assert {"KETTLE CTR\nD, SFC to 3500 ft", "keep-out school", "permit " + 22 * "x" + "…"} < set(written)
    assert not any("other side" in text or "\u6e6f" in text for text in written)


def test_holes_stay_empty_whatever_the_direction_of_their_rings(tmp_path: Path) -> None:
    outer, hole = square(-37.4, -37.1, -64.4, -63.9), square(-37.35, -37.15, -64.3, -64.0)
    full = hatched(draw(tmp_path / "full.png", MapLayers({}, (area("keep-out", outer),), (), (), ())))
    rows, columns = np.flatnonzero(full.sum(axis=1) > 50), np.flatnonzero(full.sum(axis=0) > 50)
    top, left = rows[0] + np.ptp(rows) * 0.2, columns[0] + np.ptp(columns) * 0.25  # the hole is 0.17 and 0.2 away
    inner = slice(int(top), int(rows[-1] - np.ptp(rows) * 0.2)), slice(int(left), int(left + np.ptp(columns) * 0.5))
    assert full[inner].mean() > 0.02
    for number, rings in enumerate(((outer, hole), (outer[::-1], hole), (outer, hole[::-1]))):
        layers = MapLayers({}, (area("keep-out", *rings),), (), (), ())
        picture = hatched(draw(tmp_path / f"{number}.png", layers))
        assert not picture[inner].any()
        assert picture[rows[0] : rows[0] + 20, inner[1]].mean() > 0.02


def hatched(path: Path) -> Any:
    return where(pixels(path), KEEP_OUT, 40)[:900]
