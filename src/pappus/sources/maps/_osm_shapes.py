"""Which objects of OpenStreetMap become shapes on the ground: buildings, water, power, railways, coast.

Keys and values follow the wiki of OpenStreetMap (Key:building, Key:power, Key:railway, Key:natural; from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from pappus.ground import MapShapes

Ring = Sequence[tuple[float, float]]
"""Longitude and latitude of each point."""

FORMS = {
    "building": "areas",
    "building_point": "points",
    "built_up": "areas",
    "water": "areas",
    "waterway": "lines",
    "coastline": "lines",
    "power_line": "lines",
    "power_tower": "points",
    "substation": "areas",
    "railway": "lines",
}
"""Kinds of shape that are read, each of one form."""

_RAILS = {"rail", "light_rail", "narrow_gauge", "tram", "subway", "monorail", "funicular", "preserved"}
_WATERWAYS = {"river", "stream", "canal", "drain", "ditch", "tidal_channel"}
_SETTLED = {"residential", "commercial", "retail", "industrial"}
_TOWERS = {"tower", "pole", "portal", "catenary_mast", "terminal"}
_NO_BUILDING = {"no", "entrance", "demolished", "proposed", "construction"}
_BELOW_GROUND = {"underground", "underwater"}


def kind_of_area(tags: Mapping[str, str]) -> str | None:
    """Kind of shape that an area with these tags is."""
    if _is_hidden(tags):
        return None
    if tags.get("building", "no") not in _NO_BUILDING:
        return "building"
    if tags.get("natural") == "water" or tags.get("landuse") in {"reservoir", "basin"}:
        return "water"
    if tags.get("waterway") in {"riverbank", "dock"}:
        return "water"
    if tags.get("power") == "substation":
        return "substation"
    return "built_up" if tags.get("landuse") in _SETTLED else None


def kind_of_line(tags: Mapping[str, str]) -> str | None:
    """Kind of shape that a way with these tags is, drawn as a line."""
    if tags.get("natural") == "coastline":
        return "coastline"
    if _is_hidden(tags):
        return None
    power = tags.get("power")
    # a cable lies in the ground unless it says otherwise, a line hangs
    if power in {"line", "minor_line"} or (power == "cable" and tags.get("location") in {"overhead", "overground"}):
        return "power_line"
    if tags.get("railway") in _RAILS:
        return "railway"
    return "waterway" if tags.get("waterway") in _WATERWAYS else None


def kind_of_point(tags: Mapping[str, str]) -> str | None:
    """Kind of shape that a single node with these tags is."""
    if tags.get("power") in _TOWERS:
        return "power_tower"
    return "building_point" if tags.get("building", "no") not in _NO_BUILDING else None


def _is_hidden(tags: Mapping[str, str]) -> bool:
    return tags.get("tunnel", "no") != "no" or tags.get("location") in _BELOW_GROUND


@dataclass(eq=False)
class ShapeCollector:
    """Takes objects of a map one by one and makes shapes of those that belong to a kind."""

    counts: Counter[str] = field(default_factory=Counter)
    _shapes: dict[str, list[list[Ring]]] = field(default_factory=lambda: {kind: [] for kind in FORMS})

    def take_point(self, tags: Mapping[str, str], longitude_deg: float, latitude_deg: float) -> None:
        """Take a node."""
        kind = kind_of_point(tags)
        if kind:
            self._shapes[kind].append([[(longitude_deg, latitude_deg)]])

    def take_line(self, tags: Mapping[str, str], runs: Sequence[Ring]) -> None:
        """Take a way; each of its runs without a gap becomes a line."""
        kind = kind_of_line(tags)
        if kind:
            self._shapes[kind] += [[run] for run in runs if len(run) > 1]
        elif kind_of_line({**tags, "tunnel": "no", "location": ""}):
            self.counts["hidden"] += 1

    def take_area(self, kind: str, rings: list[Ring]) -> None:
        """Take an area: its outline and the holes in it."""
        self._shapes[kind].append(rings)

    def shapes(self) -> dict[str, MapShapes]:
        """Everything taken so far, by kind; a kind of which the map holds nothing has no shapes."""
        return {kind: packed(FORMS[kind], shapes) for kind, shapes in self._shapes.items()}


def packed(form: str, shapes: list[list[Ring]]) -> MapShapes:
    """Shapes, each of them its rings, in the arrays of one kind."""
    rings = [ring for shape in shapes for ring in shape]
    return MapShapes(
        form=form,
        longitude_latitude_deg=np.array([point for ring in rings for point in ring], dtype=np.float64).reshape(-1, 2),
        ring_start=np.concatenate(([0], np.cumsum([len(ring) for ring in rings], dtype=np.int64))),
        shape_start=np.concatenate(([0], np.cumsum([len(shape) for shape in shapes], dtype=np.int64))),
    )
