"""Countries of the whole earth, from the data file that the build made."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from itertools import pairwise
from zipfile import BadZipFile

import numpy as np

from pappus.errors import BadFile, Finding
from pappus.ground import Countries

_FILE = "countries.npz"
_COUNTS_PER_DEGREE = 1e5  # as the build writes the arcs


@cache
def load_countries() -> Countries:
    """Names and polygons, 1:10 million, as countries are held; BadFile when the file is missing or damaged."""
    try:
        with (files("pappus.sources") / "data" / _FILE).open("rb") as stream, np.load(stream) as archive:
            data = {key: archive[key] for key in archive.files}
        steps = np.stack((data["arc_lon_step"], data["arc_lat_step"]), axis=1)
        arcs = np.split(np.cumsum(steps, axis=0, dtype=np.int64) / _COUNTS_PER_DEGREE, data["arc_start"][1:-1])
        # neighbouring arcs share the point where they meet
        directed = [arcs[index] if index >= 0 else arcs[~index][::-1] for index in data["ring_arc"].tolist()]
        bounds = {name: data[f"{name}_start"].tolist() for name in ("ring", "polygon", "country", "name")}
        rings = [
            np.concatenate([directed[first], *(arc[1:] for arc in directed[first + 1 : after])])
            for first, after in _pairs(bounds["ring"])
        ]
        polygons = [tuple(rings[first:after]) for first, after in _pairs(bounds["polygon"])]
        text = data["name_utf8"].tobytes()
        return Countries(
            names=tuple(text[first:after].decode("utf-8") for first, after in _pairs(bounds["name"])),
            polygons=tuple(tuple(polygons[first:after]) for first, after in _pairs(bounds["country"])),
        )
    except (OSError, EOFError, ValueError, KeyError, IndexError, BadZipFile):
        fix = "Install pappus again with pip: the build makes this file (python -m pip install . in the checkout)."
        raise BadFile(Finding(f"data file {_FILE}", "", "it is missing or damaged", fix)) from None


def _pairs(starts: list[int]) -> list[tuple[int, int]]:
    return list(pairwise(starts))
