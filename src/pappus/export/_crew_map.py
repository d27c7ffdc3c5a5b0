"""The map of the crew page: the same map, small, with letters that can be read on half a sheet or on a phone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pappus.export._frame import draw_graticule, draw_scale, frame_around
from pappus.export._look import AREA_FILLS, AREA_OUTLINES, BLUE, PAPER, PRINT_DPI, add_axes, add_legend, save
from pappus.export._map import draw_prediction
from pappus.export._map_layers import MapLayers, shown_layers
from pappus.ground import MapLines, PlaceIndex
from pappus.landing import LandingArea
from pappus.trajectory import Flights

_WIDTH_IN, _HEIGHT_IN = 5.4, 4.3
_MOST_ENDS = 400
_LEFT_IN, _RIGHT_IN, _ABOVE_IN, _TICKS_IN, _SCALE_IN, _KEY_IN = 0.75, 0.2, 0.1, 0.3, 0.6, 0.3


def draw_crew_map(
    path: str | Path,
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
    layers: MapLayers | None = None,
) -> None:
    """Write the map; arguments, errors and projection are those of ``draw_landing_map``, which holds the full legend.

    Title, notes and sources are left to the page around it.
    """
    site = (site_latitude_deg, site_longitude_deg)
    frame = frame_around(area, flights, nominal, site, width_over_height=_WIDTH_IN / _HEIGHT_IN)
    bottom = _KEY_IN + _SCALE_IN + _TICKS_IN
    figure = _figure(_LEFT_IN + _WIDTH_IN + _RIGHT_IN, bottom + _HEIGHT_IN + _ABOVE_IN)
    axes = add_axes(figure, _LEFT_IN, bottom, _WIDTH_IN, _HEIGHT_IN)
    draw_graticule(axes, frame)
    for axis in (axes.xaxis, axes.yaxis):
        # every second parallel and meridian is named: all of them would touch
        axis.set_ticks(axis.get_ticklocs(), labels=[
            label.get_text() if number % 2 == 0 else "" for number, label in enumerate(axis.get_ticklabels())
        ])  # fmt: skip
    draw_scale(add_axes(figure, _LEFT_IN, _KEY_IN, _WIDTH_IN, _SCALE_IN), frame)
    draw_prediction(
        axes, frame, area=area, flights=flights, nominal=nominal, off_nominal=off_nominal, site=site,
        site_name=site_name, lines=lines, places=places, shown=None if layers is None else shown_layers(layers, frame),
        most_ends=_MOST_ENDS,
    )  # fmt: skip
    key = add_axes(figure, _LEFT_IN, 0.0, _WIDTH_IN, _KEY_IN)
    add_legend(key, (0.0, 1.35, 2.7), [[sample] for sample in _samples(area)])
    save(figure, path)


def _figure(width_in: float, height_in: float) -> Any:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure((width_in, height_in), dpi=PRINT_DPI, facecolor=PAPER)
    FigureCanvasAgg(figure)
    return figure


def _samples(area: LandingArea) -> list[tuple[Any, str]]:
    from matplotlib.patches import Patch

    samples: list[tuple[Any, str]] = []
    for part, fill, outline in zip(area.parts, AREA_FILLS, AREA_OUTLINES, strict=True):
        held = f"{100 * part.probability:g} %"
        style: dict[str, Any] = {"facecolor": fill, "edgecolor": BLUE, "linestyle": outline, "linewidth": 1.5}
        samples.append((Patch(**style), held) if part.exists else (Patch(fill=False, linewidth=0), f"no {held}"))
    return [*samples[:-1], (samples[-1][0], f"{samples[-1][1]} of flights")]
