"""What a crew's own data add to the map: water, roads, rails, power lines, airspace and the zones that it drew."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np

from pappus.export._frame import MapFrame
from pappus.export._look import GREEN, INK, PAPER, QUIET, VERMILLION, Array, Labels, can_draw, halo

LineKind = Literal["wide road", "main road", "small road", "railway", "power line", "waterway"]
AreaKind = Literal["water", "water or land", "built-up", "airspace", "keep-out", "permitted landing", "permit area"]

_DETAIL_WIDTH_M = 60_000.0
_SMALL_ROADS_WIDTH_M = 25_000.0
"""On wider maps so many lines are one grey blot."""
_WIDEST_M: dict[LineKind, float] = {
    "small road": _SMALL_ROADS_WIDTH_M,
    "railway": _DETAIL_WIDTH_M,
    "power line": _DETAIL_WIDTH_M,
    "waterway": _DETAIL_WIDTH_M,
}
_MOST_NAMES, _MOST_LISTED, _LONGEST_NAME, _EDGE_POINTS = 8, 10, 30, 400

_PURPLE = "#cc79a7"
"""Okabe & Ito 2008, as the hues of the other pictures."""
_WATER = "#2f6175"
"""Dark enough to be seen on the fill of an area too."""
_ROAD_TONES = ("#7d5f36", "#a08457", "#c6b596")
"""Warm neutral tones: thin grey lines are flights."""
_ROUND: dict[str, Any] = {"solid_capstyle": "round", "solid_joinstyle": "round"}
_NAME_HUES: dict[AreaKind, str] = {
    "airspace": "#8f3f6b", "permitted landing": "#00684c", "permit area": "#00684c", "keep-out": "#9e4500",
}  # fmt: skip
"""The hues of the edges, darker: as letters they need a contrast of 4.5:1 on paper (WCAG 2.1)."""
_LINES: dict[LineKind, tuple[dict[str, Any], ...]] = {
    "waterway": ({"color": _WATER, "linewidth": 0.9, "zorder": 1.60, **_ROUND},),
    "small road": ({"color": _ROAD_TONES[2], "linewidth": 0.8, "zorder": 1.65, **_ROUND},),
    "main road": ({"color": _ROAD_TONES[1], "linewidth": 1.4, "zorder": 1.70, **_ROUND},),
    "wide road": ({"color": _ROAD_TONES[0], "linewidth": 2.6, "zorder": 1.75, **_ROUND},),
    "railway": (
        {"color": QUIET, "linewidth": 1.8, "zorder": 1.62, "solid_capstyle": "butt"},
        {"color": PAPER, "linewidth": 0.9, "zorder": 1.63, "linestyle": (0, (5, 5)), "dash_capstyle": "butt"},
    ),
    "power line": (
        {"color": INK, "linewidth": 1.7, "zorder": 1.82, "linestyle": (0, (0.1, 2.0)), "dash_capstyle": "round"},
    ),
}
_BOX: dict[str, Any] = {"color": QUIET, "linewidth": 1.0, "linestyle": (0, (6, 5)), "zorder": 2.3}
_AREAS: dict[AreaKind, dict[str, Any]] = {
    "water": {"edgecolor": _WATER, "linewidth": 0.7, "hatch": "....", "zorder": 1.55},
    "water or land": {"edgecolor": QUIET, "linewidth": 0.7, "hatch": "..", "zorder": 1.56},
    "built-up": {"edgecolor": QUIET, "linewidth": 0.6, "hatch": "\\\\\\", "zorder": 1.57},
    "airspace": {"edgecolor": _PURPLE, "linewidth": 1.6, "zorder": 2.1},
    "permitted landing": {"edgecolor": GREEN, "linewidth": 1.8, "zorder": 2.2},
    "permit area": {"edgecolor": GREEN, "linewidth": 2.2, "linestyle": (0, (9, 3)), "zorder": 2.2},
    "keep-out": {"edgecolor": VERMILLION, "linewidth": 1.4, "hatch": "//", "zorder": 2.25},
}
_WORDS: dict[LineKind | AreaKind, str] = {
    "water": "water",
    "water or land": "sea or land, cannot tell",
    "built-up": "built-up area, people",
    "waterway": "rivers, streams, canals",
    "wide road": "motorways, trunk roads",
    "main road": "other main roads",
    "small road": "small roads",
    "railway": "railways",
    "power line": "power lines",
    "airspace": "airspace, floor to ceiling",
    "keep-out": "keep-out zone",
    "permitted landing": "permitted landing",
    "permit area": "permit area of the flight",
}
"""In the order of the legend."""

Handles = list[tuple[Any, str]]


@dataclass(frozen=True, eq=False)
class MapArea:
    """An area with its holes."""

    kind: AreaKind
    rings: tuple[Array, ...]
    """Its outer edge, then its holes: latitude and longitude [deg], shape (points, 2), closed or not. An edge whose
    longitudes differ by more than half a turn crosses the date line."""
    name: str
    """Empty for what has no name on a map, such as water."""
    limits: str
    """Floor and ceiling of airspace as its source wrote them; empty for what lies on the ground."""


@dataclass(frozen=True, eq=False)
class MapLayers:
    """Lines and areas under a landing area, and what has to be said about them."""

    lines: Mapping[LineKind, Array]
    """All lines of a kind in one array: latitude and longitude [deg], shape (points, 2), a row of NaN between two."""
    areas: tuple[MapArea, ...]
    boxes_deg: tuple[tuple[float, float, float, float], ...]
    """South, north, west and east of where roads, rails, power lines and water are known: outside, none is drawn."""
    attributions: tuple[str, ...]
    """To be shown wherever the data are."""
    notes: tuple[str, ...]
    """What could not be read, in words."""


@dataclass(frozen=True, eq=False)
class ShownLayers:
    """What of some layers is on one map, as longitude and latitude in the turn of the map."""

    lines: dict[LineKind, Array]
    areas: tuple[tuple[MapArea, Any], ...]
    """Each with its path."""
    boxes: tuple[Array, ...]
    notes: tuple[str, ...]


def shown_layers(layers: MapLayers, frame: MapFrame) -> ShownLayers:
    """The part of the layers that a map shows, and the notes on what it does not."""
    on_map = {kind: _clipped(points, frame) for kind, points in layers.lines.items()}
    on_map = {kind: points for kind, points in on_map.items() if len(points)}
    left_out = [_WORDS[kind] for kind in on_map if frame.width_m > _WIDEST_M.get(kind, np.inf)]
    lines = {kind: points for kind, points in on_map.items() if _WORDS[kind] not in left_out}
    areas, around = _areas(layers.areas, frame)
    notes = [*layers.notes, *_box_notes(layers, frame)]
    if left_out:
        notes.append(f"not drawn on a map this wide, though known: {'; '.join(left_out)}")
    # there may be no room for all names on the map itself
    crossed = [f"{area.name}, {area.limits}" for area, _ in areas if area.kind == "airspace"]
    for words, names in (("airspace with an edge on this map", crossed), ("this whole map lies inside", around)):
        if names:
            notes.append(f"{words}: {_listed(names)}")
    boxes = tuple(_ring(_corners(box), frame) for box in layers.boxes_deg)
    return ShownLayers(lines, tuple(areas), tuple(box for box in boxes if _crosses(box, frame)), tuple(notes))


def draw_layers(axes: Any, shown: ShownLayers) -> None:
    """Draw between the fill of a landing area, which would hide them, and its outlines."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path
    from matplotlib.patheffects import withTickedStroke

    for line_kind, points in shown.lines.items():
        for style in _LINES[line_kind]:
            axes.plot(points[:, 0], points[:, 1], **style)
    for kind in get_args(AreaKind):
        paths = [path for area, path in shown.areas if area.kind == kind]
        if paths:
            patch = PathPatch(Path.make_compound_path(*paths), facecolor="none", **_AREAS[kind])
            axes.add_patch(patch)
        if kind == "keep-out":  # teeth point into it: outer edges run with the inside on their left
            teeth = [withTickedStroke(spacing=9, angle=90, length=0.7)]
            for path in paths:
                style = {"edgecolor": VERMILLION, "linewidth": 1.4, "zorder": 2.25, "path_effects": teeth}
                axes.add_patch(PathPatch(path, facecolor="none", **style))
    for box in shown.boxes:
        axes.plot(box[:, 0], box[:, 1], **_BOX)


def layer_samples(shown: ShownLayers) -> Handles:
    """Legend entries of what is on the map."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: Handles = []
    present = {area.kind for area, _ in shown.areas}
    for kind in _WORDS:
        if kind in present:
            handles.append((Patch(facecolor="none", **_AREAS[kind]), _WORDS[kind]))
        elif kind in shown.lines:
            handles.append((tuple(Line2D([], [], **style) for style in _LINES[kind]), _WORDS[kind]))
    if shown.boxes:
        handles.append((Line2D([], [], **_BOX), "edge of the map data"))
    return handles


def name_areas(labels: Labels, shown: ShownLayers, frame: MapFrame) -> None:
    """Names of zones, then of airspace with its floor and ceiling, where there is room."""
    named = [(area, path) for area, path in shown.areas if area.name and can_draw(area.name)]
    named.sort(key=lambda both: both[0].kind == "airspace")
    for area, path in named[:_MOST_NAMES]:
        name = area.name if len(area.name) <= _LONGEST_NAME else f"{area.name[: _LONGEST_NAME - 1].rstrip()}…"
        words = f"{name}\n{area.limits}" if area.limits and can_draw(area.limits) else name
        for east, north in _spots(path, frame):
            if labels.add(words, east, north, gap_pt=5.0, color=_NAME_HUES[area.kind], path_effects=halo()):
                break


def _spots(path: Any, frame: MapFrame) -> list[tuple[float, float]]:
    """The northernmost, easternmost, southernmost and westernmost place of an edge on the map."""
    points = path.interpolated(max(1, _EDGE_POINTS // len(path.vertices))).vertices
    seen = points[frame.holds(points[:, 1], points[:, 0])]
    if len(seen) == 0:
        return []
    found = (seen[:, 1].argmax(), seen[:, 0].argmax(), seen[:, 1].argmin(), seen[:, 0].argmin())
    return [(float(seen[index, 0]), float(seen[index, 1])) for index in found]


def _clipped(line: Array, frame: MapFrame) -> Array:
    """Longitude and latitude of the pieces of lines whose extent meets the map; what lies between becomes one gap."""
    points = np.column_stack((frame.longitude_deg(line[:, 1]), line[:, 0]))
    low, high = np.minimum(points[:-1], points[1:]), np.maximum(points[:-1], points[1:])
    meets = (low[:, 0] <= frame.east_deg) & (high[:, 0] >= frame.west_deg)
    meets &= (low[:, 1] <= frame.north_deg) & (high[:, 1] >= frame.south_deg)
    # an edge that goes half around the earth is one that the turn of the map has torn
    meets &= high[:, 0] - low[:, 0] < 180.0
    kept = np.zeros(len(points), dtype=np.bool_)
    kept[:-1] |= meets
    kept[1:] |= meets
    points[~kept] = np.nan
    return points[kept | np.concatenate(([False], kept[:-1]))]


def _areas(areas: Sequence[MapArea], frame: MapFrame) -> tuple[list[tuple[MapArea, Any]], list[str]]:
    """Areas on the map with their paths, and names of those that hold all of it, whose edges nobody sees."""
    from matplotlib.path import Path

    seen: list[tuple[MapArea, Any]] = []
    around: list[str] = []
    middle = 0.5 * (frame.west_deg + frame.east_deg), 0.5 * (frame.south_deg + frame.north_deg)
    for area in areas:
        rings = [_turned(_ring(ring, frame), outer=number == 0) for number, ring in enumerate(area.rings)]
        if not _near(rings[0], frame):
            continue
        paths = [Path(ring, closed=True) for ring in rings]
        holds = paths[0].contains_point(middle) and not any(hole.contains_point(middle) for hole in paths[1:])
        if any(_crosses(ring, frame) for ring in rings):
            seen.append((area, Path.make_compound_path(*paths)))
        elif holds:
            # a fill is seen without its edge, an outline is not
            if area.kind in ("water", "water or land", "built-up", "keep-out"):
                seen.append((area, Path.make_compound_path(*paths)))
            around.append(" ".join(filter(None, (_WORDS[area.kind].split(",")[0], area.name, area.limits))))
    return seen, around


def _listed(names: Sequence[str]) -> str:
    different = list(dict.fromkeys(names))
    more = [f"and {len(different) - _MOST_LISTED} more"] if len(different) > _MOST_LISTED else []
    return "; ".join(different[:_MOST_LISTED] + more)


def _box_notes(layers: MapLayers, frame: MapFrame) -> Iterator[str]:
    if not layers.boxes_deg:
        return
    rings = [_ring(_corners(box), frame) for box in layers.boxes_deg]
    if any(_crosses(ring, frame) for ring in rings):
        yield "roads and water known inside the dashed frame only"
    elif not any(_near(ring, frame) for ring in rings):
        yield "the map data of the field pack lie elsewhere: roads and water of this map are not known"


def _corners(box: tuple[float, float, float, float]) -> Array:
    south, north, west, east = box
    east = west + (east - west) % 360.0
    return np.array([(south, west), (south, east), (north, east), (north, west), (south, west)])


def _ring(ring: Array, frame: MapFrame) -> Array:
    """Longitude and latitude of a ring, closed, by the turn that lies nearest to the middle of the map."""
    closed = ring if np.array_equal(ring[0], ring[-1]) else np.vstack((ring, ring[:1]))
    longitude = np.unwrap(closed[:, 1], period=360.0)
    middle = 0.5 * (longitude.min() + longitude.max())
    return np.column_stack((longitude + (float(frame.longitude_deg(middle)) - middle), closed[:, 0]))


def _turned(ring: Array, *, outer: bool) -> Array:
    """Outer edges against the clock and holes with it, so that holes stay empty and overlapping areas full."""
    east, north = (ring - ring[0]).T
    against_clock = float(np.sum(east[:-1] * north[1:] - east[1:] * north[:-1])) > 0.0
    return ring if against_clock == outer else ring[::-1]


def _near(ring: Array, frame: MapFrame) -> bool:
    (west, south), (east, north) = ring.min(axis=0), ring.max(axis=0)
    return bool(
        west <= frame.east_deg and east >= frame.west_deg and south <= frame.north_deg and north >= frame.south_deg
    )


def _crosses(ring: Array, frame: MapFrame) -> bool:
    """Whether any part of the edge is on the map."""
    from matplotlib.path import Path
    from matplotlib.transforms import Bbox

    box = Bbox([(frame.west_deg, frame.south_deg), (frame.east_deg, frame.north_deg)])
    return bool(Path(ring).intersects_bbox(box, filled=False))
