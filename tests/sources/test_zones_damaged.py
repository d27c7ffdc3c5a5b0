"""Zones cut anywhere, spoilt or random: BadFile or listed, never a traceback, never another shape."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pappus.errors import BadFile
from pappus.sources import ZonesFile, read_zones
from sources.zone_texts import HOLE, RING, collection, feature, kml, kml_polygon, placemark, polygon

TEXTS = {
    "GeoJSON": collection(
        feature(polygon(RING, HOLE), name="keep-out farm"), feature(polygon(RING), role="permit area")
    ),
    "KML": kml(placemark("keep-out farm", kml_polygon(RING, HOLE)), placemark("permit area", kml_polygon(RING))),
}


def read(content: bytes) -> ZonesFile | None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "zones.dat"
        path.write_bytes(content)
        try:
            return read_zones(path)
        except BadFile:
            return None


@pytest.mark.parametrize("form", TEXTS)
def test_cut_at_any_byte(form: str) -> None:
    """Both formats have an end mark, so nothing but the whole file (less its last line end) is taken."""
    content = TEXTS[form].encode()
    taken = [length for length in range(len(content)) if read(content[:length]) is not None]
    assert taken in ([], [len(content) - 1])
    assert read(content) is not None


@given(st.sampled_from(sorted(TEXTS)), st.integers(0, 2000), st.binary(min_size=1, max_size=4))
@settings(max_examples=200)
def test_bytes_overwritten(form: str, place: int, spoilt: bytes) -> None:
    content = TEXTS[form].encode()
    place %= len(content)
    found = read(content[:place] + spoilt + content[place + len(spoilt) :])
    if found is not None:
        assert len(found.zones) + len(found.not_used) >= 1
        assert len(found.zones) <= 2


@given(
    st.binary(max_size=300),
    st.sampled_from([b"", b"{", b"[", b"<kml>", b'{"type": "FeatureCollection", "features": [']),
)
@settings(max_examples=150)
def test_random_bytes(content: bytes, head: bytes) -> None:
    read(head + content)


JSON = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(), st.floats(), st.sampled_from(["Polygon", "keep-out", "Feature"])
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=5),
        st.dictionaries(
            st.sampled_from(
                ["type", "coordinates", "geometry", "properties", "features", "geometries", "role", "name"]
            ),
            inner,
            max_size=4,
        ),
    ),
    max_leaves=20,
)


@given(JSON, JSON, JSON)
@settings(max_examples=150)
def test_any_json(geometry: object, properties: object, extra: object) -> None:
    item = {"type": "Feature", "geometry": {"type": "Polygon", "coordinates": geometry}, "properties": properties}
    good = feature(polygon(RING), role="keep-out")
    text = json.dumps(
        {"type": "FeatureCollection", "features": [good, item, extra, {"type": "Feature", "geometry": extra}]}
    )
    found = read(text.encode())
    if "NaN" not in text and "Infinity" not in text:
        assert found is not None
        assert len(found.zones) + len(found.not_used) >= 4
