"""The map of a prediction: tracks, landings and the areas that hold them."""

from __future__ import annotations

from itertools import islice
from math import hypot
from pathlib import Path as FilePath
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.export._frame import MapFrame, draw_graticule, draw_scale, frame_around
from pappus.export._look import (
    AREA_FILLS,
    AREA_OUTLINES,
    BLUE,
    HOLLOW,
    INK,
    MARGIN_IN,
    NOT_LANDED,
    QUIET,
    TOP,
    VERMILLION,
    Labels,
    add_axes,
    add_legend,
    can_draw,
    halo,
    new_sheet,
    save,
)
from pappus.export._map_layers import (
    MapLayers,
    ShownLayers,
    draw_layers,
    layer_samples,
    name_areas,
    shown_layers,
)
from pappus.export._tracks import LANDED, LOST, OFF_NOMINAL, add_tracks, ends, line_samples, say_flights, top_word
from pappus.ground import MapLines, NamedPlace, PlaceIndex
from pappus.landing import LandingArea
from pappus.trajectory import Flights
from pappus.units import say_area_km2

_MAP_WIDTH_IN, _MAP_HEIGHT_IN = 8.6, 7.0
_LEFT_IN, _RIGHT_IN = 1.05, 0.35
_LEGEND_IN, _SCALE_IN, _TICKS_IN = 1.6, 0.75, 0.4
_LEGEND_COLUMNS_IN = (0.0, 2.9, 5.6)
_LEGEND_ROW_IN, _LEGEND_GAP_IN = 0.245, 0.15
_MOST_PLACES, _PLACES_TRIED = 8, 60
_MOST_ENDS = 1000
"""More marks than this hide the areas beneath them."""
_SMALL_SHARE = 0.05
"""An area smaller than this share of the map is pointed at, or nobody would see it."""

_COAST: dict[str, Any] = {"color": INK, "linewidth": 1.1}
_BORDER: dict[str, Any] = {"color": QUIET, "linewidth": 1.1, "linestyle": (0, (7, 2, 1, 2))}
_END_MARKS: dict[str, dict[str, Any]] = {
    LANDED: {"color": INK, "marker": "o", "markersize": 2.4, "markeredgewidth": 0, "linestyle": "none", "zorder": 4},
    OFF_NOMINAL: {
        "color": VERMILLION, "marker": "x", "markersize": 5.5, "markeredgewidth": 1.2, "linestyle": "none", "zorder": 5,
    },
    LOST: NOT_LANDED,
}  # fmt: skip
_SITE: dict[str, Any] = {"marker": "s", "markersize": 9, "markeredgewidth": 2.0, "zorder": 8, **HOLLOW}
_PLACE: dict[str, Any] = {"color": QUIET, "marker": ".", "markersize": 6, "linestyle": "none", "zorder": 7}

Handles = list[tuple[Any, str]]


def draw_landing_map(
    path: str | FilePath,
    *,
    area: LandingArea,
    flights: Flights,
    nominal: Flights,
    off_nominal: NDArray[np.bool_],
    site_name: str,
    site_latitude_deg: float,
    site_longitude_deg: float,
    lines: MapLines | None,
    places: PlaceIndex | None,
    title: str,
    footer: str,
    layers: MapLayers | None = None,
) -> None:
    """Write the map of a landing area as a picture; the suffix of ``path`` says in which format.

    North is up; equirectangular, true to scale at the middle latitude. The site, the nominal track, the areas and all
    but the farthest ends of flights are on it; a note counts those that are not. An area that does not exist is said
    in words.

    :param area: what is filled, with its notes: that of all flights or of the nominal ones alone; three levels.
    :param flights: the ensemble, N flights.
    :param nominal: one flight.
    :param off_nominal: shape (N,), true where balloon or canopy do not do what they should.
    :param lines: coast and borders; without them the map says so.
    :param places: the most populous ones are named; without them the map says so.
    :param layers: roads, water, airspace and zones; without them the map says so.
    :raises OutOfRange: the middle of the map lies beyond 85 degrees north or south, where such a map is no use.
    """
    site = (site_latitude_deg, site_longitude_deg)
    frame = frame_around(area, flights, nominal, site, width_over_height=_MAP_WIDTH_IN / _MAP_HEIGHT_IN)
    said = say_flights(flights)
    if not any(part.exists for part in area.parts):
        said = f"◇ No landing area. {said}"
    shown = None if layers is None else shown_layers(layers, frame)
    samples = [] if shown is None else layer_samples(shown)
    rows = -(-len(samples) // len(_LEGEND_COLUMNS_IN))
    columns = [samples[rows * column : rows * (column + 1)] for column in range(len(_LEGEND_COLUMNS_IN))]
    layers_in = _LEGEND_ROW_IN * rows + (_LEGEND_GAP_IN if samples else 0.0)
    width = _LEFT_IN + _MAP_WIDTH_IN + _RIGHT_IN
    figure, bottom = new_sheet(
        width, layers_in + _LEGEND_IN + _SCALE_IN + _TICKS_IN + _MAP_HEIGHT_IN,
        title=title, under_title=said, notes=_notes(area, flights, frame, lines, places, shown),
        footer="\n".join((footer, *(() if layers is None else layers.attributions))),
    )  # fmt: skip
    legend_bottom = bottom + layers_in
    scale_bottom = legend_bottom + _LEGEND_IN
    axes = add_axes(figure, _LEFT_IN, scale_bottom + _SCALE_IN + _TICKS_IN, _MAP_WIDTH_IN, _MAP_HEIGHT_IN)
    draw_graticule(axes, frame)
    draw_scale(add_axes(figure, _LEFT_IN, scale_bottom, _MAP_WIDTH_IN, _SCALE_IN), frame)

    area_handles, other_handles = draw_prediction(
        axes, frame, area=area, flights=flights, nominal=nominal, off_nominal=off_nominal, site=site,
        site_name=site_name, lines=lines, places=places, shown=shown,
    )  # fmt: skip
    room = width - 2 * MARGIN_IN
    if samples:
        box = add_axes(figure, MARGIN_IN, bottom + _LEGEND_GAP_IN, room, layers_in - _LEGEND_GAP_IN)
        add_legend(box, _LEGEND_COLUMNS_IN, columns)
    add_legend(
        add_axes(figure, MARGIN_IN, legend_bottom, room, _LEGEND_IN), _LEGEND_COLUMNS_IN,
        [area_handles, line_samples(), other_handles],
    )  # fmt: skip
    save(figure, path)


def draw_prediction(
    axes: Any,
    frame: MapFrame,
    *,
    area: LandingArea,
    flights: Flights,
    nominal: Flights,
    off_nominal: NDArray[np.bool_],
    site: tuple[float, float],
    site_name: str,
    lines: MapLines | None,
    places: PlaceIndex | None,
    shown: ShownLayers | None,
    most_ends: int = _MOST_ENDS,
) -> tuple[Handles, Handles]:
    """All that lies on a map, with marks for no more ends than told; legend entries of areas, and of ends and lines."""
    area_handles = _draw_area(axes, frame, area)
    line_handles = _draw_lines(axes, frame, lines)
    if shown is not None:
        draw_layers(axes, shown)
    for group, firm in ((flights, False), (nominal, True)):
        add_tracks(axes, group, frame.longitude_deg(group.track_longitude_deg), group.track_latitude_deg, firm=firm)
    end_handles = _draw_ends(axes, frame, flights, off_nominal, site, most_ends)
    _draw_names(axes, frame, area, nominal, site, site_name, places, shown)
    return area_handles, end_handles + line_handles


def _notes(
    area: LandingArea, flights: Flights, frame: MapFrame, lines: MapLines | None, places: PlaceIndex | None,
    shown: ShownLayers | None,
) -> list[str]:  # fmt: skip
    """What the map cannot show, one line each."""
    notes = [part.why_not for part in area.parts if not part.exists]
    notes += area.notes
    held = frame.holds(flights.end_latitude_deg, flights.end_longitude_deg)
    if outside := int(np.count_nonzero(~held)):
        notes.append(f"{outside:,} {'flight ends' if outside == 1 else 'flights end'} outside this map")
    if (apart := -(-len(flights.outcome) // _MOST_ENDS)) > 1:
        notes.append(f"one flight in {apart} has a mark at its end")
    missing = [name for name, data in (("coast and borders", lines), ("places", places)) if data is None]
    if missing:
        notes.append(f"not on this map for want of data: {' and '.join(missing)}")
    if shown is None:
        notes.append("no field pack was used: water, roads, airspace and zones are not on this map")
    return notes + ([] if shown is None else list(shown.notes))


def _draw_area(axes: Any, frame: MapFrame, area: LandingArea) -> Handles:
    from matplotlib.patches import Patch, PathPatch
    from matplotlib.path import Path

    handles: Handles = []
    for part, fill, outline in zip(area.parts, AREA_FILLS, AREA_OUTLINES, strict=True):
        held = f"{100.0 * part.probability:g} % of flights"
        if not part.exists or part.area_km2 is None:
            handles.append((Patch(fill=False, linewidth=0), f"{held}: no area"))
            continue
        style: dict[str, Any] = {"facecolor": fill, "edgecolor": BLUE, "linestyle": outline, "linewidth": 1.5}
        handles.append((Patch(**style), f"{held} land in\n{say_area_km2(part.area_km2)}"))
        for polygon in part.polygons:
            rings = [np.column_stack((frame.longitude_deg(ring[:, 1]), ring[:, 0])) for ring in polygon]
            outlines = Path.make_compound_path(*(Path(ring, closed=True) for ring in rings))
            # the narrower area lies on the wider one, and roads and water between all fills and all outlines
            axes.add_patch(PathPatch(outlines, zorder=1.5 - 0.5 * part.probability, **(style | {"linewidth": 0.0})))
            axes.add_patch(PathPatch(outlines, zorder=3.0 - part.probability, **(style | {"facecolor": "none"})))
    return handles


def _draw_lines(axes: Any, frame: MapFrame, lines: MapLines | None) -> Handles:
    from matplotlib.collections import LineCollection
    from matplotlib.lines import Line2D

    if lines is None:
        return []
    near = lines.clip(frame.south_deg, frame.north_deg, frame.west_deg, frame.east_deg)
    handles: Handles = []
    for group, style, name in ((near.coast, _COAST, "coast"), (near.borders, _BORDER, "border")):
        if group:
            axes.add_collection(LineCollection(list(group), zorder=2, **style), autolim=False)
            handles.append((Line2D([], [], **style), name))
    return handles


def _draw_ends(
    axes: Any, frame: MapFrame, flights: Flights, off_nominal: NDArray[np.bool_], site: tuple[float, float], most: int
) -> Handles:
    """A mark for the site and for the ends of flights by what is known of them: all, or each so many-th."""
    apart = -(-len(flights.outcome) // most)
    handles: Handles = [(axes.plot(frame.longitude_deg(site[1]), site[0], **_SITE)[0], "site of release")]
    for group, which in ends(flights, off_nominal):
        drawn = which[which % apart == 0]
        longitude = frame.longitude_deg(flights.end_longitude_deg[drawn])
        (marks,) = axes.plot(longitude, flights.end_latitude_deg[drawn], **_END_MARKS[group])
        handles.append((marks, f"{group} ({len(which):,})"))
    return handles


def _draw_names(
    axes: Any, frame: MapFrame, area: LandingArea, nominal: Flights, site: tuple[float, float], site_name: str,
    places: PlaceIndex | None, shown: ShownLayers | None,
) -> None:  # fmt: skip
    """The names that matter most choose their places first."""
    labels = Labels(axes)
    start = float(frame.longitude_deg(site[1])), site[0]
    top = float(frame.longitude_deg(nominal.top_longitude_deg[0])), float(nominal.top_latitude_deg[0])
    word = top_word(nominal)
    labels.keep_free(*start, 6.0)
    labels.keep_line_free(frame.longitude_deg(nominal.track_longitude_deg[0]), nominal.track_latitude_deg[0])
    if word is not None:
        axes.plot(*top, **TOP)
        labels.keep_free(*top, 5.0)
    labels.add(site_name, *start, gap_pt=10.0, must=True, fontweight="bold", path_effects=halo())
    if word is not None:
        labels.add(f"nominal {word}", *top, gap_pt=10.0, must=True, path_effects=halo())
    _point_at_small_area(labels, frame, area)
    if shown is not None:
        name_areas(labels, shown, frame)
    for place in [] if places is None else _towns(frame, places):
        spot = float(frame.longitude_deg(place.longitude_deg)), place.latitude_deg
        if labels.add(place.name, *spot, gap_pt=5.0, path_effects=halo()):
            axes.plot(*spot, **_PLACE)
            labels.keep_free(*spot, 3.0)


def _point_at_small_area(labels: Labels, frame: MapFrame, area: LandingArea) -> None:
    outlines = [polygon[0] for part in area.parts for polygon in part.polygons]
    if not outlines:
        return
    points = np.concatenate(outlines)
    longitude = frame.longitude_deg(points[:, 1])
    if np.ptp(longitude) * frame.metres_per_longitude_deg < _SMALL_SHARE * frame.width_m:
        middle = 0.5 * (longitude.min() + longitude.max()), 0.5 * (points[:, 0].min() + points[:, 0].max())
        arrow = {"arrowstyle": "-", "color": BLUE, "linewidth": 1.2, "shrinkA": 0}
        labels.add("landing area", *middle, gap_pt=24.0, color=BLUE, path_effects=halo(), arrowprops=arrow)


def _towns(frame: MapFrame, places: PlaceIndex) -> list[NamedPlace]:
    """The most populous places on the map whose names can be drawn."""
    middle = 0.5 * (frame.south_deg + frame.north_deg), 0.5 * (frame.west_deg + frame.east_deg)
    reach_m = min(0.5 * hypot(frame.width_m, frame.height_m), 1.0e7)
    near = places.within(*middle, reach_m, _PLACES_TRIED)
    shown = (p for p in near if frame.holds(p.latitude_deg, p.longitude_deg) and can_draw(p.name))
    return list(islice(shown, _MOST_PLACES))
