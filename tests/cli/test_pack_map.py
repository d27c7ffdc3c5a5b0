"""From the field pack to the map of the briefing: what is in its files, and what is said when they cannot be used."""

from __future__ import annotations

import importlib.util
import json
import subprocess
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from pappus.export import MapArea, MapLayers
from pappus.plan import example_plan_text
from pappus.preflight import layers_of, read_maps
from pappus.sources import Pack, PackFile, invented_sounding_csv, put_file
from sources.map_writer import osm_xml

Run = Callable[..., "subprocess.CompletedProcess[str]"]
Shared = Callable[[str], Path]
PACKED = datetime(2027, 1, 2, tzinfo=UTC)
HELSINKI = "geo/osm_helsinki_centre.osm.pbf"
needs_osmium = pytest.mark.skipif(importlib.util.find_spec("osmium") is None, reason="osmium is not installed")
AIRSPACE = """AC D
AN KETTLE CTR
AL SFC
AH 3500 ft
DP 37:20:00 S 064:20:00 W
DP 37:20:00 S 064:00:00 W
DP 37:05:00 S 064:00:00 W
"""


def packed(folder: Path, **files: Path) -> Pack:
    """A pack with one file of some kinds."""
    entries = [
        put_file(
            folder, path,
            PackFile(f"{kind}/{path.name}", kind, path.name, "as the crew had it", "", 0, issued=PACKED,
                     expires=PACKED + timedelta(days=28)),
        )
        for kind, path in files.items()
    ]  # fmt: skip
    return Pack(folder, "", PACKED, tuple(entries))


def small_map(folder: Path) -> Path:
    """A trunk road, a track, a railway, a power line, a stream and a lake with an island near the site of the example.

    Its outline runs with the clock and so does the island.
    """
    nodes = {
        1: (-37.35, -64.55), 2: (-37.30, -64.10), 3: (-37.35, -64.50), 4: (-37.33, -64.50),
        11: (-37.30, -64.50), 12: (-37.20, -64.50), 13: (-37.20, -64.30), 14: (-37.30, -64.30),
        21: (-37.28, -64.45), 22: (-37.22, -64.45), 23: (-37.22, -64.35), 24: (-37.28, -64.35),
    }  # fmt: skip
    ways = [
        ([1, 2], {"highway": "trunk", "oneway": "yes"}), ([3, 4], {"highway": "track"}),
        ([1, 3], {"railway": "rail"}), ([2, 4], {"power": "line"}), ([2, 3], {"waterway": "stream"}),
        ([11, 12, 13, 14, 11], {}), ([21, 22, 23, 24, 21], {}),
    ]  # fmt: skip
    lake = ([(106, "outer"), (107, "inner")], {"type": "multipolygon", "natural": "water"})
    path = folder / "pampa.osm"
    path.write_bytes(osm_xml(nodes, ways, relations=[lake], bounds=(-37.4, -37.1, -64.6, -64.0)))
    return path


def small_zones(folder: Path) -> Path:
    ring = [[-64.3, -37.4], [-64.1, -37.4], [-64.1, -37.3], [-64.3, -37.4]]
    shape = {"type": "Polygon", "coordinates": [ring]}
    features = [
        {"type": "Feature", "properties": {"name": name, "role": role}, "geometry": shape}
        for name, role in (("invented school", "keep-out"), ("what is this", "garden"))
    ]
    path = folder / "zones.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    return path


def small_airspace(folder: Path) -> Path:
    path = folder / "kettle.txt"
    path.write_text(AIRSPACE)
    return path


def of_kind(layers: MapLayers, kind: str) -> list[MapArea]:
    return [area for area in layers.areas if area.kind == kind]


@needs_osmium
def test_every_kind_of_file_becomes_layers(tmp_path: Path) -> None:
    files = {"map": small_map(tmp_path), "airspace": small_airspace(tmp_path), "zones": small_zones(tmp_path)}
    layers = layers_of(read_maps(packed(tmp_path / "pack", **files)))
    assert set(layers.lines) == {"wide road", "small road", "railway", "power line", "waterway"}
    np.testing.assert_allclose(layers.lines["wide road"][:2], [(-37.35, -64.55), (-37.30, -64.10)], atol=1e-7)
    np.testing.assert_allclose(layers.lines["power line"][:2], [(-37.30, -64.10), (-37.33, -64.50)], atol=1e-7)
    (lake,) = of_kind(layers, "water")
    bounds = [(ring.min(axis=0).round(4).tolist(), ring.max(axis=0).round(4).tolist()) for ring in lake.rings]
    assert bounds == [([-37.3, -64.5], [-37.2, -64.3]), ([-37.28, -64.45], [-37.22, -64.35])]
    (control,) = of_kind(layers, "airspace")
    assert (control.name, control.limits) == ("KETTLE CTR", "D, SFC to 3500 ft")
    assert control.rings[0].max(axis=0) == pytest.approx([-37 - 5 / 60, -64.0])
    assert control.rings[0].min(axis=0) == pytest.approx([-37 - 20 / 60, -64 - 20 / 60], abs=2e-4)  # a geodesic bulges
    (school,) = of_kind(layers, "keep-out")
    assert school.name == "invented school"
    assert layers.boxes_deg == ((-37.4, -37.1, -64.6, -64.0),)
    said = "\n".join(layers.attributions)
    assert "© OpenStreetMap contributors" in said
    assert "kettle.txt, packed 2027-01-02, newer data due 2027-01-30" in said
    assert "zones.geojson: no zone and not on this map: 1 of its parts" in layers.notes


def test_files_that_cannot_be_used_are_named_and_stop_nothing(tmp_path: Path) -> None:
    broken = tmp_path / "torn.osm.pbf"
    broken.write_bytes(b"\x00\x00\x00\x0d\x0a\x09OSMHeader" + 40 * b"\xff")
    files = {"map": broken, "airspace": small_airspace(tmp_path), "zones": small_zones(tmp_path)}
    pack = packed(tmp_path / "pack", **files)
    (tmp_path / "pack" / "airspace" / "kettle.txt").write_text(AIRSPACE.replace("3500", "9500"))
    (tmp_path / "pack" / "zones" / "zones.geojson").unlink()
    layers = layers_of(read_maps(pack))
    assert layers.lines == {}
    assert layers.areas == ()
    notes = "\n".join(layers.notes)
    assert "torn.osm.pbf is not on this map: " in notes
    assert "kettle.txt is not on this map: changed since it was packed" in notes
    assert "zones.geojson is not on this map: missing" in notes


def test_what_a_pack_lacks_is_said(tmp_path: Path) -> None:
    assert layers_of(read_maps(packed(tmp_path))).notes == (
        "not on this map, for the field pack holds none: roads and water; airspace",
    )


def test_a_ring_round_a_pole_is_said_and_not_drawn(tmp_path: Path) -> None:
    ring = [[-180, 60], [-90, 60], [0, 60], [90, 60], [-180, 60]]
    feature = {"type": "Feature", "properties": {"name": "the north", "role": "permit area"}}
    feature["geometry"] = {"type": "Polygon", "coordinates": [ring]}  # type: ignore[assignment]  # JSON
    path = tmp_path / "zones.geojson"
    path.write_text(json.dumps(feature))
    layers = layers_of(read_maps(packed(tmp_path / "pack", zones=path)))
    assert layers.areas == ()
    assert "the north goes round a pole and cannot be drawn on this map" in layers.notes


@needs_osmium
def test_main_roads_of_a_real_map_are_as_long_as_its_ways(tmp_path: Path, shared_data: Shared) -> None:
    """Each stretch of a road counted once from the file by osmium itself; lengths from geographiclib (Karney 2013)."""
    import osmium

    path = shared_data(HELSINKI)
    layers = layers_of(read_maps(packed(tmp_path / "pack", map=path)))
    stretches = {}
    for way in osmium.FileProcessor(str(path)).with_locations().with_filter(osmium.filter.KeyFilter("highway")):
        if way.is_way() and way.tags["highway"].removesuffix("_link") in {"primary", "secondary", "tertiary"}:
            if way.tags.get("motor_vehicle", "yes") == "no" or way.tags.get("access", "yes") == "no":
                continue
            nodes = [(n.ref, n.lat, n.lon) if n.location.valid() else None for n in way.nodes]
            for start, end in pairwise(nodes):
                if start and end:
                    stretches[frozenset((start[0], end[0]))] = start[1:] + end[1:]
    expected = sum(Geodesic.WGS84.Inverse(*ends)["s12"] for ends in stretches.values())
    points = layers.lines["main road"]
    found = sum(
        Geodesic.WGS84.Inverse(*start, *end)["s12"]
        for start, end in pairwise(points)
        if np.isfinite(start).all() and np.isfinite(end).all()
    )
    assert expected > 5_000.0
    assert found == pytest.approx(expected, rel=0.01)
    assert len(of_kind(layers, "water")) > 10


def test_areas_of_a_real_airspace_file_keep_their_names(tmp_path: Path, shared_data: Shared) -> None:
    """Names as they stand in the lines AN of the file."""
    path = shared_data("geo/openair_ksgu-airspaces.txt")
    layers = layers_of(read_maps(packed(tmp_path / "pack", airspace=path)))
    names = [line[3:].strip() for line in path.read_text().splitlines() if line.startswith("AN ")]
    assert [area.name for area in layers.areas] == names
    assert {area.limits for area in layers.areas} == {"E, SFC to 17999 ft"}


@needs_osmium
def test_the_map_of_a_briefing_shows_the_pack(tmp_path: Path, pappus: Run) -> None:
    from export.pictures import pixels, where

    (tmp_path / "flight.toml").write_text(example_plan_text())
    (tmp_path / "sounding.csv").write_text(invented_sounding_csv())
    for write in (small_map, small_zones, small_airspace):
        write(tmp_path)
    made = pappus(
        "fetch", "flight.toml", "--winds", "sounding.csv", "--map", "pampa.osm", "--zones", "zones.geojson",
        "--airspace", "kettle.txt",
    )  # fmt: skip
    assert made.returncode == 0, made.stderr
    with_pack = pappus("brief", "flight.toml", "--out", "packed")
    without = pappus("brief", "flight.toml", "--winds", "sounding.csv", "--out", "plain")
    assert with_pack.returncode == without.returncode == 0, with_pack.stderr + without.stderr
    seen, plain = (pixels(tmp_path / folder / "map.png") for folder in ("packed", "plain"))
    for colour in ("#7d5f36", "#cc79a7", "#2f6175"):  # wide road, airspace, water
        assert where(seen, colour, 6).sum() > where(plain, colour, 6).sum() + 150
